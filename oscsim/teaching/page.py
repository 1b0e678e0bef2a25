"""What should apprentices see? A lesson: sliders on a design, and tables from which a page answers on its own."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from oscsim.answers.hairspring import HairspringShape, hairspring
from oscsim.answers.result import OneMovement
from oscsim.answers.settle import settle
from oscsim.arrays import Array
from oscsim.errors import InputError
from oscsim.escapements.kinds import needs_lever
from oscsim.files import takes_design
from oscsim.movement import Movement
from oscsim.operating import hours_of_wind
from oscsim.parts.balance import REFERENCE_C, angular_frequency
from oscsim.parts.escapement import fork_ratio
from oscsim.parts.mainspring import barrel_torque, full_turns
from oscsim.parts.train import JewelledHoles, efficiency, jewelled_holes
from oscsim.teaching.detent_motion import DetentMotion, detent_motion
from oscsim.teaching.drawn_coil import DrawnCoil, drawn_coil
from oscsim.teaching.page_motion import Motion, motion
from oscsim.teaching.page_tables import Span, Tables, tables
from oscsim.teaching.panels import Panel, panels
from oscsim.teaching.words import Words
from oscsim.units import G0, MG_CM2, UG_CM
from oscsim.whole import write_whole

#: Want of poise that the slider reaches, as its torque over the hairspring's stiffness: at 150 deg in a vertical
#: position some 100 s/day, more than a bench meets.
_POISE = 3e-3
#: What the sliders reach, tried in this order: share of the balance's inertia, lock below and above, deg, friction.
_REACHES = (((60, 160), (-1.2, 1.8), 300), ((80, 125), (-0.4, 0.6), 150))
_DRIVE = (40, 130)
#: Jewels that make a difference by count: seven at the balance, then two holes an arbor up to the barrel.
_FEWEST, _MOST = 7, 19
#: Points of the mainspring's table; crowded where the torque fades at the end of the run.
_TURNS = 601
#: Swings at which the hairspring's weight and side thrust are told, deg.
_SPRING_SWINGS = tuple(float(a) for a in range(40, 401, 10))


@dataclass(frozen=True)
class Slider:
    """One slider: ``value`` is where the design stands; ``base`` is what 100 (per cent) or 0 (added) stands for, in
    ``unit``; the value on the design is base · value/100, base + value, or value itself, by ``kind``."""

    key: str
    kind: str
    low: float
    high: float
    step: float
    value: float
    base: float
    unit: str


@dataclass(frozen=True, repr=False, kw_only=True)
class Page(OneMovement):
    """Sliders and tables for a teaching page of one design, in a ``language`` (en, de, fr).

    torque_by_wind (n,): barrel's torque over that at full wind, at turns wound full_turns · (i/(n - 1))²; jewel_drive:
    what the train passes on by number of jewels, over the design's; given_j: energy of a beat at the escape wheel;
    spring: what a hairspring drawn by its shape does by position.
    """

    language: str
    sliders: tuple[Slider, ...]
    tables: Tables
    motion: Motion
    coil: DrawnCoil
    detent: DetentMotion
    torque_by_wind: Array
    full_turns: float
    hours_per_turn: float
    jewel_drive: dict[int, float]
    train_efficiency: float
    given_j: float
    spring: HairspringShape | None
    panels: tuple[Panel, ...]

    def settings(self) -> dict[str, Any]:
        """The tables hold at the design's own temperature and in its own condition."""
        return {"temperature_c": REFERENCE_C, "language": self.language}

    def rows(self) -> list[dict[str, Any]]:
        return [
            {"slider": s.key, "low": s.low, "high": s.high, "step": s.step, "value": s.value, "unit": s.unit}
            for s in self.sliders
        ]

    def body(self) -> dict[str, Any]:
        t = self.tables
        return {
            "sliders": self.rows(),
            "compared_points": t.compared,
            "amplitude_error_deg": t.amplitude_error_deg,
            "rate_error_s_per_day": t.rate_error_s_per_day,
        }

    def html(self) -> str:
        """The page: one self-contained HTML document."""
        return self.file_text()

    def save(self, path: str | Path) -> int:
        """Write the page, whole or not at all; returns its size in bytes. Raises InputError."""
        content = self.html().encode()
        write_whole(Path(path), content)
        return len(content)


@takes_design
def page(
    movement: Movement, *, language: str = "en", progress: Callable[[str, float], None] | None = None
) -> Page:
    """Tables for a teaching page: mainspring torque, inertia, lock, jewels, friction, unbalance and heavy point move.

    ``language`` of the page: en, de or fr (the design's story stays as its file has it).
    ``progress`` is called with what is being computed and the share done. The error of the tables against the engine
    is measured at random points and kept with them. Raises InputError when the design does not run over a range
    wide enough to teach from.
    """
    needs_lever(movement.escapement, "the teaching page")
    say = Words(language)
    tell = progress or (lambda _what, _share: None)
    spring, barrel = movement.mainspring, movement.barrel
    full = float(full_turns(spring, barrel))
    at_full = float(barrel_torque(spring, barrel, full))
    if not at_full > 0.0:
        raise InputError(f"{movement.name}: the mainspring has no torque at full wind, nothing to teach from")
    if not math.isfinite(settle(movement).points.amplitude_deg[0, 0]):
        raise _no_range(movement)
    for reach in _REACHES:
        sliders = _sliders(movement, *reach)
        found = tables(movement, *_spans(movement, sliders), tell)
        if found is not None:
            break
    else:
        raise _no_range(movement)
    tell("motion within the beat", 0.95)
    lock = next(s for s in sliders if s.key == "lock")
    moved = motion(movement, tuple(lock.base + v for v in (lock.low, 0.0, lock.high)))
    turns = full * np.linspace(0.0, 1.0, _TURNS) ** 2
    own = float(efficiency(movement.train))
    tell("panels", 0.97)
    shown = panels(movement, say)
    tell("done", 1.0)
    return Page(
        movement=movement,
        language=language,
        sliders=sliders,
        tables=found,
        motion=moved,
        coil=drawn_coil(movement),
        detent=detent_motion(),
        torque_by_wind=np.asarray(barrel_torque(spring, barrel, turns)) / at_full,
        full_turns=full,
        hours_per_turn=float(hours_of_wind(movement, 1.0)),
        jewel_drive={count: value / own for count, value in _by_jewels(movement).items()},
        train_efficiency=own,
        panels=shown,
        spring=None if movement.hairspring is None else hairspring(movement, amplitudes_deg=_SPRING_SWINGS),
        given_j=at_full * own / movement.train.ratio * math.pi / movement.escapement.teeth,
    )


def _no_range(movement: Movement) -> InputError:
    return InputError(
        f"{movement.name}: impulses are lost or no torque keeps up the swing near this design, so there is no "
        "range to teach from; oscsim settle and oscsim band show what it does"
    )


def _own_jewels(movement: Movement) -> int:
    """The design's jewels as a count; holes named one by one are added to the seven at the balance."""
    jewels = movement.train.jewels
    if isinstance(jewels, JewelledHoles):
        names = ("barrel", "centre", "third", "fourth", "escape", "pallet")
        return _FEWEST + int(sum(float(jewelled_holes(movement.train, name)) for name in names))
    return jewels


def _by_jewels(movement: Movement) -> dict[int, float]:
    """Efficiency of the train by number of jewels; at the design's own number its own holes."""
    own = _own_jewels(movement)
    counts = range(min(_FEWEST, own), max(_MOST, own) + 1)
    found = {count: float(efficiency(replace(movement.train, jewels=count))) for count in counts}
    return found | {own: float(efficiency(movement.train))}


def _sliders(
    movement: Movement, inertia: tuple[int, int], lock: tuple[float, float], most_friction: int
) -> tuple[Slider, ...]:
    b, e = movement.balance, movement.escapement
    jewels = list(_by_jewels(movement))
    friction = b.pivot_friction or 0.1
    stiffness = b.inertia_mg_cm2 * MG_CM2 * float(angular_frequency(b)) ** 2
    # the unbalance goes in steps of which the design's own is a whole number
    wanted = max(_POISE * stiffness / (G0 * UG_CM), 1.5 * b.unbalance_ug_cm)
    step = b.unbalance_ug_cm / 20.0 if b.unbalance_ug_cm > wanted / 200.0 else wanted / 80.0
    own = b.unbalance_ug_cm if b.unbalance_ug_cm > wanted / 200.0 else 0.0
    heavy = b.heavy_point_deg % 360.0
    low_lock, high_lock = _lock_range(movement, *lock)
    least = max(inertia[0], math.ceil(1.0 / b.inertia_mg_cm2))  # never below a hundredth mg·cm²
    most = min(inertia[1], math.floor(5e5 / b.inertia_mg_cm2))
    return (
        Slider("torque", "per cent", *_DRIVE, 1, 100, 100, "%"),
        Slider("inertia", "per cent", min(least, 100), max(most, 100), 1, 100, b.inertia_mg_cm2, "mg·cm²"),
        Slider("lock", "added", low_lock, high_lock, 0.1, 0, e.lock_deg, "deg"),
        Slider("jewels", "itself", jewels[0], jewels[-1], 1, _own_jewels(movement), 0, ""),
        Slider(
            "friction", "per cent", 0, max(100, min(most_friction, math.floor(100.0 / friction))), 5,
            100 if b.pivot_friction else 0, friction, "",
        ),
        Slider("unbalance", "itself", 0, step * math.ceil(wanted / step), step, own, 0, "µg·cm"),
        Slider("heavy", "itself", heavy % 1.0, heavy % 1.0 + 359, 1, heavy, 0, "deg"),
    )  # fmt: skip


def _lock_range(movement: Movement, below: float, above: float) -> tuple[float, float]:
    """What may be added to the lock, in tenths of a degree, with this fork and beat."""
    own = movement.escapement.lock_deg
    low = math.ceil(10.0 * max(below, -0.6 * own)) / 10.0
    high = math.floor(10.0 * min(above, 10.0 - own)) / 10.0
    fork = {"escapement.fork_ratio": float(fork_ratio(movement.escapement))}
    while low < 0.0:
        try:
            movement.with_({"escapement.lock_deg": own + low, **fork})
            break
        except InputError:
            low = round(low + 0.1, 1)
    return min(low, 0.0), max(high, 0.0)


def _spans(movement: Movement, sliders: tuple[Slider, ...]) -> tuple[Span, Span, Span, float]:
    """What inertia, lock and the pivots' friction moment (mN·µm per mN, so µm: µ times radius) range over, and the
    largest unbalance."""
    by = {s.key: s for s in sliders}
    inertia, lock, friction = by["inertia"], by["lock"], by["friction"]
    b = movement.balance
    largest = max(b.pivot_radius_mm * 1e3, b.end_friction_radius_um)
    return (
        (inertia.base * inertia.low / 100.0, inertia.base * inertia.high / 100.0),
        (lock.base + lock.low, lock.base + lock.high),
        (0.0, friction.base * friction.high / 100.0 * largest),
        by["unbalance"].high,
    )
