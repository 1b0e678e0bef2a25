"""docs/diagnosis.md and docs/sketch.md show what the commands print: ``python -m tests.bench.manual`` writes the blocks
anew."""

import contextlib
import io
import re
from pathlib import Path

from oscsim.cli import main

_DOCS = Path(__file__).parents[2] / "docs"
PAGE, SKETCH = _DOCS / "diagnosis.md", _DOCS / "sketch.md"
_BLOCK = re.compile(r"```text\n\$ oscsim (.*?)\n(.*?)\.\.\.\n```", re.DOTALL)


def printed(command):
    """Lines that the command prints."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        assert main(command.split()) == 0
    return out.getvalue().splitlines()


def refreshed(text):
    """The page with as many lines of each command's output as it had."""

    def block(found):
        command, body = found.groups()
        lines = printed(command)[: body.count("\n")]
        return "```text\n$ oscsim " + "\n".join([command, *lines]) + "\n...\n```"

    return _BLOCK.sub(block, text)


if __name__ == "__main__":
    for page in (PAGE, SKETCH):
        page.write_text(refreshed(page.read_text("utf-8")), "utf-8")
