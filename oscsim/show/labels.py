"""How points of a setting are named in tables and pictures, and the steps a bench would take."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np

from oscsim.arrays import Array
from oscsim.movement import Movement
from oscsim.show.style import headline, title
from oscsim.show.tables import around, tilted, when
from oscsim.tables import quantity_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from oscsim.answers.result import InSetting
    from oscsim.setting import Setting

#: Letters on a line of a picture's title.
_TITLE = 80
#: Steps a bench would take, by dotted name; others by their unit below.
_BY_NAME = {
    "balance.beats_per_hour": 100.0,
    "balance.mass_mg": 1.0,
    "balance.pivot_radius_mm": 0.001,
    "balance.viscous_q": 10.0,
    "escapement.fork_ratio": 0.001,
    "escapement.teeth_embraced": 0.1,
    "escapement.lever_inertia_mg_cm2": 0.01,
    "escapement.wheel_inertia_mg_cm2": 0.01,
    "escapement.horn_clearance_deg": 1.0,
    "escapement.notch_shake_deg": 0.1,
    "escapement.run_deg": 0.1,
    "train.ratio": 10.0,
    "mainspring.height_mm": 0.1,
    "mainspring.thickness_mm": 0.01,
    "mainspring.length_mm": 10.0,
    "mainspring.tail_turns": 0.1,
    "mainspring.slip_torque_n_mm": 0.1,
    "barrel.inner_diameter_mm": 0.1,
    "barrel.arbor_diameter_mm": 0.1,
}
_BY_UNIT = {
    "mm": 0.01,
    "GPa": 10.0,
    "MPa": 100.0,
    "1/m": 10.0,
    "1/rad²": 1e-5,
    "1/rad": 1e-5,
    "": 0.01,
}


def bench_step(name: str) -> float:
    """A change of the number at a dotted name that a watchmaker can picture, in its unit."""
    info = quantity_of(Movement, name)
    if info is not None and info.whole:
        return 1.0
    return _BY_NAME.get(name, _BY_UNIT.get(info.unit if info is not None else "", 1.0))


def with_unit(value: float, unit: str) -> str:
    return f"{value:g} {unit}".rstrip()


def point_columns(setting: Setting, hours: Array) -> list[str]:
    """Short names of all points of ``hours`` (positions, hours), in order: 'CH 24 h'."""
    return [
        f"{symbol} {hour:.4g} h" for symbol, line in zip(setting.symbols, hours, strict=True) for hour in line
    ]


def titled(ax: Axes, answer: InSetting, words: str) -> None:
    """The picture's title: the design, ``words``, and on lines of its own what is not as usual around it."""
    told = (
        around(answer.setting) if tilted(answer.setting.tilt_deg) in words else circumstances(answer.setting)
    )
    about = textwrap.wrap(told.lstrip(",; "), _TITLE)
    title(ax, "\n".join([f"{headline(answer.design)}: {words}", *about]))


def circumstances(setting: Setting) -> str:
    """What a heading says of tilt, temperature and condition: nothing of what is as usual."""
    return tilted(setting.tilt_deg) + around(setting)


def point_in_words(setting: Setting, hours: Array, point: int = 0) -> str:
    """One point in words: 'dial up, after 24 h'."""
    i, j = np.unravel_index(point, hours.shape)
    return f"{setting.places[i].words}{tilted(setting.tilt_deg)}, {when(float(hours[i, j]))}"
