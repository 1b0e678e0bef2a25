"""Pictures of an amplitude that breathes: the series with its parts, and the periodogram with the train's periods."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from oscsim.show.labels import broken_title
from oscsim.show.style import GREY, SERIES, frame, headline, key, new_axes

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from oscsim.answers.breathing import Breathing
    from oscsim.bench.ripple import Ripple

_BLUE, _RED = SERIES[0][0], SERIES[1][0]
_HOUR, _MINUTE = 3600.0, 60.0


def _clock(longest: float) -> tuple[float, str]:
    return (_HOUR, "time, h") if longest > 3.0 * _HOUR else (_MINUTE, "time, min")


def plot_ripple(answer: Ripple, ax: Axes | None = None) -> Axes:
    """The readings, the trend, and what the periods taken make of it."""
    ax = new_axes(ax)
    time = answer.series.time_s - answer.series.time_s[0]
    scale, label = _clock(float(time[-1]))
    ax.plot(time / scale, answer.series.amplitude_deg, color="#999999", marker=".", markersize=3, linestyle="none",
            label="readings", zorder=1)  # fmt: skip
    ax.plot(
        time / scale,
        answer.model_deg,
        color=_BLUE,
        linewidth=1.5,
        label="trend and the periods found",
        zorder=3,
    )
    ax.plot(
        time / scale, answer.trend_deg, color="black", linewidth=1.4, linestyle="--", label="trend", zorder=4
    )
    ax.set_xlabel(label)
    ax.set_ylabel("amplitude, deg")
    ax.margins(x=0.01, y=0.12)
    frame(ax)
    key(ax, ncols=3, loc="upper center")
    named = ", ".join(answer.found) or "nothing out of the usual"
    broken_title(ax, f"{headline(answer.design)}: the amplitude breathes; {named}")
    return ax


def plot_periods(answer: Ripple, ax: Axes | None = None) -> Axes:
    """Half of peak to peak at every period, with those of the train named."""
    ax = new_axes(ax)
    usable = (answer.frequency_hz > 0.8 / answer.duration_s) & (answer.frequency_hz < 0.5 / answer.spacing_s)
    periods, line = 1.0 / answer.frequency_hz[usable], answer.line_deg[usable]
    ax.plot(periods, line, color=GREY, linewidth=0.9)
    ax.set_xscale("log")
    top = float(max(line.max(), *(one.swing_deg for one in answer.periods), 0.5))
    ax.set_ylim(0.0, 1.75 * top)
    ax.set_xlim(periods.min(), periods.max())
    shown = [one for one in answer.periods if periods.min() <= one.period_s <= periods.max()]
    places = _apart(
        [float(np.log(one.period_s)) for one in shown], float(np.log(periods.max() / periods.min()))
    )
    for one, place in zip(shown, places, strict=True):
        colour = _RED if one.unusual else _BLUE if one.taken else GREY
        ax.plot([one.period_s] * 2, [0.0, 1.12 * top], color=colour, linewidth=1.0, linestyle=":", zorder=1)
        if one.taken:
            ax.plot(
                one.period_s, one.swing_deg, color=colour, marker="s" if one.unusual else "o", markersize=7
            )
        ax.annotate(
            one.name, (one.period_s, 1.12 * top), (np.exp(place), 1.24 * top), rotation=90, ha="center", va="bottom",
            fontsize=8.5, color=colour, fontweight="bold" if one.unusual else "normal",
            arrowprops={"arrowstyle": "-", "color": colour, "linewidth": 0.7},
        )  # fmt: skip
    for period, swing in answer.unexplained:
        ax.plot(period, swing, color="black", marker="x", markersize=9, linestyle="none")
        ax.annotate(f" {period:.3g} s: no wheel", (period, swing), fontsize=8.5)
    ax.set_xlabel("period, s")
    ax.set_ylabel("swing of the amplitude, ± deg")
    ax.xaxis.set_major_formatter("{x:g}")
    frame(ax)
    return ax


def _apart(places: list[float], span: float) -> list[float]:
    """Places for names, none nearer to the next than a letter's height."""
    least = 0.032 * span
    found = list(places)
    for _ in range(200):
        moved = False
        for i in range(len(found) - 1):
            short = least - (found[i + 1] - found[i])
            if short > 1e-9:
                found[i] -= 0.5 * short
                found[i + 1] += 0.5 * short
                moved = True
        if not moved:
            break
    return found


def ripple_figure(answer: Ripple) -> Figure:
    """Series above, periods below."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9.0, 8.6), layout="constrained")
    FigureCanvasAgg(figure)
    upper, lower = figure.subplots(2, 1)
    plot_ripple(answer, ax=upper)
    plot_periods(answer, ax=lower)
    return figure


def plot_breathing(answer: Breathing, ax: Axes | None = None) -> Axes:
    """The amplitude as read, and without the reading's noise."""
    ax = new_axes(ax)
    scale, label = _clock(float(answer.time_s[-1]))
    if answer.noise_deg > 0.0:
        ax.plot(answer.time_s / scale, answer.amplitude_deg, color="#999999", marker=".", markersize=3,
                linestyle="none", label="as read")  # fmt: skip
    ax.plot(answer.time_s / scale, answer.clean_deg, color=_BLUE, linewidth=1.5, label="the balance")
    ax.set_xlabel(label)
    ax.set_ylabel("amplitude, deg")
    ax.margins(x=0.01, y=0.12)
    frame(ax)
    if answer.noise_deg > 0.0:
        key(ax, ncols=2, loc="upper center")
    faults = ", ".join(f"{part.name} ± {part.torque_percent:g} %" for part in answer.parts if part.fault)
    broken_title(ax, f"{headline(answer.design)}: the amplitude breathes; {faults or 'a sound train'}")
    return ax
