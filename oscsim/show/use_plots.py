"""Pictures of the watch in use: the trial's criteria, a week of days, a diary."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from oscsim.show.labels import broken_title
from oscsim.show.style import GREY, SERIES, frame, headline, new_axes
from oscsim.show.tables import signed
from oscsim.text.phrases import share
from oscsim.use.judging import CRITERIA

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from oscsim.use.days import Days
    from oscsim.use.diary import Diary
    from oscsim.use.morning import Morning
    from oscsim.use.trial import Trial

#: Days drawn at most.
_WEEK = 7


def plot_trial(answer: Trial, ax: Axes | None = None) -> Axes:
    """Each criterion over its limits' width: the limits' ends at -1 and +1, or nought and +1 where one side is open."""
    ax = new_axes(ax)
    shown = [one for one in answer.criteria if math.isfinite(one.value)]
    rows = np.arange(len(shown), dtype=float)
    names = []
    for row, one in zip(rows, shown, strict=True):
        assert one.high is not None
        low = 0.0 if one.low is None else one.low
        middle, half = (
            ((low + one.high) / 2.0, (one.high - low) / 2.0) if one.low is not None else (0.0, one.high)
        )
        place = (one.value - middle) / half
        ax.plot([-1.0 if one.low is not None else 0.0, 1.0], [row, row], color="#cccccc", linewidth=9.0,
                solid_capstyle="butt", zorder=1)  # fmt: skip
        passes = one.margin >= 0.0
        colour, _, marker = SERIES[0] if passes else SERIES[1]
        ax.plot(np.clip(place, -2.2, 2.2), row, color=colour, marker=marker, markersize=9, zorder=3)
        chance = share(one.chance)
        unit = CRITERIA[one.name][1]
        ends = f"{low:g} to {one.high:g} {unit}" if one.low is not None else f"at most {one.high:g} {unit}"
        name = "D, the other sign" if one.name == "D_other" else one.name
        names.append(f"{name}: {CRITERIA[one.name][0]}\n{ends}")
        said = signed(one.value, 2 if "°C" in unit else 1) if one.low is not None else f"{one.value:.1f}"
        ax.text(2.35, row, f"{said}, passed in {chance}", va="center", fontsize=9, color="black")
    ax.set_yticks(rows, names, fontsize=8.5)
    ax.set_ylim(len(shown) - 0.5, -0.7)
    ax.set_xlim(-2.3, 4.6)
    ax.set_xticks([-2, -1, 0, 1, 2])
    ax.set_xlabel("place between the limits, which stand at -1 and +1")
    frame(ax)
    ax.grid(False, axis="y")
    broken_title(ax, f"{headline(answer.design)}: trial of fifteen days, category {answer.category}")
    return ax


def plot_days(answer: Days, ax: Axes | None = None) -> Axes:
    """Amplitude in degrees hour by hour over the week; grey where it is laid down."""
    ax = new_axes(ax)
    kept = answer.hour <= 24.0 * _WEEK
    _nights(answer, ax)
    colour, line, _ = SERIES[0]
    ax.plot(answer.hour[kept] / 24.0, answer.amplitude_deg[kept], color=colour, linestyle=line, linewidth=1.6)
    ax.set_ylabel("amplitude, deg")
    top = np.nanmax(answer.amplitude_deg)
    ax.set_ylim(0.0, 20.0 * math.ceil((top + 15.0) / 20.0))
    _days_axis(answer, ax)
    broken_title(ax, f"{headline(answer.design)}: days with its wearer (grey: laid down)")
    return ax


def days_figure(answer: Days) -> Figure:
    """The week in three panels: wind, amplitude, error."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.5, 8.0), layout="constrained")
    FigureCanvasAgg(figure)
    top, middle, low = figure.subplots(3, 1, sharex=True)
    plot_days(answer, middle)
    middle.set_title("", loc="left")
    middle.set_xlabel("")
    kept = answer.hour <= 24.0 * _WEEK
    for ax, values, name, number in (
        (top, answer.turns, "turns wound", 2),
        (low, answer.error_s, "error, s (+ fast)", 1),
    ):
        _nights(answer, ax)
        colour = SERIES[number][0]
        ax.plot(answer.hour[kept] / 24.0, values[kept], color=colour, linewidth=1.6)
        ax.set_ylabel(name)
        _days_axis(answer, ax)
    top.set_xlabel("")
    top.set_ylim(0.0, None)
    broken_title(top, f"{headline(answer.design)}: days with its wearer (grey: laid down)")
    return figure


def _days_axis(answer: Days, ax: Axes) -> None:
    ax.set_xlim(0.0, min(_WEEK, answer.days))
    ax.set_xlabel("days")
    frame(ax)


def _nights(answer: Days, ax: Axes) -> None:
    for number in range(min(_WEEK, answer.days)):
        begun = 0.0
        for one in answer.day:
            if not one.worn:
                ax.axvspan(number + begun / 24.0, number + (begun + one.hours) / 24.0, color=GREY, alpha=0.12,
                           linewidth=0)  # fmt: skip
            begun += one.hours


def plot_diary(answer: Diary, ax: Axes | None = None) -> Axes:
    """Seconds gained a day as written down, and as the middle of the fit has it."""
    ax = new_axes(ax)
    day = [entry.day - answer.entries[0].day for entry in answer.entries[1:]]
    for values, name, number in ((answer.gained_s, "written down", 0), (answer.expected_s, "as fitted", 1)):
        colour, line, marker = SERIES[number]
        ax.plot(day, values / answer.gaps, color=colour, linestyle="none" if number == 0 else line, marker=marker,
                markersize=5 if number == 0 else 0, label=name)  # fmt: skip
    ax.set_xlabel("days since the first line")
    ax.set_ylabel("gained a day, s")
    frame(ax)
    ax.legend(frameon=False, fontsize=9)
    broken_title(ax, f"{headline(answer.design)}: a diary of daily errors")
    return ax


def morning_figure(answer: Morning) -> Figure:
    """The answer's own picture."""
    return answer.answer.figure()


def plot_morning(answer: Morning, ax: Axes | None = None) -> Axes:
    """The answer's own picture."""
    return answer.answer.plot(ax=ax)
