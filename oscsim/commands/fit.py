"""``oscsim fit``: fit chosen numbers of a design file to a movement known to be in order."""

from __future__ import annotations

import argparse

import oscsim
from oscsim.commands.bench import READINGS_HELP, add_lift_angle, add_required_design, readings_of
from oscsim.commands.options import (
    Commands,
    add_command,
    add_number,
    add_output,
    add_written,
    answered,
    check_written,
    write_text,
)


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "fit",
        "fit dockhand readings.csv --free balance.viscous_q --output mine.toml", _run,
    )  # fmt: skip
    add_required_design(parser)
    parser.add_argument(
        "readings", nargs="+", metavar="READINGS.csv",
        help=f"of one example in good order, or a file for each of several: {READINGS_HELP}",
    )  # fmt: skip
    parser.add_argument(
        "--free", nargs="+", required=True, metavar="NAME",
        help="dotted numbers that may move, such as balance.viscous_q",
    )  # fmt: skip
    add_number(
        parser, "--width", "FACTOR",
        "width of the priors, as a factor on the design's spreads (default: 3)", default=3.0,
    )  # fmt: skip
    add_lift_angle(parser)
    add_written(parser, "FILE.toml", "write the design with the fitted numbers")
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    from oscsim.edited import edited
    from oscsim.files import text_of

    check_written(options, ".toml")
    found: list[oscsim.Fit] = []

    def ask() -> oscsim.Fit:
        examples = [readings_of(path, options.lift_angle) for path in options.readings]
        found.append(oscsim.fit(oscsim.load(options.design), examples, options.free, width=options.width))
        return found[0]

    text = answered(options, ask)
    if options.output is not None:
        names = [n.name for n in found[0].numbers if not n.unlearnt]
        write_text(options.output, edited(text_of(options.design)[0], found[0].movement, names))
    return text
