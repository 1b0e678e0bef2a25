"""Several designs in one picture: run-downs, settled amplitudes, rate against amplitude."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from oscsim.answers.isochronism import Isochronism
from oscsim.answers.result import InSetting, Result
from oscsim.answers.rundown import RunDown
from oscsim.answers.settle import Settle
from oscsim.errors import InputError
from oscsim.show.labels import headed
from oscsim.show.plots import full_curve
from oscsim.show.style import GREY, SERIES, frame, key, new_axes, short
from oscsim.show.tables import when
from oscsim.units import Position

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

#: Designs whose looks can be told apart.
_MOST = len(SERIES)
_FLAT = ("CH", "FH")


def together_figure(answers: Sequence[Result]) -> Figure:
    """One picture of the answers for several designs in one setting, all of one kind.

    Raises InputError for a kind that is not drawn together, and for more designs than can be told apart.
    """
    first = answers[0]
    draw = next((draw for kind, draw in _DRAWN.items() if isinstance(first, kind)), None)
    if draw is None:
        raise InputError(f"together: {type(first).__name__} is drawn design by design")
    if len(answers) > _MOST:
        raise InputError(f"together: {len(answers)} designs, at most {_MOST} can be told apart")
    ax = draw(answers, new_axes(None))
    return cast("Figure", ax.figure)


def _rundowns(answers: Sequence[RunDown], ax: Axes) -> Axes:
    """Amplitude against hours, one position flat and one upright of each design, up to the stop."""
    shown = _one_of_each(answers[0].setting.places)
    for (colour, _, marker), answer in zip(SERIES, answers, strict=False):
        for i, line in zip(shown, ("-", "--"), strict=False):
            hours, swing = full_curve(answer, "shown_amplitude_deg", i)
            marked = np.flatnonzero(np.isin(hours, answer.hours[:: max(1, len(answer.hours) // 6)]))
            ax.plot(
                hours, swing, color=colour, linestyle=line, linewidth=1.8, marker=marker, markersize=4.5,
                markevery=marked.tolist(), label=short(answer.design) if i == shown[0] else None,
            )  # fmt: skip
    ax.set_xlim(left=0.0)
    ax.set_ylim(bottom=0.0)
    ax.set_xlabel("hours since full wind, h")
    ax.set_ylabel("amplitude, deg")
    words = [answers[0].setting.places[i].words for i in shown]
    lines = f"{words[0]} solid, {words[1]} dashed" if len(words) > 1 else words[0]
    return _finished(ax, answers, f"run-down from full wind, {lines}")


def _settled(answers: Sequence[Settle], ax: Axes) -> Axes:
    """Amplitude by position: full marks at the first hour, hollow ones at the last."""
    places, hours = answers[0].setting.places, answers[0].points.hours[0]
    columns = [0] if len(hours) == 1 else [0, len(hours) - 1]
    for n, ((colour, _, marker), answer) in enumerate(zip(SERIES, answers, strict=False)):
        at = np.arange(len(places)) + 0.5 * ((n + 0.5) / len(answers) - 0.5)
        for j in columns:
            ax.plot(
                at, answer.points.shown_amplitude_deg[:, j], color=colour, marker=marker, linestyle="none",
                markersize=7, markerfacecolor=colour if j == 0 else "white",
                label=short(answer.design) if j == 0 else None,
            )  # fmt: skip
    ax.set_xticks(np.arange(len(places)), [f"{place.symbol}\n{place.words}" for place in places])
    ax.set_xlim(-0.6, len(places) - 0.4)
    ax.set_ylabel("amplitude, deg")
    words = when(float(hours[0])) + (f" full, {when(float(hours[-1]))} hollow" if len(columns) > 1 else "")
    return _finished(ax, answers, f"settled amplitude, {words}")


def _isochronisms(answers: Sequence[Isochronism], ax: Axes) -> Axes:
    """Rate against amplitude in the first position."""
    for (colour, line, marker), answer in zip(SERIES, answers, strict=False):
        order = np.argsort(answer.amplitude_deg, kind="stable")
        ax.plot(
            answer.amplitude_deg[order], answer.rate_s_per_day[0][order], color=colour, linestyle=line,
            linewidth=1.8, marker=marker, markersize=4.5, markevery=max(1, len(order) // 8),
            label=short(answer.design),
        )  # fmt: skip
    ax.axhline(0.0, color=GREY, linewidth=0.8)
    ax.set_xlabel("amplitude, deg")
    ax.set_ylabel("rate, s/day")
    place = answers[0].setting.places[0]
    return _finished(ax, answers, f"rate against amplitude, {place.symbol} {place.words}")


def _one_of_each(places: Sequence[Position]) -> list[int]:
    """The first flat position and the first upright one, as far as they are there."""
    flat = [i for i, place in enumerate(places) if place.symbol in _FLAT]
    upright = [i for i, place in enumerate(places) if place.symbol not in _FLAT]
    return [*flat[:1], *upright[:1]]


def _finished(ax: Axes, answers: Sequence[InSetting], words: str) -> Axes:
    frame(ax)
    key(ax, loc="best")
    headed(ax, answers[0].setting, words[0].upper() + words[1:])
    return ax


_DRAWN: dict[type[Result], Callable[[Any, Axes], Axes]] = {
    RunDown: _rundowns,
    Settle: _settled,
    Isochronism: _isochronisms,
}
