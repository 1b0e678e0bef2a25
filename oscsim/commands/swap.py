"""``oscsim swap``: what would another mainspring do?"""

from __future__ import annotations

import argparse
from pathlib import Path

import oscsim
from oscsim.commands.options import (
    Commands,
    add_command,
    add_number,
    add_output,
    add_temperature,
    number,
)
from oscsim.commands.points import add_condition, add_morning, condition_of, in_use
from oscsim.commands.several import add_designs, answered_each
from oscsim.errors import InputError

_SIZE = ("height", "thickness", "length")


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "swap",
        "swap dockhand --height 1.3 --thickness 0.105 --length 380 --wanted 245", _run,
    )  # fmt: skip
    add_designs(parser)
    parser.add_argument(
        "--springs", type=Path, metavar="FILE",
        help="CSV list of springs with the headings name, height_mm, thickness_mm, length_mm and, where known, "
        "modulus_gpa, elastic_limit_mpa, free_curvature_per_m, slip_torque_n_mm",
    )  # fmt: skip
    for key in _SIZE:
        add_number(parser, f"--{key}", "MM", f"{key} of one strip, mm, in place of a list")
    parser.add_argument(
        "--sizes", action="store_true",
        help="try usual sizes that come near to --wanted, each with a bridle of its own, in place of a list",
    )  # fmt: skip
    parser.add_argument(
        "--own-bridle", action="store_true",
        help="a strip without a slip torque has a bridle of its own, which slips later the more the strip pulls",
    )  # fmt: skip
    add_number(
        parser, "--wanted", "DEG",
        "amplitude wanted dial up, fully wound, deg (default: that of the present spring)",
    )  # fmt: skip
    add_number(
        parser, "--known", "DEG",
        "amplitude that the present movement shows, deg, from which the alloy's elastic limit is found",
    )  # fmt: skip
    parser.add_argument(
        "--known-at", nargs=2, metavar=("POS", "H"), help="where --known was read (default: CH 0)"
    )
    add_number(
        parser, "--tolerance", "S_PER_DAY",
        "how far apart the vertical rates may lie at the working band's floor, s/day (default: 10)", default=10.0,
    )  # fmt: skip
    add_temperature(parser)
    add_condition(parser)
    add_morning(parser)
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    def ask(design: str) -> oscsim.Swap | oscsim.Morning:
        known_at = None
        if options.known_at is not None:
            if options.known is None:
                raise InputError("--known-at: give --known with it")
            place, hour = options.known_at
            known_at = oscsim.Setting(positions=place, hours=number(hour))  # type: ignore[arg-type]
        answer = oscsim.swap(
            oscsim.load(design),
            _candidates(options),
            oscsim.Setting(
                temperature_c=options.temperature, condition=condition_of("--condition", options.condition)
            ),
            wanted_deg=options.wanted,
            known_deg=options.known,
            known_at=known_at,
            tolerance_s_per_day=options.tolerance,
            own_bridle=options.own_bridle,
        )
        return in_use(options, answer)

    return answered_each(options, ask)


def _candidates(options: argparse.Namespace) -> list[oscsim.Candidate] | None:
    """The list in the file, or the one strip described, or None for the usual sizes; raises InputError."""
    size = {key: getattr(options, key) for key in _SIZE}
    given = [key for key in _SIZE if size[key] is not None]
    if options.sizes:
        if given or options.springs is not None:
            raise InputError("--sizes: give it without a list and without one strip")
        return None
    if options.springs is not None:
        if given:
            raise InputError(f"--springs, --{given[0]}: give a list or one strip, not both")
        return oscsim.read_candidates(options.springs)
    if missing := [key for key in _SIZE if size[key] is None]:
        wanted = (
            "give --sizes, --springs FILE, or --height, --thickness and --length"
            if not given
            else "needed for one strip"
        )
        raise InputError(f"--{missing[0]}: missing; {wanted}")
    return [oscsim.Candidate(name="this strip", **{f"{key}_mm": value for key, value in size.items()})]
