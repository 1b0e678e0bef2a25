"""How points of a setting are named in tables and pictures, and the steps a bench would take."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from oscsim.arrays import Array
from oscsim.movement import Movement
from oscsim.show.style import GREY, headline, title
from oscsim.show.tables import around, beyond, tilted, when
from oscsim.tables import quantity_of
from oscsim.typical.numbers import NUMBERS

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from oscsim.answers.points import SettledPoints
    from oscsim.answers.result import InSetting
    from oscsim.setting import Setting

#: Size of a picture's title, as ``title`` sets it, and what is kept free beside it, points: also for a panel below
#: whose labels are somewhat wider.
_SIZE, _FREE = 11.0, 24.0
#: Words of a number longer than this are cut at their first comma.
_LONG = 48
#: No title is broken more narrowly than this, points.
_LEAST = 120.0


def number_words(name: str) -> str:
    """A number of a design in words, for pictures: 'lock, as a lever angle'; of an arbor, with the arbor."""
    info = quantity_of(Movement, name)
    if info is None:
        return name
    said = info.meaning.split(";")[0].split(":")[0]
    said = said if len(said) <= _LONG else said.split(",")[0]
    part = name.split(".")[0]
    said = said.replace("the strip", f"the {part}") if part.endswith("spring") else said
    arbor = name.split(".")[2] if name.startswith("train.arbors.") else ""
    return f"{said}, {arbor} arbor" if arbor else said


def spoken(name: str) -> str:
    """A number of a design in the trade's words, for sentences: 'the lock', 'the thickness of the mainspring'."""
    own = NUMBERS.get(name)
    if own is not None and own.said:
        return f"the {own.said}"
    said, _, arbor = number_words(name).partition(",")
    of = f" of the {name.split('.')[2]} arbor" if arbor and name.startswith("train.arbors.") else ""
    return name if said == name else f"the {said}{of}"


def with_unit(value: float, unit: str) -> str:
    return f"{value:g} {unit}".rstrip()


def point_columns(setting: Setting, hours: Array) -> list[str]:
    """Short names of all points of ``hours`` (positions, hours), in order: 'CH 24 h'."""
    return [
        f"{symbol} {hour:.4g} h"
        for symbol, line in zip(setting.positions, hours, strict=True)
        for hour in line
    ]


def knock_line(ax: Axes, movement: Movement, points: SettledPoints) -> None:
    """Where the swing gets too far, where any of ``points`` does: a line across and above it what happens."""
    if not points.too_far.any():
        return
    limit = float(np.nanmin(points.knock_angle_deg))
    ax.axhline(limit, color=GREY, linewidth=1.0)
    ax.text(
        0.99, limit, f"{beyond(movement)} above", transform=ax.get_yaxis_transform(), ha="right", va="bottom",
        fontsize=9, color=GREY,
    )  # fmt: skip


def titled(ax: Axes, answer: InSetting, words: str) -> None:
    """The picture's title: the design, ``words``, and on lines of its own what is not as usual around it."""
    headed(ax, answer.setting, f"{headline(answer.design)}: {words}")


def headed(ax: Axes, setting: Setting, words: str) -> None:
    """The picture's title: ``words``, and on lines of its own what is not as usual around it."""
    told = around(setting) if tilted(setting.tilt_deg) in words else circumstances(setting)
    broken_title(ax, f"{words}\n{told.lstrip(',; ')}".rstrip())


def broken_title(ax: Axes, words: str) -> None:
    """The picture's title, its lines broken so that none is cut off; set it last, when the axes have their labels."""
    room = _room(ax)
    title(ax, "\n".join(line for words_line in words.split("\n") for line in _broken(words_line, room)))


def _room(ax: Axes) -> float:
    """How wide a title may be, points: from the axes' left edge to the right end of their part of the figure."""
    figure, spec = ax.figure, ax.get_subplotspec()
    if spec is None:
        room = figure.bbox.x1 - ax.bbox.x0
    elif figure.get_layout_engine() is None:
        # the axes and the usual gap beside them
        room = min(1.13 * ax.bbox.width, figure.bbox.x1 - ax.bbox.x0)
    else:  # the layout is still to come: it puts the labels at the left end
        labels = ax.yaxis.get_tightbbox(None)
        room = figure.bbox.width * len(spec.colspan) / spec.get_gridspec().ncols
        room -= ax.bbox.x0 - labels.x0 if labels is not None else 0.0
    return max(float(room) * 72.0 / figure.dpi - _FREE, _LEAST)


def _broken(line: str, room: float) -> list[str]:
    """A line of a title broken between words, and within a word only where it fills a line alone."""
    lines = [""]
    for word in line.split(" "):
        longer = f"{lines[-1]} {word}" if lines[-1] else word
        if _wide(longer) <= room:
            lines[-1] = longer
            continue
        if lines[-1]:
            lines.append("")
        for letter in word:
            if lines[-1] and _wide(lines[-1] + letter) > room:
                lines.append("")
            lines[-1] += letter
    return lines


def _wide(text: str) -> float:
    """How wide a title's text is, points."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    with warnings.catch_warnings():  # a letter that the font lacks is drawn as a box
        warnings.filterwarnings("ignore", "Glyph .* missing", UserWarning)
        wide, _, _ = text_to_path.get_text_width_height_descent(text, FontProperties(size=_SIZE), False)
    return float(wide)


def circumstances(setting: Setting) -> str:
    """What a heading says of tilt, temperature and condition: nothing of what is as usual."""
    return tilted(setting.tilt_deg) + around(setting)


def point_in_words(setting: Setting, hours: Array, point: int = 0) -> str:
    """One point in words: 'dial up, after 24 h'."""
    i, j = np.unravel_index(point, hours.shape)
    return f"{setting.places[i].words}{tilted(setting.tilt_deg)}, {when(float(hours[i, j]))}"


def places_in_words(setting: Setting, hours: Array, group: Sequence[int]) -> str:
    """Points of ``hours`` (positions, hours) in words; all positions at one hour, and all points, shortly."""
    positions, columns = hours.shape
    if positions * columns > 1 and len(group) == positions * columns:
        return "everywhere"
    told = []
    for j in range(columns):
        here = [n for n in group if n % columns == j]
        if positions > 1 and len(here) == positions:
            told.append(f"in every position, {when(float(hours[0, j]))}")
        else:
            told += [point_in_words(setting, hours, n) for n in here]
    return "; ".join(told)
