"""``oscsim trial``: would it pass the trial of fifteen days?"""

from __future__ import annotations

import argparse

import oscsim
from oscsim.commands.options import Commands, add_command, add_number, add_output
from oscsim.commands.points import add_condition, condition_of
from oscsim.commands.several import add_designs, answered_each


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "trial",
        "trial packet --regulate --examples 2000", _run,
    )  # fmt: skip
    add_designs(parser)
    add_number(
        parser, "--category", "1|2", "1: movements of more than 20 mm, 2: smaller (default: 1)", default=1
    )
    add_number(parser, "--noise", "S", "day-to-day noise of the daily rate, s/day (default: 1)", default=1.0)
    add_number(
        parser,
        "--examples",
        "N",
        "examples drawn from the tolerances (default: 0, the design alone)",
        default=0,
    )
    add_number(parser, "--seed", "N", "seed of the draws (default: 0)", default=0)
    add_number(
        parser, "--regulate", "TARGET",
        "the design and every example are regulated to this mean rate before the trial, s/day (default: 0); "
        "without this option rates are as built", nargs="?", const=0.0,
    )  # fmt: skip
    add_condition(parser)
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    def ask(design: str) -> oscsim.Trial:
        return oscsim.trial(
            oscsim.load(design),
            category=whole(options.category),
            noise_s_per_day=options.noise,
            examples=whole(options.examples),
            regulate_s_per_day=options.regulate,
            rng=whole(options.seed),
            condition=condition_of("--condition", options.condition),
        )

    return answered_each(options, ask)


def whole(value: float | str) -> int:
    """A whole number where it is one; anything else goes on to the check that knows the range."""
    return int(value) if isinstance(value, float) and value.is_integer() else value  # type: ignore[return-value]
