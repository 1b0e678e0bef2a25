"""Pictures of rates: by position, against amplitude, over the heavy point's direction, and the working band.

Every function takes ``ax=``, returns it, and never opens a window.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from oscsim.answers.ratemap import FIRST_ORDER_NODE_DEG, PLACES
from oscsim.answers.regulate import regulated_word
from oscsim.answers.shares import CAUSES
from oscsim.arrays import Array
from oscsim.show.labels import broken_title, titled
from oscsim.show.rate_tables import shown_causes
from oscsim.show.style import GREY, SERIES, frame, gain_loss, headline, new_axes
from oscsim.show.tables import beyond, signed, when

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from oscsim.answers.band import Band
    from oscsim.answers.isochronism import Isochronism
    from oscsim.answers.ratemap import RateMap
    from oscsim.answers.rates import Rates

#: Gain blue and loss red stay apart for colour-blind eyes (ColorBrewer's RdBu).
#: Each cause's colour, line and marker, the same in every picture.
_LOOKS = {
    "escapement": SERIES[0],
    "poise": SERIES[1],
    "out_of_beat": SERIES[2],
    "index_pins": SERIES[3],
    "hairspring": SERIES[4],
    "hairspring_shape": ("#332288", (0, (6, 1)), "<"),
    "hairspring_weight": ("#882255", (0, (3, 1, 1, 1)), ">"),
    "drag": ("#999999", "-", "x"),
    "pivots": ("#B8860B", (0, (1, 1)), "P"),
    "regulation": ("#666666", (0, (8, 2)), "*"),
}
#: Where the map's colours change, s/day, as far as they are needed; how many on each side of nothing.
_EDGES = tuple(m * 10.0**e for e in range(-6, 6) for m in (1, 2, 5))
_BANDS = 6
#: Behind words that stand on the drawing.
_PAPER = {"facecolor": "white", "alpha": 0.8, "edgecolor": "none", "pad": 1.5}
#: The node line is left out this close to a level heavy point, whose effect is of second order only.
_LEVEL = 0.03


def plot_rates(answer: Rates, ax: Axes | None = None) -> Axes:
    """Rate in s/day by position, one mark for each hour, with the mean of the positions as a line."""
    ax = new_axes(ax)
    places, p = answer.setting.places, answer.points
    across = np.arange(len(places), dtype=float)
    hours = p.hours[0]
    for j, hour in enumerate(hours):
        colour, line, marker = SERIES[j % len(SERIES)]
        offset = 0.0 if len(hours) == 1 else 0.3 * (j / (len(hours) - 1) - 0.5)
        mean, spread = answer.mean_rate_s_per_day[j], answer.position_spread_s_per_day[j]
        told = f": mean {signed(mean)}, spread {spread:.1f} s/day" if len(places) > 1 else ""
        if not math.isfinite(mean):
            without = np.array(answer.setting.positions)[np.isnan(p.shown_rate_s_per_day[:, j])]
            told = f": no rate in {', '.join(without)}"
        ax.plot(
            across + offset, p.shown_rate_s_per_day[:, j], color=colour, marker=marker, markersize=7, linestyle="none",
            label=f"{when(hour)}{told}",
        )  # fmt: skip
        if len(places) > 1:
            ax.axhline(mean, color=colour, linestyle=line, linewidth=1.2, zorder=1)
    ax.set_xticks(across, [f"{place.symbol}\n{place.words}" for place in places])
    ax.set_xlim(-0.6, len(places) - 0.4)
    ax.set_ylabel(f"rate {regulated_word(answer.movement)}, s/day")
    frame(ax)
    _room_above(ax, len(hours))
    ax.legend(frameon=False, fontsize=9, loc="upper center", ncols=2)
    titled(ax, answer, "rate by position")
    return ax


def _nothing(ax: Axes, words: str) -> None:
    ax.text(0.5, 0.5, words, ha="center", va="center", color=GREY, transform=ax.transAxes, bbox=_PAPER)


def _room_above(ax: Axes, entries: int) -> None:
    """Room for a key of so many entries in two columns above what is drawn."""
    low, high = ax.get_ylim()
    ax.set_ylim(low, high + 0.08 * (1 + (entries + 1) // 2) * (high - low))


def plot_isochronism(answer: Isochronism, ax: Axes | None = None) -> Axes:
    """Rate in s/day against amplitude in degrees, in the first position: thick the whole, thin each cause's share."""
    ax = new_axes(ax)
    swing, whole = answer.amplitude_deg, answer.rate_s_per_day[0]
    some, _ = shown_causes({cause: share[:1] for cause, share in answer.shares.items()})
    order = np.argsort(swing)
    for number, cause in enumerate(some):
        colour, line, marker = _LOOKS[cause]
        ax.plot(
            swing[order], answer.shares[cause][0][order], color=colour, linestyle=line, linewidth=1.5, marker=marker,
            markersize=4.5, markevery=(number, max(1, len(swing) // 8)), label=CAUSES[cause],
        )  # fmt: skip
    word = f"rate {regulated_word(answer.movement)}"
    ax.plot(swing[order], whole[order], color="black", linewidth=3.2, label=word)
    ax.axhline(0.0, color=GREY, linewidth=0.8)
    ax.set_xlabel("amplitude, deg")
    ax.set_ylabel("rate and its parts, s/day")
    if len(swing) > 1:
        ax.set_xlim(swing.min(), swing.max())
    frame(ax)
    _shade_knock(ax, answer)
    if not np.isfinite(whole).any():
        _nothing(ax, f"no torque up to {answer.ceiling:g} times that at full wind keeps these amplitudes up")
    _room_above(ax, len(some) + 1)
    ax.legend(frameon=False, fontsize=9, loc="upper center", ncols=2)
    place = answer.setting.places[0]
    titled(ax, answer, f"rate against amplitude, {place.symbol} {place.words}")
    return ax


def _shade_knock(ax: Axes, answer: Isochronism | Band) -> None:
    """Grey beyond the knock, on a horizontal axis of amplitude, where it is in sight."""
    low, high = ax.get_xlim()
    knock_deg = answer.knock_deg
    if knock_deg >= high:
        return
    ax.axvspan(max(knock_deg, low), high, color=GREY, alpha=0.18, linewidth=0)
    ax.text(
        high, 0.02, f"{beyond(answer.movement)} ", rotation=90, ha="right", va="bottom", fontsize=9, color=GREY,
        transform=ax.get_xaxis_transform(),
    )  # fmt: skip


def plot_ratemap(answer: RateMap, ax: Axes | None = None) -> Axes:
    """What the heavy point adds to the rate, s/day, over its direction and the amplitude, both in degrees.

    Colours are centred on the rate of a poised balance at the same amplitude. The node is drawn strong, first-order
    theory's 219.54 deg dashed over it, the knock and what is not reached grey.
    """
    ax = new_axes(ax)
    across, swing = answer.heavy_point_deg, answer.amplitude_deg
    effect = answer.rate_s_per_day - answer.poised_s_per_day[:, None]
    node = _without_level(answer)
    if _goes_round(across):  # close the circle
        across, effect = np.append(across, across[0] + 360.0), np.column_stack([effect, effect[:, 0]])
        node = np.append(node, node[0])
    ax.set_facecolor("#cccccc")
    if min(effect.shape) < 2:
        ax.plot(across, np.broadcast_to(swing[:1], across.shape), color="black", linestyle="none", marker=".")
        _nothing(ax, "a map is drawn from two amplitudes and two directions up")
    else:
        ax.set_ylim(swing.min(), swing.max())
        ax.set_xlim(across.min(), across.max())
        if np.isfinite(effect).any():
            _fill(ax, across, swing, effect)
            _say_node(ax, answer)
        else:
            _nothing(ax, "nothing here is reached by the torque allowed")
        ax.plot(across, node, color="black", linewidth=3.0)
        ax.axhline(FIRST_ORDER_NODE_DEG, color="white", linewidth=1.2, linestyle=(0, (4, 3)))
        _shade_knock_above(ax, answer)
    _directions(ax, answer)
    ax.set_ylabel("amplitude, deg")
    place = answer.setting.places[0]
    word = regulated_word(answer.movement)
    words = f"{place.symbol} {place.words}, want of poise {answer.unbalance_ug_cm:g} µg·cm, {word}"
    titled(ax, answer, f"what the heavy point does to the rate\n{words}")
    return ax


def _goes_round(directions: Array) -> bool:
    """Whether directions go once round the circle in equal steps."""
    if len(directions) < 3:
        return False
    steps = np.diff([*directions, directions[0] + 360.0])
    return bool((steps > 0.0).all() and np.ptp(steps) < 1e-6)


def _without_level(answer: RateMap) -> Array:
    level = np.abs(np.cos(np.radians(answer.heavy_point_deg - answer.below_deg))) < _LEVEL
    return np.where(level, np.nan, answer.node_line_deg)


def _fill(ax: Axes, across: Array, swing: Array, effect: Array) -> None:
    """The filled map with labelled lines and its own colour bar beside the axes."""
    from matplotlib.patheffects import withStroke

    most = float(np.nanmax(np.abs(effect)))
    last = next((i for i, edge in enumerate(_EDGES) if edge >= most), len(_EDGES) - 1)
    edges = np.array(_EDGES[max(last + 1 - _BANDS, 0) : last + 1])
    levels = np.concatenate([-edges[::-1], edges])
    hidden = np.ma.masked_invalid(effect)
    colours = gain_loss()(np.linspace(0.04, 0.96, len(levels) - 1))
    filled = ax.contourf(across, swing, hidden, levels=levels, colors=colours)
    lines = ax.contour(
        across,
        swing,
        hidden,
        levels=levels[np.abs(levels) < most],
        colors="black",
        linewidths=0.6,
        linestyles="-",
    )
    for label in ax.clabel(lines, fmt=lambda value: f"{value:+g}", fontsize=8):
        label.set_path_effects([withStroke(linewidth=2.0, foreground="white")])
    # inside the axes' own space, so that a figure given keeps the axes it has
    beside = ax.inset_axes((1.02, 0.0, 0.03, 1.0))
    bar = ax.figure.colorbar(filled, cax=beside, ticks=levels, spacing="uniform", format="%+g")
    bar.set_label("rate less that of a poised balance, s/day")


def _say_node(ax: Axes, answer: RateMap) -> None:
    """The node's two numbers, beside its line."""
    low, high = ax.get_ylim()
    if not low < FIRST_ORDER_NODE_DEG < high:
        return
    node = f"node {answer.node_deg:.2f} deg" if math.isfinite(answer.node_deg) else "node not reached"
    words = f"{node} (first-order theory {FIRST_ORDER_NODE_DEG:.2f}, dashed)"
    ax.text(
        0.5, FIRST_ORDER_NODE_DEG + 0.02 * (high - low), words, ha="center", va="bottom", fontsize=9,
        transform=ax.get_yaxis_transform(),
        bbox=_PAPER,
    )  # fmt: skip


def _shade_knock_above(ax: Axes, answer: RateMap) -> None:
    low, high = ax.get_ylim()
    knock_deg = answer.knock_deg
    if knock_deg >= high:
        return
    ax.axhspan(max(knock_deg, low), high, color="#cccccc", alpha=0.85, linewidth=0)
    ax.axhline(max(knock_deg, low), color=GREY, linewidth=1.0)
    ax.text(
        0.01, max(knock_deg, low), f"{beyond(answer.movement)} above {knock_deg:.0f} deg", va="top", fontsize=9,
        transform=ax.get_yaxis_transform(), bbox=_PAPER,
    )  # fmt: skip


def _directions(ax: Axes, answer: RateMap) -> None:
    """Ticks at the quarters: degrees, the hour on the dial, and where that stands in this position."""
    low, high = ax.get_xlim()
    stands = {round((answer.below_deg + turn) % 360.0, 6): word for word, turn in PLACES.items()}
    ticks, words = [], []
    for degrees in np.arange(90.0 * math.ceil(low / 90.0), high + 1e-9, 90.0):
        hour = round(degrees / 30.0) % 12 or 12
        where = stands.get(round(degrees % 360.0, 6), "")
        ticks.append(float(degrees))
        words.append(f"{degrees:g}\nat {hour}\n{where}".rstrip())
    if ticks:
        ax.set_xticks(ticks, words)
    ax.set_xlabel(
        "where the heavy point rests, deg clockwise from 12 o'clock; at which hour; where that stands"
    )


def plot_band(answer: Band, ax: Axes | None = None) -> Axes:
    """Greatest difference of the vertical rates, s/day, against amplitude dial up in degrees; the band shaded."""
    ax = new_axes(ax)
    flat, spread, tolerance = (
        answer.flat_amplitude_deg,
        answer.vertical_spread_s_per_day,
        answer.tolerance_s_per_day,
    )
    ax.plot(flat, np.where(np.isfinite(spread), spread, np.nan), color=SERIES[0][0], linewidth=2.2)
    top = _top(spread, tolerance)
    ax.set_ylim(0.0, top)
    right = max(1.08 * answer.knock_deg, answer.full_wind_deg if math.isfinite(answer.full_wind_deg) else 0.0)
    ax.set_xlim(flat[0], right)
    ax.axhline(tolerance, color=SERIES[1][0], linestyle="--", linewidth=1.6)
    ax.text(
        flat[0], tolerance + 0.01 * top, f" tolerated {tolerance:g} s/day", va="bottom", fontsize=9,
        color=SERIES[1][0],
    )  # fmt: skip
    if answer.met:
        ax.axvspan(answer.floor_deg, answer.ceiling_deg, color=SERIES[2][0], alpha=0.16, linewidth=0)
    frame(ax)
    _shade_knock(ax, answer)
    _say_band(ax, answer)
    if math.isfinite(answer.full_wind_deg):
        # no higher than the words of the band, which stand above it
        ax.axvline(answer.full_wind_deg, ymax=0.9, color="black", linestyle=":", linewidth=1.6)
        ax.text(
            answer.full_wind_deg, 0.86, f"full wind {answer.full_wind_deg:.0f} deg ", rotation=90, ha="right", va="top",
            fontsize=9, transform=ax.get_xaxis_transform(),
        )  # fmt: skip
    ax.set_xlabel("amplitude dial up, deg")
    ax.set_ylabel("greatest difference of the vertical rates, s/day")
    words = f"want of poise {answer.unbalance_ug_cm:g} µg·cm"
    broken_title(ax, f"{headline(answer.design)}: working band of amplitude, {words}")
    return ax


def _top(spread: Array, tolerance: float) -> float:
    """The height of the picture: the curve up to some times the tolerance, so that the band stays readable."""
    seen = spread[np.isfinite(spread)]
    most = float(seen.max()) if seen.size else tolerance
    least = float(seen.min()) if seen.size else 0.0
    return 1.15 * max(min(most, 4.0 * max(tolerance, least)), 1.2 * tolerance)


def _say_band(ax: Axes, answer: Band) -> None:
    """The band's ends and the hour of the floor, at the top of the picture."""
    if answer.met:
        words = f"{answer.floor_deg:.0f} to {answer.ceiling_deg:.0f} deg"
        if math.isfinite(answer.floor_hours):
            words += f"; run-down leaves it after {answer.floor_hours:.1f} h"
        across = 0.5 * (answer.floor_deg + answer.ceiling_deg)
    else:
        words, across = "the tolerance is met at no amplitude", 0.5 * sum(ax.get_xlim())
    ax.text(
        across, 0.97, words, ha="center", va="top", fontsize=9, color="black", transform=ax.get_xaxis_transform(),
        bbox=_PAPER,
    )  # fmt: skip
