"""``oscsim tradeoff``: what does a design get for what it gives up?"""

from __future__ import annotations

import argparse
import sys

import oscsim
from oscsim.commands.options import (
    Commands,
    add_command,
    add_number,
    add_output,
    add_temperature,
    answered,
    number,
)
from oscsim.commands.points import add_condition, condition_of
from oscsim.commands.several import add_designs, expanded
from oscsim.designs import bundled
from oscsim.errors import InputError, shown


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(commands, "tradeoff", "tradeoff dockhand packet --plot both.png", _run)
    add_designs(parser)
    parser.add_argument("--measures", nargs="+", metavar="MEASURE", help="only these measures (default: all)")
    parser.add_argument(
        "--vary", nargs=3, action="append", default=[], metavar=("NAME", "FROM", "TO"),
        help="draw designs with the number at this dotted name between two values; once for each number",
    )  # fmt: skip
    parser.add_argument(
        "--aim", nargs="+", default=[], metavar="MEASURE", help="what the front is in: two measures or more"
    )
    parser.add_argument(
        "--keep", nargs=2, action="append", default=[], metavar=("MEASURE", "LIMIT"),
        help="only designs on the better side of this limit",
    )  # fmt: skip
    add_number(parser, "--count", "N", "designs drawn for a front (default: 4096)")
    add_number(parser, "--examples", "N", "sound examples drawn for the bands of each measure (default: 0)")
    add_number(parser, "--seed", "N", "seed of the draws (default: 0)", default=0)
    add_temperature(parser)
    add_condition(parser)
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    seed = _whole(options.seed)
    if isinstance(seed, bool) or not isinstance(seed, int) or not 0 <= seed < 2**32:
        raise InputError(f"--seed = {options.seed}: must be a whole number from 0 to 4294967295")
    if options.vary or options.aim or options.keep:
        return _front(options, seed)
    if options.count is not None:
        raise InputError("--count: is of a front, give --vary and --aim with it")

    def ask() -> oscsim.Tradeoff:
        designs = [oscsim.load(design) for design in expanded(options.designs)]
        examples = 0 if options.examples is None else _whole(options.examples)
        return oscsim.tradeoff(
            designs, _setting(options), measures=options.measures, examples=examples, rng=seed
        )

    return answered(options, ask)


def _front(options: argparse.Namespace, seed: int) -> str:
    for name in ("vary", "aim"):
        if not getattr(options, name):
            raise InputError(f"--{name}: a front takes --vary NAME FROM TO and --aim MEASURE MEASURE")
    for name in ("measures", "examples"):
        if getattr(options, name) is not None:
            raise InputError(f"--{name}: does not go with --vary, leave one out")

    def ask() -> oscsim.Tradeoff:
        names = expanded(options.designs)
        if len(names) != 1:
            raise InputError(f"designs = {' '.join(names)}: a front is of one design")
        ranges: dict[str, tuple[float, float]] = {}
        for name, *ends in options.vary:
            if name in ranges:
                raise InputError(f"--vary: {name} is given twice")
            low, high = (_number(f"--vary {name}", end) for end in ends)
            ranges[name] = (low, high)
        keep = {}
        for name, limit in options.keep:
            if name in keep:
                raise InputError(f"--keep: {name} is given twice")
            keep[name] = _number(f"--keep {name}", limit)
        from oscsim.answers.measures import MEASURES

        told = sys.stderr.isatty()
        if told and any(name in MEASURES and MEASURES[name].slow for name in (*options.aim, *keep)):
            sys.stderr.write("an aim or limit in years or after a jolt takes some ten times as long\n")
        return oscsim.tradeoff_front(
            oscsim.load(names[0]), ranges, options.aim, _setting(options), keep=keep,
            count=4096 if options.count is None else _whole(options.count), rng=seed, bundled=bundled(),
            progress=_progress if told else None,
        )  # fmt: skip

    return answered(options, ask)


def _setting(options: argparse.Namespace) -> oscsim.Setting:
    condition = condition_of("--condition", options.condition)
    return oscsim.Setting(temperature_c=options.temperature, condition=condition)


def _whole(value: float | str) -> int:
    """A whole number where it is one; anything else goes on to the check that knows the range."""
    return int(value) if isinstance(value, float) and value.is_integer() else value  # type: ignore[return-value]


def _number(what: str, word: str) -> float:
    value = number(word)
    if isinstance(value, str):
        raise InputError(f"{what} = {shown(word)}: must be a number")
    return value


def _progress(done: int, every: int) -> None:
    sys.stderr.write(f"\r{done} of {every} designs settled" + ("\n" if done == every else ""))
    sys.stderr.flush()
