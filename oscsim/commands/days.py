"""``oscsim days``: does it stay wound, what does it show in the morning, how should it lie at night?"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

import oscsim
from oscsim.commands.options import Commands, add_command, add_number, add_output
from oscsim.commands.points import add_condition, condition_of
from oscsim.commands.several import add_designs, answered_each
from oscsim.commands.trial import whole
from oscsim.errors import InputError


def add_wearer(parser: argparse.ArgumentParser) -> None:
    """A usual day: how long it is worn, by whom, on which wrist, and how it lies at night."""
    add_number(
        parser, "--hours-worn", "HOURS", "hours of the day on the wrist or in the pocket (default: 14)"
    )
    parser.add_argument(
        "--life", metavar="desk|usual|active", help="how lively the wearer is (default: usual)"
    )
    parser.add_argument(
        "--wrist", metavar="left|right|pocket",
        help="on which wrist, or in the pocket, pendant up (default: left)",
    )  # fmt: skip
    parser.add_argument("--night", metavar="POSITION", help="how it lies at night (default: CH)")


def wearer(options: argparse.Namespace) -> dict[str, Any]:
    """What ``add_wearer`` asked for."""
    given = {name: getattr(options, name) for name in ("hours_worn", "life", "wrist", "night")}
    return {name: value for name, value in given.items() if value is not None}


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "days",
        "days dockhand --hours-worn 9 --plot week.png", _run,
    )  # fmt: skip
    add_designs(parser)
    parser.add_argument(
        "--day", type=Path, metavar="FILE", help="a day file of [[stretch]] tables in place of a usual day"
    )
    add_wearer(parser)
    add_number(parser, "--days", "N", "days to follow from full wind (default: 14)", default=14)
    add_number(parser, "--wound-per-hour", "W", "hours of running that an hour on the wrist winds")
    add_number(parser, "--wind-at", "HOUR", "hours after the day begins at which it is wound by hand")
    add_number(parser, "--crown-turns", "TURNS", "turns of the crown given each day (default: fully wound)")
    add_number(parser, "--noise", "S", "day-to-day noise, s/day (default: 1)", default=1.0)
    add_condition(parser)
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    usual = wearer(options)
    if options.day is not None and (others := [name for name in usual if name != "life"]):
        raise InputError(f"--{others[0].replace('_', '-')}: the day file says that, leave it out")
    day = None if options.day is None else oscsim.load_day(options.day)

    def ask(design: str) -> oscsim.Days:
        return oscsim.days(
            oscsim.load(design),
            day,
            count=whole(options.days),
            wound_per_hour=options.wound_per_hour,
            wind_at=options.wind_at,
            crown_turns=options.crown_turns,
            noise_s_per_day=options.noise,
            condition=condition_of("--condition", options.condition),
            **usual,
        )

    return answered_each(options, ask)
