"""The lesson's notebook runs, and shows what is kept in it."""

import base64
import importlib.util
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

LESSON = Path(__file__).parents[1] / "docs" / "notebook.ipynb"
RENEW = "renew it: python -m tests.lesson"


def _outputs(book):
    """Text and HTML of every output, pictures by their kind; addresses of objects and last digits left out."""
    for cell in book["cells"]:
        for output in cell.get("outputs", ()):
            data = output.get("data", {"text/plain": output.get("text", "")})
            for kind in sorted(data):
                if kind in ("text/html", "text/plain") and not ("text/html" in data and kind == "text/plain"):
                    text = "".join(data[kind])
                    yield re.sub(r"0x[0-9a-f]+|<details>.*</details>", "", text, flags=re.DOTALL)
                elif kind == "image/png":
                    yield kind


def _kept():
    return json.loads(LESSON.read_text("utf-8"))


def test_it_is_kept_with_tables_and_pictures():
    kept = _kept()
    assert all(cell["outputs"] for cell in kept["cells"] if cell["cell_type"] == "code"), RENEW
    shown = list(_outputs(kept))
    assert sum('<div class="oscsim">' in text for text in shown) == 5
    assert shown.count("image/png") == 3
    for cell in kept["cells"]:
        for output in cell.get("outputs", ()):
            assert output["output_type"] != "error"
            assert output.get("name") != "stderr"
            if "image/png" in output.get("data", {}):
                assert base64.b64decode(output["data"]["image/png"]).startswith(b"\x89PNG")


def test_it_says_what_it_teaches():
    shown = "\n".join(_outputs(_kept()))
    healthy = [
        sentence
        for sentence in re.findall(r"<p>([^<]*)</p>", shown)
        if sentence.startswith(("Sound", "Worth opening"))
    ]
    assert len(healthy) == 2
    assert healthy[0].startswith("Sound")
    assert healthy[1].startswith("Worth opening")


@pytest.mark.skipif(
    any(importlib.util.find_spec(name) is None for name in ("nbclient", "ipykernel")),
    reason="takes the extra notebook (nbclient, ipykernel)",
)
def test_running_it_anew_shows_the_same(tmp_path):
    """In a process of its own, since a kernel's libraries have warnings and threads of their own."""
    fresh = tmp_path / "notebook.ipynb"
    clean = {name: value for name, value in os.environ.items() if name != "MPLBACKEND"}
    run = [sys.executable, "-m", "tests.lesson", str(fresh)]
    done = subprocess.run(
        run, capture_output=True, encoding="utf-8", timeout=600, cwd=LESSON.parents[1], env=clean
    )
    assert done.returncode == 0, done.stderr[-2000:]
    assert list(_outputs(json.loads(fresh.read_text("utf-8")))) == list(_outputs(_kept())), RENEW
