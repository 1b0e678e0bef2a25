"""Pictures of results. Every function takes ``ax=``, returns it, and never opens a window."""

from __future__ import annotations

import json
import warnings
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from oscsim.answers.regulate import regulated_word
from oscsim.arrays import Array
from oscsim.errors import InputError, hint, printable
from oscsim.escapements.kinds import kind_of
from oscsim.motion.states import STATES
from oscsim.show.labels import knock_line, titled
from oscsim.show.style import GREY, SERIES, frame, key, new_axes, stacked
from oscsim.show.tables import STATE_VERBS
from oscsim.units import POSITIONS
from oscsim.version import __version__
from oscsim.whole import write_whole

if TYPE_CHECKING:
    from typing import Protocol

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from oscsim.answers.rundown import RunDown
    from oscsim.answers.settle import Settle

    class Drawn(Protocol):
        def plot(self, ax: Axes | None = None) -> Axes: ...


#: Curves closer than this share one line and one label.
_SAME = {"shown_amplitude_deg": 0.4, "shown_rate_s_per_day": 0.25}
_PROGRAM = f"oscsim {__version__}"
_FORMATS = ("png", "svg", "pdf")


def _alike(curves: Array, tolerance: float) -> list[list[int]]:
    """Rows of ``curves`` (curves, points) gathered into groups that lie on one another."""
    groups: list[list[int]] = []
    for i, curve in enumerate(curves):
        for group in groups:
            both = np.isfinite(curve) & np.isfinite(curves[group[0]])
            if both.any() and np.abs(curve - curves[group[0]])[both].max() < tolerance:
                group.append(i)
                break
        else:
            groups.append([i])
    return groups


def full_curve(answer: RunDown, name: str, i: int) -> tuple[Array, Array]:
    """Hours and values of one position from full wind up to the stop, as far as there are numbers."""
    near = answer.near_stop
    hours = np.concatenate([answer.hours, near.hours[i]])
    values = np.concatenate([getattr(answer.points, name)[i], getattr(near, name)[i]])
    order = np.argsort(hours, kind="stable")
    order = order[np.isfinite(values[order])]
    return hours[order], values[order]


def _curves(answer: RunDown, name: str, ax: Axes) -> None:
    symbols = answer.setting.positions
    for number, group in enumerate(_alike(getattr(answer.points, name), _SAME[name])):
        colour, line, marker = SERIES[list(POSITIONS).index(symbols[group[0]])]
        hours, values = full_curve(answer, name, group[0])
        every = max(1, len(answer.hours) // 8)
        marked = np.flatnonzero(np.isin(hours, answer.hours[number::every]))
        ax.plot(
            hours, values, color=colour, linestyle=line, linewidth=1.8, marker=marker, markersize=4.5,
            markevery=marked.tolist(), label="  ".join(symbols[i] for i in group),
        )  # fmt: skip
    ax.set_xlim(0.0, answer.hours[-1])
    ax.set_xlabel("hours since full wind, h")
    frame(ax)
    ax.legend(title="position (ISO 3158)", frameon=False, fontsize=9, title_fontsize=9, loc="lower left")


def plot_rundown(answer: RunDown, ax: Axes | None = None) -> Axes:
    """Amplitude in degrees against hours, with the stop and, where it is near, the knock limit."""
    ax = new_axes(ax)
    _curves(answer, "shown_amplitude_deg", ax)
    amplitude = answer.points.shown_amplitude_deg
    top = float(np.nanmax(amplitude)) if np.isfinite(amplitude).any() else 300.0
    ax.set_ylim(0.0, 20.0 * np.ceil((top + 15.0) / 20.0))
    ax.set_ylabel("amplitude, deg")
    first, last = (f"{hour:.1f}" for hour in (np.min(answer.stop_hours), np.max(answer.stop_hours)))
    stopped = float(np.max(answer.stop_hours))
    ax.axvspan(stopped, answer.hours[-1], color=GREY, alpha=0.12, linewidth=0)
    ax.text(
        stopped,
        ax.get_ylim()[1] * 0.98,
        f"stops {first} h " if first == last else f"stops {first} to {last} h ",
        ha="right",
        va="top",
        color=GREY,
        fontsize=9,
    )
    knock_line(ax, answer.movement, answer.points)
    titled(ax, answer, "run-down from full wind")
    return ax


def plot_rundown_rate(answer: RunDown, ax: Axes | None = None) -> Axes:
    """Rate in s/day against hours, while the amplitude is worth timing."""
    ax = new_axes(ax)
    _curves(answer, "shown_rate_s_per_day", ax)
    rate, amplitude = answer.points.shown_rate_s_per_day, answer.points.shown_amplitude_deg
    told = rate[np.isfinite(rate) & (amplitude > 140.0)]
    if told.size:
        # the last hour's plunge would flatten everything before it
        margin = max(1.0, 0.1 * float(np.ptp(told)))
        low = float(told.min()) - margin
        ax.set_ylim(low, float(told.max()) + margin)
        if np.nanmin(rate) < low:
            words = "lines that leave at the foot: off the scale near the stop"
            ax.set_title(words, loc="right", fontsize=9, color=GREY)
    ax.set_ylabel(f"rate {regulated_word(answer.movement)}, s/day")
    return ax


def plot_settle(answer: Settle, ax: Axes | None = None) -> Axes:
    """Amplitude in degrees by position, one mark for each hour; where it stops, the word at the foot."""
    ax = new_axes(ax)
    _by_position(answer, ax, "shown_amplitude_deg", "amplitude, deg")
    _key_of_hours(ax, answer)
    titled(ax, answer, "settled amplitude")
    return ax


def settle_figure(answer: Settle) -> Figure:
    """All that the table has: amplitude, rate and beat error by position, and the amplitude that an instrument shows
    where it is told a lift angle."""
    told = answer.setting.lift_angle_deg
    panels = {"shown_amplitude_deg": "amplitude, deg"}
    if told is not None:
        panels["apparent_amplitude_deg"] = f"shown at {told:g} deg, deg"
    panels["shown_rate_s_per_day"] = f"rate {regulated_word(answer.movement)}, s/day"
    if kind_of(answer.movement.escapement).ALIKE:  # elsewhere there is none to be drawn
        panels["beat_error_ms"] = "beat error, ms"
    axes = stacked(8.0, (3.0, *(2.0 for _ in list(panels)[1:])))
    for ax, (name, words) in zip(axes, panels.items(), strict=True):
        _by_position(answer, ax, name, words)
    _key_of_hours(axes[0], answer)
    titled(axes[0], answer, "settled state")
    return cast("Figure", axes[0].figure)


def _by_position(answer: Settle, ax: Axes, name: str, words: str) -> None:
    """One quantity by position, a mark for each hour; a state that is not simply running is written beside it."""
    places, p = answer.setting.places, answer.points
    hours = p.hours[0]
    values = getattr(p, name)
    for j in range(len(hours)):
        colour, _, marker = SERIES[j % len(SERIES)]
        offset = 0.0 if len(hours) == 1 else 0.3 * (j / (len(hours) - 1) - 0.5)
        at = np.arange(len(places), dtype=float) + offset
        ax.plot(at, values[:, j], color=colour, marker=marker, linestyle="none", label=f"{hours[j]:.4g} h")
        for i, x in enumerate(at):
            state = STATES[p.code[i, j]]
            if state in STATE_VERBS:
                known = bool(np.isfinite(values[i, j]))
                ax.annotate(
                    STATE_VERBS[state], (x, values[i, j] if known else 0.0), (0, 5),
                    xycoords="data" if known else ("data", "axes fraction"), textcoords="offset points",
                    ha="center", va="bottom", rotation=90, fontsize=8, color=colour,
                )  # fmt: skip
    ax.set_xticks(np.arange(len(places)), [f"{place.symbol}\n{place.words}" for place in places])
    ax.set_xlim(-0.6, len(places) - 0.4)
    ax.set_ylabel(words)
    ax.margins(y=0.15)
    frame(ax)


def _key_of_hours(ax: Axes, answer: Settle) -> None:
    key(ax, title="since full wind", title_fontsize=9, ncols=4, loc="lower right", bbox_to_anchor=(1.0, 1.0))


def rundown_figure(answer: RunDown) -> Figure:
    """Amplitude above, rate below, on one page."""
    upper, lower = stacked(8.0, (3.0, 2.0), share=True)
    plot_rundown(answer, ax=upper)
    plot_rundown_rate(answer, ax=lower)
    upper.set_xlabel("")
    return cast("Figure", upper.figure)


def figure_of(answer: Drawn) -> Figure:
    """The result's own picture as a new figure."""
    return cast("Figure", answer.plot().figure)


def description(ending: str, origin: Mapping[str, Any]) -> dict[str, Any]:
    """The keys that each format has for program, title and description."""
    title, said = printable(str(origin.get("design", ""))), json.dumps(dict(origin))
    if ending == "png":
        return {"Software": _PROGRAM, "Title": title, "Description": said}
    if ending == "pdf":
        return {"Creator": _PROGRAM, "Title": title, "Subject": said, "CreationDate": None}
    return {"Creator": _PROGRAM, "Title": title, "Description": said, "Date": None}


def check_picture_name(path: Path) -> None:
    """Raise InputError unless the file's ending is a picture format we write."""
    ending = path.suffix.removeprefix(".").lower()
    if ending not in _FORMATS:
        known = [f".{name}" for name in _FORMATS]
        raise InputError(
            f"picture {path}: ending '{path.suffix}' is not one of {', '.join(known)}{hint(path.suffix, known)}"
        )


def save_figure(figure: Figure, path: Path, origin: Mapping[str, Any] | None = None) -> None:
    """Write a picture whole or not at all; raises InputError.

    ``origin`` (see ``Result.origin``) is kept in the file's own description, as JSON. The file has no date in it, so
    that the same answer gives the same file.
    """
    import io

    check_picture_name(path)
    ending = path.suffix.removeprefix(".").lower()
    out = io.BytesIO()
    with warnings.catch_warnings():  # a letter that the font lacks is drawn as a box
        warnings.filterwarnings("ignore", "Glyph .* missing", UserWarning)
        figure.savefig(out, format=ending, dpi=150, metadata=description(ending, origin or {}))
    write_whole(path, out.getvalue())
