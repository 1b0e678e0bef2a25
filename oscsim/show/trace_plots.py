"""Pictures of the motion in time: one beat, its torques and energies, and swing after swing from a start.

Every function takes ``ax=``, returns it, and never opens a window.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from oscsim.arrays import Array
from oscsim.escapements.kinds import kind_of
from oscsim.show.labels import titled
from oscsim.show.style import GREY, SERIES, frame, new_axes, title
from oscsim.show.tables import beyond
from oscsim.show.trace_tables import place_and_hour

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from oscsim.answers.trace import Trace, Transient

BLUE, RED, GREEN, PINK = (SERIES[i][0] for i in range(4))
#: Phases as drawn, by what they are (``escapements.kind.ROLES``): colour, line style, width.
LOOKS = {
    "free": (GREY, "-", 1.4),
    "unlocking": (RED, "--", 2.6),
    "run": (PINK, ":", 2.6),
    "impulse": (BLUE, "-", 2.8),
    "passing": (GREEN, "-.", 2.6),
}
_MS, _NANO, _MICRO = 1e3, 1e9, 1e6


def _look(answer: Trace, part: slice) -> tuple[str, str, float, str]:
    """Colour, line style, width and word in the key of a stretch of samples."""
    role, word = kind_of(answer.movement.escapement).PHASES[str(answer.phase[part.start])]
    return *LOOKS[role], word


def _shade(answer: Trace, ax: Axes, name: str, scale: float) -> None:
    """The phases of the lift as bands along the horizontal column ``name``."""
    values = answer.columns[name] * scale
    named: set[str] = set()
    for part in answer.stretches():
        colour, _, _, word = _look(answer, part)
        if word == "free arc":
            continue
        label = word if word not in named else None
        named.add(word)
        ends = sorted((values[part.start], values[part.stop - 1]))
        ax.axvspan(*ends, color=colour, alpha=0.3, linewidth=0, label=label)


def _first_beat(answer: Trace) -> slice:
    return slice(0, int(np.count_nonzero(answer.beat == answer.beat[0])))


def _key(ax: Axes, **where: Any) -> None:
    """The key, if there is anything to explain."""
    if ax.get_legend_handles_labels()[1]:
        ax.legend(frameon=False, fontsize=9, **where)


def _across(ax: Axes, values: Array) -> None:
    """The horizontal axis over just these values, in order."""
    if values[-1] > values[0]:
        ax.set_xlim(values[0], values[-1])


def plot_trace(answer: Trace, ax: Axes | None = None) -> Axes:
    """Angle of the balance in degrees against time in ms; the phases of the lift as bands."""
    ax = new_axes(ax)
    if not _moves(answer):
        return _at_rest(answer, ax)
    time, angle = answer.columns["time_s"] * _MS, answer.columns["angle_deg"]
    _shade(answer, ax, "time_s", _MS)
    ax.plot(time, angle, color="black", linewidth=1.8)
    ax.axhline(0.0, color=GREY, linewidth=0.8)
    ax.set_xlabel("time, ms")
    ax.set_ylabel("angle of the balance, deg")
    reach = max(float(np.abs(angle).max()), 1.0)
    ax.set_ylim(-1.08 * reach, 1.32 * reach)
    _across(ax, time)
    frame(ax)
    _key(ax, ncols=3, loc="upper center")
    titled(ax, answer, f"the balance in time, {place_and_hour(answer.setting)}")
    return ax


def plot_lift(answer: Trace, ax: Axes | None = None) -> Axes:
    """The first lift: lever (or detent) and wheel in degrees against the angle of the balance, phases as bands."""
    ax = new_axes(ax)
    if not _moves(answer):
        return _at_rest(answer, ax)
    beat = _first_beat(answer)
    c = {name: values[beat] for name, values in answer.columns.items()}
    inside = ~np.char.startswith(answer.phase[beat], "free arc")
    angle = c["angle_deg"]
    start, end = float(angle[inside].min()), float(angle[inside].max())
    margin = 0.12 * (end - start)
    _shade_beat(answer, ax)
    released = kind_of(answer.movement.escapement).RELEASE
    ax.plot(angle, c["lever_deg"], color="black", linewidth=1.8, label=released)
    ax.plot(angle, c["wheel_deg"], color=GREEN, linestyle="-.", linewidth=1.8, label="escape wheel")
    ax.set_xlim(start - margin, end + margin)
    ax.set_xlabel("angle of the balance, deg")
    ax.set_ylabel("angle turned, deg")
    frame(ax)
    _key(ax, loc="upper left")
    title(ax, f"{released.capitalize()} and escape wheel through the lift")
    return ax


def _shade_beat(answer: Trace, ax: Axes) -> None:
    """The phases of the first beat's lift along the angle of the balance, without entries in the key."""
    angle = answer.columns["angle_deg"]
    for part in answer.stretches():
        colour, _, _, word = _look(answer, part)
        if word != "free arc" and answer.beat[part.start] == answer.beat[0]:
            ax.axvspan(angle[part.start], angle[part.stop - 1], color=colour, alpha=0.3, linewidth=0)


def _moves(answer: Trace) -> bool:
    return bool(answer.columns["time_s"][-1] > 0.0)


def _at_rest(answer: Trace, ax: Axes) -> Axes:
    """In place of a motion that does not come about."""
    meets = kind_of(answer.movement.escapement).MET
    words = f"no motion: a swing of {answer.swing_deg:.4g} deg\ndoes not reach the {meets}"
    ax.text(0.5, 0.5, words, ha="center", va="center", transform=ax.transAxes, color=GREY)
    ax.set_xticks([])
    ax.set_yticks([])
    return ax


def _orbit(answer: Trace, ax: Axes) -> None:
    angle, speed = answer.columns["angle_deg"], answer.columns["speed_rad_per_s"]
    named: set[str] = set()
    for part in answer.stretches():
        colour, line, width, word = _look(answer, part)
        label = None if word in named else word
        named.add(word)
        # from the last sample of the phase before, so that blows show and no gap is left
        drawn = slice(max(part.start - 1, 0), part.stop)
        ax.plot(angle[drawn], speed[drawn], color=colour, linestyle=line, linewidth=width, label=label)


def plot_phase_portrait(answer: Trace, ax: Axes | None = None) -> Axes:
    """Speed of the balance in rad/s against its angle in degrees; the phases by colour and line.

    The inset magnifies the speed through the first lift.
    """
    ax = new_axes(ax)
    if not _moves(answer):
        return _at_rest(answer, ax)
    _orbit(answer, ax)
    ax.set_xlabel("angle of the balance, deg")
    ax.set_ylabel("speed of the balance, rad/s")
    frame(ax)
    beat = _first_beat(answer)
    angle, speed = answer.columns["angle_deg"][beat], answer.columns["speed_rad_per_s"][beat]
    inside = ~np.char.startswith(answer.phase[beat], "free arc")
    reach = float(np.abs(answer.columns["speed_rad_per_s"]).max())
    ax.set_ylim(-1.1 * reach, 1.5 * reach)
    start, end = float(angle[inside].min()), float(angle[inside].max())
    free = np.char.startswith(answer.phase, "free arc")
    turns = [
        float(np.abs(answer.columns["angle_deg"][part]).max())
        for part in answer.stretches()
        if free[part.start]
    ]
    # the middle is free for an enlargement only where the swings are large and much alike
    if min(turns) > 0.75 * max(turns) > end - start:
        margin = 0.25 * (end - start)
        near = np.linspace(start - margin, end + margin, 200)
        _enlarged(answer, ax, near, np.interp(near, angle, speed))
    _key(ax, ncols=2, loc="upper center")
    title(ax, "Speed against angle: once round is two beats")
    return ax


def _enlarged(answer: Trace, ax: Axes, angle: Array, speed: Array) -> None:
    """An inset of the phase portrait over these angles and speeds."""
    inner = ax.inset_axes((0.33, 0.30, 0.42, 0.30))
    _orbit(answer, inner)
    low, high = float(speed.min()), float(speed.max())
    inner.set_xlim(float(angle.min()), float(angle.max()))
    inner.set_ylim(low - 0.1 * (high - low), high + 0.15 * (high - low))
    inner.tick_params(labelsize=8)
    inner.grid(True, color="#dddddd", linewidth=0.6)
    inner.set_title("through the lift, enlarged", fontsize=8, color=GREY)


def plot_torque(answer: Trace, ax: Axes | None = None) -> Axes:
    """Torques on the balance in nN·m over the first beat, against its angle; the scale is symmetrical-logarithmic."""
    ax = new_axes(ax)
    if not _moves(answer):
        return _at_rest(answer, ax)
    beat = _first_beat(answer)
    angle = answer.columns["angle_deg"][beat]
    curves = {
        "hairspring_torque_n_m": ("hairspring", GREY, "-", 1.8),
        "escapement_torque_n_m": ("escapement", BLUE, "-", 2.6),
        "friction_torque_n_m": ("friction and air", RED, "--", 1.8),
        "poise_torque_n_m": ("heavy point", GREEN, "-.", 1.8),
    }
    tops = {name: float(np.abs(answer.columns[name][beat]).max()) * _NANO for name in curves}
    ax.set_yscale("symlog", linthresh=0.1, linscale=0.6)
    for name, (word, colour, line, width) in curves.items():
        if tops[name] > 0.0:
            label = f"{word}, up to {_three_digits(tops[name])} nN·m"
            values = answer.columns[name][beat] * _NANO
            ax.plot(angle, values, color=colour, linestyle=line, linewidth=width, label=label)
    tens = int(np.ceil(np.log10(max(*tops.values(), 1.0))))
    sizes = 10.0 ** np.arange(-1, tens + 1)
    ax.set_yticks([*-sizes[::-1], 0.0, *sizes], [f"{v:g}" for v in (*-sizes[::-1], 0.0, *sizes)])
    ax.set_yticks([], minor=True)
    ax.set_ylim(-(10.0**tens), 10.0 ** (tens + 2))  # room for the key
    ax.axhline(0.0, color="black", linewidth=0.8)
    ax.set_xlabel("angle of the balance, deg")
    ax.set_ylabel("torque on the balance, nN·m")
    frame(ax)
    _key(ax, loc="upper center", ncols=2)
    title(ax, "Torques over one beat; each step of the scale is ten times the last")
    return ax


def _three_digits(value: float) -> str:
    return f"{value:.0f}" if value >= 100.0 else f"{value:.3g}"


def plot_energy(answer: Trace, ax: Axes | None = None) -> Axes:
    """Energy of balance and hairspring in µJ over the first beat, against time in ms."""
    ax = new_axes(ax)
    if not _moves(answer):
        return _at_rest(answer, ax)
    beat = _first_beat(answer)
    time = answer.columns["time_s"][beat] * _MS
    curves = (
        (answer.energy_j, "together", "black", "-"),
        (answer.columns["kinetic_energy_j"], "motion of the balance", BLUE, "--"),
        (answer.columns["hairspring_energy_j"], "wound into the hairspring", RED, "-."),
    )
    for values, word, colour, line in curves:
        ax.plot(time, values[beat] * _MICRO, color=colour, linestyle=line, linewidth=1.8, label=word)
    ax.set_ylim(0.0, 1.45 * max(float(answer.energy_j[beat].max()) * _MICRO, 1e-9))
    ax.set_xlabel("time, ms")
    ax.set_ylabel("energy, µJ")
    _across(ax, time)
    frame(ax)
    _key(ax, loc="upper center", ncols=2)
    title(ax, "Energy passes to and fro through one beat")
    return ax


def plot_energy_change(answer: Trace, ax: Axes | None = None) -> Axes:
    """What the energy of balance, hairspring and heavy point has changed by since the start, nJ, against time in ms."""
    ax = new_axes(ax)
    if not _moves(answer):
        return _at_rest(answer, ax)
    beat = _first_beat(answer)
    time = answer.columns["time_s"][beat] * _MS
    change = (answer.energy_j[beat] - answer.energy_j[0]) * _NANO
    _shade_first(answer, ax)
    ax.plot(time, change, color="black", linewidth=1.8)
    ax.axhline(0.0, color=GREY, linewidth=0.8)
    ax.set_xlabel("time, ms")
    ax.set_ylabel("energy since the start of the beat, nJ")
    _across(ax, time)
    low, high = float(change.min()), float(change.max())
    ax.set_ylim(low - 0.08 * (high - low + 1e-9), high + 0.42 * (high - low + 1e-9))
    frame(ax)
    _key(ax, loc="upper left")
    if kind_of(answer.movement.escapement).ALIKE:
        title(ax, "What friction takes all the time, the escapement gives back once a beat")
    else:
        title(ax, "What friction takes all the time, every second beat gives back")
    return ax


def _shade_first(answer: Trace, ax: Axes) -> None:
    """As ``_shade`` in time, for the first beat only."""
    time, named = answer.columns["time_s"] * _MS, set[str]()
    for part in answer.stretches():
        colour, _, _, word = _look(answer, part)
        if word == "free arc" or answer.beat[part.start] != answer.beat[0]:
            continue
        label = None if word in named else word
        named.add(word)
        ax.axvspan(time[part.start], time[part.stop - 1], color=colour, alpha=0.3, linewidth=0, label=label)


def plot_transient(answer: Transient, ax: Axes | None = None) -> Axes:
    """Swing in degrees against time in s, with the knocks, the knock limit and the settled amplitude."""
    ax = new_axes(ax)
    time, swing = answer.time_s, answer.swing_deg
    ax.plot(time, swing, color=BLUE, linewidth=1.8, marker="." if len(time) < 40 else "", label="swing")
    if answer.knocked.any():
        ax.plot(
            time[answer.knocked], swing[answer.knocked], color=RED, marker="v", linestyle="none", markersize=7,
            label=beyond(answer.movement),
        )  # fmt: skip
    shown = [*swing, answer.settled_deg] if np.isfinite(answer.settled_deg) else [*swing]
    top, low = float(np.nanmax([*shown, 30.0])), float(np.nanmin(shown))
    # what stays high is shown near, not above two thirds of nothing
    low = low - 0.25 * (top - low) - 0.5 if low > 0.5 * top else 0.0
    if answer.lost.any():
        ax.plot(
            time[answer.lost], np.full(int(answer.lost.sum()), low + 0.03 * (top - low)), color=PINK, marker="|",
            linestyle="none", markersize=9, label="impulse lost",
        )  # fmt: skip
    if np.isfinite(answer.settled_deg):
        ax.axhline(answer.settled_deg, color=GREY, linestyle="--", linewidth=1.2)
        above = swing[-1] < answer.settled_deg
        ax.annotate(
            f"settles at {answer.settled_deg:.1f} deg", (0.995, answer.settled_deg), (0, 3 if above else -4),
            xycoords=ax.get_yaxis_transform(), textcoords="offset points", ha="right",
            va="bottom" if above else "top", color=GREY, fontsize=9,
        )  # fmt: skip
    ax.set_ylim(low, top + 0.12 * (top - low))
    ax.set_xlim(0.0, max(float(time[-1]), 1e-3))
    ax.set_xlabel("time, s")
    ax.set_ylabel("swing, deg")
    frame(ax)
    if answer.knocked.any() or answer.lost.any():
        _key(ax, loc="center right")
    words = f"from {answer.start_deg:g} deg, {place_and_hour(answer.setting)}"
    titled(ax, answer, f"swing in time {words}")
    return ax


def trace_figure(answer: Trace) -> Figure:
    """The teaching sheet: angle in time, the lift, speed against angle, torques, energy, and what it changes by."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(13.0, 13.5), layout="constrained")
    FigureCanvasAgg(figure)
    panels = figure.subplots(3, 2)
    draw = (plot_trace, plot_lift, plot_phase_portrait, plot_torque, plot_energy, plot_energy_change)
    for ax, one in zip(panels.flat, draw, strict=True):
        one(answer, ax=ax)
    return figure
