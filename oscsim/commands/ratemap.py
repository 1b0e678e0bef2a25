"""``oscsim ratemap``: where does a poise fault show, and where does it hide?"""

from __future__ import annotations

import argparse

import numpy as np

from oscsim.answers.isochronism import AMPLITUDE
from oscsim.answers.ratemap import AMPLITUDES, RateMap, ratemap
from oscsim.commands.options import (
    Commands,
    add_command,
    add_number,
    add_output,
    add_regulation,
    regulated,
)
from oscsim.commands.points import add_around, around
from oscsim.commands.several import add_designs, answered_each
from oscsim.errors import InputError
from oscsim.fields import Quantity
from oscsim.files import load
from oscsim.setting import Setting

_COUNT = Quantity("", "", "amplitudes on the map", 2, 1000, whole=True)


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "ratemap", "map of the rate over amplitude and direction of the balance's heavy point",
        "ratemap dockhand --unbalance 10 --plot map.png", _run,
    )  # fmt: skip
    add_designs(parser)
    parser.add_argument("--position", default="12H", metavar="POS", help="vertical position (default: 12H)")
    add_number(parser, "--unbalance", "UG_CM", "want of poise, µg·cm (default: the design's)")
    add_number(
        parser, "--amplitudes", "DEG",
        f"FROM TO and, if wanted, COUNT: amplitudes, deg (default: {AMPLITUDES[0]:g} {AMPLITUDES[-1]:g} "
        f"{len(AMPLITUDES)})", nargs="+",
    )  # fmt: skip
    add_around(parser)
    add_regulation(parser)
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    def ask(design: str) -> RateMap:
        setting = Setting(positions=options.position, **around(options))
        amplitudes = AMPLITUDES if options.amplitudes is None else _span(options.amplitudes)
        movement = regulated(load(design), options)
        return ratemap(movement, setting, amplitudes_deg=amplitudes, unbalance_ug_cm=options.unbalance)

    return answered_each(options, ask)


def _span(given: list[float | str]) -> tuple[float, ...]:
    """Amplitudes from FROM TO [COUNT], deg; raises InputError."""
    if len(given) not in (2, 3):
        raise InputError(f"--amplitudes: expected FROM TO or FROM TO COUNT, got {len(given)}")
    for end in given[:2]:
        AMPLITUDE.check("amplitudes_deg", end)
    count = given[2] if len(given) == 3 else len(AMPLITUDES)
    if isinstance(count, float) and count.is_integer():
        count = int(count)
    _COUNT.check("--amplitudes COUNT", count)
    low, high = float(given[0]), float(given[1])
    if not low < high:
        raise InputError(f"--amplitudes {low:g} {high:g}: FROM must be less than TO")
    return tuple(np.linspace(low, high, int(count)))
