"""``oscsim designs``: the bundled designs, to be listed or copied."""

from __future__ import annotations

import argparse

from oscsim.bench.readings import bundled_readings, bundled_readings_text
from oscsim.commands.options import Commands, add_command
from oscsim.errors import InputError
from oscsim.files import DEFAULT_DESIGN, bundled, bundled_text, load


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "designs", "list the bundled designs, or print one to be copied and edited",
        "designs dockhand > mine.toml", _run,
    )  # fmt: skip
    parser.add_argument("name", nargs="?", help="print this design's file")
    parser.add_argument(
        "--readings", nargs="?", const="", metavar="NAME",
        help="list the bundled demo readings, or print these",
    )  # fmt: skip


def _run(options: argparse.Namespace) -> str:
    if options.readings is not None:
        if options.name is not None:
            raise InputError("NAME, --readings: give one of the two, not both")
        return bundled_readings_text(options.readings) if options.readings else _readings()
    if options.name is not None:
        return bundled_text(options.name)
    lines = []
    for name in bundled():
        movement = load(name)
        mark = " (used when no design is named)" if name == DEFAULT_DESIGN else ""
        lines.append(f"{name}{mark}\n    {movement.name}. {movement.story.split('. ')[0].rstrip('.')}.")
    return "\n".join([*lines, "", "oscsim designs NAME prints a design's file, to be copied and edited."])


def _readings() -> str:
    """The bundled readings, each with the first line of its own comment."""
    lines = []
    for name in bundled_readings():
        story = bundled_readings_text(name).split("\n")[0].removeprefix("#").strip()
        lines.append(f"{name}\n    {story}")
    return "\n".join([*lines, "", "oscsim designs --readings NAME prints a file, to be copied and edited."])
