"""``oscsim tolerance``: how far apart are sound examples of this design?"""

from __future__ import annotations

import argparse
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import oscsim
from oscsim.commands.options import Commands, add_command, add_number, add_output
from oscsim.commands.points import add_points, around, setting_of
from oscsim.commands.several import add_designs, answered_each
from oscsim.fields import Quantity

if TYPE_CHECKING:
    from concurrent.futures import Executor

_SEED = Quantity("", "", "seed of the random draws", 0, 2**32 - 1, whole=True)
_WORKERS = Quantity("", "", "processes that share the work", 1, 256, whole=True)
_EXAMPLES, _FIRST_SEED = 2000, 0


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "tolerance",
        "tolerance dockhand --examples 5000 --plot band.png", _run,
    )  # fmt: skip
    add_designs(parser)
    add_points(parser)
    add_number(parser, "--examples", "N", f"examples to be drawn (default: {_EXAMPLES})", default=_EXAMPLES)
    add_number(
        parser, "--seed", "N", f"seed of the random draws (default: {_FIRST_SEED})", default=_FIRST_SEED
    )
    parser.add_argument(
        "--readings", metavar="READINGS.csv",
        help="readings of one such movement, shown on the bands; positions and hours are then those read",
    )  # fmt: skip
    parser.add_argument("--no-sobol", action="store_true", help="leave out which tolerance matters most")
    parser.add_argument(
        "--store",
        type=Path,
        metavar="DIR",
        help="keep finished blocks here, and go on from them after a break",
    )
    add_number(parser, "--workers", "N", "processes that share the work (default: 1)", default=1)
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    def ask(design: str) -> oscsim.Tolerance:
        numbers = {name: _whole(getattr(options, name)) for name in ("examples", "seed", "workers")}
        _SEED.check("--seed", numbers["seed"])
        _WORKERS.check("--workers", numbers["workers"])
        movement, setting, readings = oscsim.load(design), setting_of(options), None
        if options.readings is not None:
            from oscsim.answers.tolerance import read_in

            readings = oscsim.load_readings(options.readings)
            where = {"positions": options.positions, "hours": options.hours}
            setting = replace(
                read_in(readings, **around(options)), **{key: value for key, value in where.items() if value}
            )
        with _executor(numbers["workers"]) as executor:
            return oscsim.tolerance(
                movement,
                setting,
                examples=numbers["examples"],
                rng=numbers["seed"],
                sobol=not options.no_sobol,
                readings=readings,
                executor=executor,
                store=options.store,
                progress=_progress if sys.stderr.isatty() else None,
            )

    return answered_each(options, ask)


def _whole(value: float | str) -> int:
    """A whole number as one; anything else goes on to the check."""
    return int(value) if isinstance(value, float) and value.is_integer() else value  # type: ignore[return-value]


@contextmanager
def _executor(workers: int) -> Iterator[Executor | None]:
    """Processes to share the work, none for one worker."""
    if workers == 1:
        yield None
        return
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    # Ctrl-C reaches every process of the terminal; the workers inherit that it is none of theirs, so they are started
    # here, one for each piece of work that waits
    here = signal.getsignal(signal.SIGINT)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        pool = ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context("spawn"))
        started = [pool.submit(int) for _ in range(workers)]
    finally:
        signal.signal(signal.SIGINT, here)
    try:
        for one in started:
            one.result()
        yield pool
    finally:
        # the few blocks that are with the workers are let end: Python 3.11.2 hangs where one is terminated while
        # the next block is on its way to it
        pool.shutdown(cancel_futures=True)


def _progress(done: int, every: int) -> None:
    """Points done, on one line of the terminal."""
    sys.stderr.write(f"\r{done} of {every} points settled" + ("\n" if done == every else ""))
    sys.stderr.flush()
