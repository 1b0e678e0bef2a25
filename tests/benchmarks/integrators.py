"""The engine against what a user would otherwise write, at equal achieved error, in one run on one thread.

Run from the top of the repository: ``python -m tests.benchmarks.integrators`` (the extra ``benchmark``). It takes
minutes, most of them compiling and the slow contenders, which ``--quick`` leaves out. Every contender has the whole
one-period map P(A) of docs/physics.md §2, starts at the engine's own first guess and settles by the secant method with
the same test; its tolerance is loosened as far as the achieved error allows: GOAL in the settled amplitude, against
DOP853 at 1e-13. Times are CPU time of this process, best of several, compiling left out and stated: the machine may be
busy with other work.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import cProfile
import math
import pstats
import sys
import time
import tracemalloc
from collections.abc import Callable, Iterator
from functools import partial
from typing import Any, NamedTuple

import numpy as np

import oscsim
from oscsim.motion.settle import settle
from oscsim.motion.start import first_guess
from tests.benchmarks import compiled, straight
from tests.benchmarks.core import POSITIONS, REFERENCE, best, job
from tests.benchmarks.taylor import Taylor, rows_of
from tests.independent import cvode, integrator, one_beat

#: Achieved error in the settled amplitude that each contender is tuned to, deg.
GOAL = 1e-9
#: What a last secant step may leave, rad, for it to be taken without evaluating the map again: the engine's own rule,
#: by which the step divides the error as the one before did.
CLOSE = 5e-12
#: Points of the job, by position and hour, at which errors are looked at and the slow contenders are timed.
SAMPLE = [(position, hour) for position in ("CH", "12H") for hour in (0, 12, 24, 36)]

Amplitude = float
#: From the turning point before it: the other turning point, P(A) and the period.
Map = Callable[[Amplitude], tuple[float, float, float]]


class Line(NamedTuple):
    """A line of the table: contender, setting, achieved error in deg, evaluations and CPU µs a point, s to compile."""

    name: str
    setting: str
    error: float
    evaluations: float
    microseconds: float
    compiling: float


#: Least CPU time of some calls, s.
cpu = partial(best, clock=time.process_time)


def slopes(osc: Any, guess: Any) -> Any:
    """First-order slope of P(A) - A: the first step of every secant."""
    return -(2.0 * math.pi * guess * osc.viscous + 8.0 * osc.quadratic * guess**2 + 4.0 * osc.dry) / guess


def secant(period: Map, amplitude: float, slope: float) -> tuple[float, int]:
    """Settled amplitude, the mean of both swings, and evaluations of the map. As in `compiled.settle`."""
    before = gap_before = math.nan
    for number in range(30):
        other, again, _ = period(amplitude)
        gap = again - amplitude
        if number:
            slope = (gap - gap_before) / (amplitude - before)
        step = -gap / slope
        left = abs(step) * min(1.0, abs(step / (amplitude - before))) if number else abs(step)
        if not left > CLOSE:
            # the other swing follows with the root of P', the slope over both beats
            return 0.5 * (amplitude + other + step * (1.0 + math.sqrt(max(1.0 + slope, 0.0)))), number + 1
        before, gap_before, amplitude = amplitude, gap, amplitude + step
    return math.nan, 30


def one_by_one(maps: list[Map], starts: Any, slope: Any) -> tuple[Any, float]:
    """Settled amplitudes (points,) of a scalar contender and evaluations a point."""
    found = [secant(*each) for each in zip(maps, starts, slope, strict=True)]
    return np.array([amplitude for amplitude, _ in found]), sum(used for _, used in found) / len(found)


def scipy_map(op: integrator.Coefficients, integrate: one_beat.Integrate) -> Map:
    def period(amplitude: float) -> tuple[float, float, float]:
        turn = integrator.period(op, amplitude, integrate=integrate)
        return turn.first.next_amplitude, turn.amplitude, turn.time

    return period


class Bench:
    """The job, its sample, and what the sample's amplitudes should be."""

    def __init__(self) -> None:
        self.design = integrator.load(REFERENCE / "heavy.toml")
        self.movement = oscsim.load(REFERENCE / "heavy.toml")
        self.points = job(self.movement, 43)
        self.osc = self.points.oscillators
        self.guess = first_guess(self.osc)
        self.slope = slopes(self.osc, self.guess)
        self.rows = compiled.rows(self.osc)
        self.sample = np.array([POSITIONS.index(p) * 43 + hour for p, hour in SAMPLE])
        self.ops = [integrator.operating(self.design, p, float(hour)) for p, hour in SAMPLE]
        exact = [it["amplitude_deg"] for it in map(integrator.settled, self.ops)]
        self.exact = np.radians(exact)

    def error(self, amplitude: Any) -> float:
        """Worst departure of the sample's amplitudes, deg."""
        return float(np.degrees(np.abs(amplitude - self.exact)).max())

    def loosest(
        self, settings: Iterator[tuple[str, Callable[[], tuple[Any, float]]]]
    ) -> tuple[str, float, Any]:
        """The first setting, loosest first, that achieves GOAL; the best of all if none does."""
        best: tuple[float, str, Any] | None = None
        for name, call in settings:
            amplitude, _ = call()
            error = self.error(amplitude if len(amplitude) == len(self.sample) else amplitude[self.sample])
            if best is None or error < best[0]:
                best = (error, name, call)
            if error <= GOAL:
                break
        assert best is not None
        return best[1], best[0], best[2]

    # ------------------------------------------------------------------------------------------- contenders

    def engine(self) -> Line:
        def call() -> Any:
            return settle(self.osc, self.points.knock_angle)

        amplitude = call().cycle.amplitude[self.sample]
        return Line("oscsim", "", self.error(amplitude), 3.0, cpu(call, 40) / self.osc.size * 1e6, 0.0)

    def stepped(self, name: str, make: Callable[[float], one_beat.Integrate], first: int) -> Line:
        """A contender that integrates one beat after another through Python."""

        def settings() -> Iterator[tuple[str, Any]]:
            for half in range(2 * first, 28):
                rtol = 10.0 ** (-0.5 * half)
                maps = [scipy_map(op, make(rtol)) for op in self.ops]
                yield (
                    f"rtol {rtol:.0e}",
                    partial(one_by_one, maps, self.guess[self.sample], self.slope[self.sample]),
                )

        setting, error, call = self.loosest(settings())
        return Line(name, setting, error, call()[1], cpu(call, 3) / len(self.sample) * 1e6, 0.0)

    def taylor(self) -> Line:
        compiling = 0.0

        def settings() -> Iterator[tuple[str, Any]]:
            nonlocal compiling
            for half in range(18, 31):
                tolerance = 10.0 ** (-0.5 * half)
                made = Taylor(tolerance)
                compiling = made.seconds
                maps = [partial(made.period, row) for row in rows_of(self.rows)]
                yield f"tol {tolerance:.0e}", partial(one_by_one, maps, self.guess, self.slope)

        setting, error, call = self.loosest(settings())
        return Line(
            "heyoka, Taylor", setting, error, call()[1], cpu(call, 3) / self.osc.size * 1e6, compiling
        )

    def runge_kutta(self) -> Line:
        def settled(arcs: int, lifts: int) -> tuple[Any, float]:
            amplitude, _, used = compiled.settle_all(self.rows, self.guess, self.slope, arcs, lifts, CLOSE)
            return amplitude, used / self.osc.size

        def settings() -> Iterator[tuple[str, Any]]:
            for arcs, lifts in ((3, 1), (4, 1), (5, 1), (6, 1), (7, 1), (6, 2), (8, 2), (12, 3)):
                yield f"{arcs} and {lifts} steps", partial(settled, arcs, lifts)

        begun = time.perf_counter()
        settled(1, 1)
        compiling = time.perf_counter() - begun
        setting, error, call = self.loosest(settings())
        return Line(
            "numba, RK8 in the angle",
            setting,
            error,
            call()[1],
            cpu(call, 20) / self.osc.size * 1e6,
            compiling,
        )

    def straight(self) -> Line:
        def call() -> tuple[Any, float]:
            return straight.settle_all(self.rows, self.guess), 3.0

        begun = time.perf_counter()
        call()
        compiling = time.perf_counter() - begun
        amplitude, evaluations = call()
        micro = cpu(call, 20) / self.osc.size * 1e6
        return Line(
            "numba, the engine's arithmetic",
            "limit",
            self.error(amplitude[self.sample]),
            evaluations,
            micro,
            compiling,
        )


def show_contenders(bench: Bench, *, quick: bool) -> None:
    def scipy(method: str) -> Callable[[float], one_beat.Integrate]:
        return lambda rtol: one_beat.with_tolerance(rtol, 0.1 * rtol, method)

    makers = [bench.engine, bench.straight, bench.runge_kutta, bench.taylor]
    if not quick:
        makers += [
            partial(bench.stepped, "scipy DOP853", scipy("DOP853"), 11),
            partial(
                bench.stepped,
                "CVODE (scikit-sundae)",
                lambda rtol: cvode.with_tolerance(rtol, 0.1 * rtol),
                12,
            ),
            partial(bench.stepped, "scipy LSODA", scipy("LSODA"), 12),
        ]
    titles = f"{'setting':>14}{'error, deg':>12}{'maps':>7}{'CPU, us':>10}{'ratio':>9}{'compile, s':>12}"
    print(f"{'one settled point of 258':<34}{titles}")
    base = None
    for make in makers:
        line = make()
        base = base or line.microseconds
        compiling = f"{line.compiling:.1f}" if line.compiling else ""
        print(
            f"{line.name:<34}{line.setting:>14}{line.error:>12.1e}{line.evaluations:>7.1f}{line.microseconds:>10.1f}"
            f"{line.microseconds / base:>9.2f}{compiling:>12}",
            flush=True,
        )


def show_batches(bench: Bench) -> None:
    """Cost against batch size, with the peak of numpy's memory, beside the compiled contender."""
    print(f"\n{'batch':>8}{'CPU, ms':>10}{'us a point':>12}{'peak, MB':>10}{'RK8, us':>10}")
    for size in (1, 2, 6, 16, 48, 100, 258, 1000, 4000, 10_000, 40_000):
        many = job(bench.movement, -(-size // 6))
        take = np.linspace(0, many.oscillators.size - 1, size).astype(int)
        osc, knock = many.oscillators.take(take), many.knock_angle[take]
        repeats = 3 if size > 3000 else 30
        seconds = cpu(partial(settle, osc, knock), repeats)
        tracemalloc.start()
        settle(osc, knock)
        peak = tracemalloc.get_traced_memory()[1] / 1e6
        tracemalloc.stop()
        guess = first_guess(osc)
        other = partial(compiled.settle_all, compiled.rows(osc), guess, slopes(osc, guess), 6, 1, CLOSE)
        rk8 = cpu(other, repeats) / size * 1e6
        print(
            f"{size:>8}{seconds * 1e3:>10.2f}{seconds / size * 1e6:>12.1f}{peak:>10.1f}{rk8:>10.1f}",
            flush=True,
        )


def show_profile(bench: Bench, hours: int) -> None:
    """Where the time goes: own time by file, share of the whole."""
    points = job(bench.movement, hours)
    profile = cProfile.Profile()
    for _ in range(max(1, 2000 // hours)):
        profile.enable()
        settle(points.oscillators, points.knock_angle)
        profile.disable()
    rooms: dict[str, float] = {}
    total = 0.0
    for (file, _, name), (_, _, own, _, _) in pstats.Stats(profile).stats.items():  # type: ignore[attr-defined]
        room = os.path.basename(file) if "oscsim" in file else "numpy and Python functions called"
        if room == "contact.py":
            room += " (" + ("pieces" if "push" in name or name == "lost" else "events") + ")"
        rooms[room] = rooms.get(room, 0.0) + own
        total += own
    print(f"\nprofile, {points.oscillators.size} points: share of the time by file")
    for room, own in sorted(rooms.items(), key=lambda item: -item[1])[:10]:
        print(f"{room:<44}{own / total:>8.0%}")


def main() -> None:
    bench = Bench()
    show_contenders(bench, quick="--quick" in sys.argv)
    show_batches(bench)
    show_profile(bench, 43)
    show_profile(bench, 1667)


if __name__ == "__main__":
    main()
