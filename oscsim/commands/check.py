"""``oscsim check``: is this a design file, what does it say, and is it plausible?"""

from __future__ import annotations

import argparse

import oscsim
from oscsim.commands.options import Commands, add_command, add_output
from oscsim.commands.several import csv_of, expanded
from oscsim.output import json_text
from oscsim.text.terminal import printed

_INVALID = 2


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "check",
        "check mine.toml", _run,
    )  # fmt: skip
    parser.add_argument(
        "designs", nargs="+", metavar="FILE",
        help="design files, names of bundled designs, or patterns such as 'movements/*.toml'",
    )  # fmt: skip
    add_output(parser, plot=False)


def _run(options: argparse.Namespace) -> tuple[str, int]:
    """The text and the exit code: 0 when all are valid designs."""
    found = {design: oscsim.check(design) for design in expanded(options.designs)}
    code = 0 if all(answer.valid for answer in found.values()) else _INVALID
    return _text(options.format, found), code


def _text(form: str, found: dict[str, oscsim.Check]) -> str:
    if form == "csv":
        return csv_of(dict(found))
    if form == "json":
        answers = [answer.to_dict() for answer in found.values()]
        return json_text(answers[0] if len(answers) == 1 else answers)
    return "\n\n".join(printed(answer.sheet()) for answer in found.values())
