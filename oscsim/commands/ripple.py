"""``oscsim ripple``: which wheel makes the amplitude breathe?"""

from __future__ import annotations

import argparse

import oscsim
from oscsim.commands.bench import add_required_design
from oscsim.commands.options import Commands, add_command, add_number, add_output, answered
from oscsim.commands.points import add_around, around
from oscsim.units import POSITIONS


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(commands, "ripple", "ripple packet packet_rubbing_hand --plot breathing.png", _run)
    add_required_design(parser)
    parser.add_argument(
        "series", metavar="SERIES.csv",
        help="readings in time, one every 2 to 10 s for 30 min or longer: a CSV file with the headings time_s (or time "
        "as hh:mm:ss) and amplitude_deg, or the bundled series packet_rubbing_hand",
    )  # fmt: skip
    parser.add_argument(
        "--position", metavar="POS", default="CH",
        help=f"one of {' '.join(POSITIONS)} (ISO 3158) or plain words such as 'dial up' (default: CH)",
    )  # fmt: skip
    add_number(parser, "--hours", "H", "hours since full wind at the start (default: 0)", default=0.0)
    add_around(parser)
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    def ask() -> oscsim.Ripple:
        setting = oscsim.Setting(positions=options.position, hours=options.hours, **around(options))
        return oscsim.ripple(oscsim.load(options.design), oscsim.load_series(options.series), setting)

    return answered(options, ask)
