"""``oscsim change``: what does this piece of work change?"""

from __future__ import annotations

import argparse
from dataclasses import replace

import oscsim
from oscsim.commands.options import Commands, add_command, add_number, add_output
from oscsim.commands.points import add_assignments, add_points, assigned, condition_of, setting_of
from oscsim.commands.several import add_designs, answered_each
from oscsim.errors import InputError


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "change",
        "change dockhand --set train.jewels.barrel=2 --oil-age 5", _run,
    )  # fmt: skip
    add_designs(parser)
    add_points(parser, condition=False)
    add_assignments(parser, "--set", "numbers of the design after the work, such as train.jewels.barrel=2")
    add_number(parser, "--oil-age", "YEARS", "the oil is this old now, and fresh afterwards")
    add_assignments(parser, "--condition", "condition now, such as worn_brass=1.5")
    add_assignments(
        parser, "--condition-after", "what of the condition the work changes, such as worn_brass=1"
    )
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    def ask(design: str) -> oscsim.Change:
        now = condition_of("--condition", options.condition)
        after = condition_of("--condition-after", options.condition_after, now)
        if options.oil_age is not None:
            if now.oil_age_years:
                raise InputError("--oil-age, --condition oil_age_years: give one of the two, not both")
            now = replace(now, oil_age_years=options.oil_age)
        if not options.set and after == now:
            raise InputError(
                "change: nothing is changed; give a number after the work (--set), what of the condition the work "
                "changes (--condition-after) or old oil made fresh (--oil-age); --condition is how it stands now"
            )
        setting = setting_of(options, now)
        return oscsim.change(oscsim.load(design), assigned("--set", options.set), setting, condition=after)

    return answered_each(options, ask)
