"""``oscsim whatif``: what if this number were different?"""

from __future__ import annotations

import argparse
from collections.abc import Sequence

import oscsim
from oscsim.commands.options import Commands, add_command, add_output, number
from oscsim.commands.points import add_morning, add_points, in_use, setting_of
from oscsim.commands.several import add_designs, answered_each
from oscsim.errors import InputError, nearest, shown
from oscsim.fields import Quantity

_COUNT = Quantity("", "", "values from one end to the other", 2, 2000, whole=True)
_USUAL_COUNT = 11


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "whatif",
        "whatif dockhand --vary escapement.lock_deg 1 5 9", _run,
    )  # fmt: skip
    add_designs(parser)
    parser.add_argument(
        "--vary", nargs="+", action="append", default=[], metavar=("NAME", "FROM TO [COUNT]"),
        help=f"the number at this dotted name, from one value to another in so many (default: {_USUAL_COUNT}); twice "
        "for a map",
    )  # fmt: skip
    parser.add_argument(
        "--sensitivities", nargs="*", metavar="NAME",
        help="instead: what one small step of each number changes (default: all the design gives)",
    )  # fmt: skip
    add_points(parser)
    add_morning(parser)
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    if options.sensitivities is not None:
        return _sensitivities(options)
    if not options.vary:
        raise InputError("--vary: give NAME FROM TO [COUNT], or --sensitivities")

    def ask(design: str) -> oscsim.WhatIf | oscsim.Morning:
        values: dict[str, list[float]] = {}
        for name, *span in options.vary:
            if name in values:
                raise InputError(f"--vary: {name} is given twice")
            values[name] = _values(name, span)
        return in_use(options, oscsim.whatif(oscsim.load(design), values, setting_of(options)))

    return answered_each(options, ask)


def _sensitivities(options: argparse.Namespace) -> str:
    for name in ("vary", "plot", "morning"):
        if getattr(options, name):
            raise InputError(f"--{name}: does not go with --sensitivities, leave one out")

    def ask(design: str) -> oscsim.Sensitivities:
        return oscsim.sensitivities(oscsim.load(design), options.sensitivities or None, setting_of(options))

    return answered_each(options, ask)


def _values(name: str, span: Sequence[str]) -> list[float]:
    """The values FROM TO [COUNT] stand for; raises InputError."""
    import numpy as np

    from oscsim.movement import number_names
    from oscsim.tables import quantity_of

    info = quantity_of(oscsim.Movement, name)
    if info is None:
        raise InputError(f"--vary {shown(name)}: no number of a design; {nearest(name, number_names())}")
    if len(span) not in (2, 3):
        raise InputError(f"--vary {name}: expected FROM TO or FROM TO COUNT after the name, got {len(span)}")
    low, high, count = (number(word) for word in (*span, str(_USUAL_COUNT))[:3])
    ends = [
        int(end) if info.whole and isinstance(end, float) and end.is_integer() else end for end in (low, high)
    ]
    for end in ends:
        info.check(name, end)
    if isinstance(count, float) and count.is_integer():
        count = int(count)
    _COUNT.check(f"--vary {name} COUNT", count)
    if ends[0] == ends[1]:
        raise InputError(f"--vary {name} {span[0]} {span[1]}: FROM and TO are the same")
    if info.whole and len(span) == 2:
        count = abs(int(ends[1]) - int(ends[0])) + 1  # every whole number
    found = np.linspace(float(ends[0]), float(ends[1]), int(count))
    if info.whole and not (found == np.round(found)).all():
        raise InputError(
            f"--vary {name}: whole numbers only, and {int(count)} values from {span[0]} to {span[1]} are not"
        )
    return found.tolist()  # type: ignore[no-any-return]
