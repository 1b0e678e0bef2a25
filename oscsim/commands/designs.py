"""``oscsim designs``: the bundled designs, to be listed or copied."""

from __future__ import annotations

import argparse

from oscsim.commands.options import Commands, add_command
from oscsim.files import DEFAULT_DESIGN, bundled, bundled_text, load


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "designs", "list the bundled designs, or print one to be copied and edited",
        "designs dockhand > mine.toml", _run,
    )  # fmt: skip
    parser.add_argument("name", nargs="?", help="print this design's file")


def _run(options: argparse.Namespace) -> str:
    if options.name is not None:
        return bundled_text(options.name)
    lines = []
    for name in bundled():
        movement = load(name)
        mark = " (used when no design is named)" if name == DEFAULT_DESIGN else ""
        lines.append(f"{name}{mark}\n    {movement.name}. {movement.story.split('. ')[0].rstrip('.')}.")
    return "\n".join([*lines, "", "oscsim designs NAME prints a design's file, to be copied and edited."])
