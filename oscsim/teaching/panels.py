"""Panels of the lesson: a few choices, and for each combination the curves or numbers that the engine gives.

A panel is data. The page draws every one of them with the same script, so a new panel is a function here and nothing
else.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

import numpy as np

from oscsim.answers.breathing import breathing
from oscsim.answers.hairspring import DRAWN, hairspring
from oscsim.answers.isochronism import isochronism
from oscsim.answers.measures import LIMIT_DEG, MEASURES, Stack, measured
from oscsim.answers.rundown import rundown
from oscsim.answers.trace import trace
from oscsim.arrays import Array
from oscsim.condition import AS_DESIGNED
from oscsim.errors import InputError
from oscsim.files import load
from oscsim.movement import Movement
from oscsim.parts.balance import REFERENCE_C
from oscsim.setting import Setting
from oscsim.stack import varied
from oscsim.teaching.detent_motion import DETENT
from oscsim.teaching.drawn_coil import USUAL
from oscsim.use.days import days
from oscsim.use.stretches import WOUND

#: Points of a coil as it is drawn.
_COIL_POINTS = 400
_SWINGS = tuple(float(a) for a in range(130, 321, 10))
_BY_CHOICE = (
    "amplitude_flat",
    "amplitude_vertical",
    "amplitude_vertical_24h",
    "years_to_180",
    "lock_energy",
    "friction_work",
    "escape_torque",
    "strip_stress",
)


@dataclass(frozen=True, kw_only=True)
class Curve:
    """A line: name, and x and y; a gap where there is no number. kind: "now", "other", "third" or "ghost"."""

    name: str
    x: Array | Sequence[float]
    y: Array | Sequence[float]
    kind: str = "now"


@dataclass(frozen=True, kw_only=True)
class Variant:
    """What one combination of choices shows: a sentence, and curves, a table or drawings beside it; axes of its own
    where they are not the panel's."""

    words: str
    across: str = ""
    up: str = ""
    curves: tuple[Curve, ...] = ()
    table: tuple[tuple[str, ...], ...] = ()
    drawings: tuple[Curve, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Panel:
    """A panel: choices (label, options, which comes first), axes, heads of its table, a variant for every combination,
    the last choice changing fastest."""

    key: str
    title: str
    lead: str
    choices: tuple[tuple[str, tuple[str, ...], int], ...]
    across: str = ""
    up: str = ""
    heads: tuple[str, ...] = ()
    variants: tuple[Variant, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Plain, numbers to what a picture shows."""
        return {
            "key": self.key,
            "title": self.title,
            "lead": self.lead,
            "choices": [
                {"label": label, "options": options, "first": first} for label, options, first in self.choices
            ],
            "heads": self.heads,
            "variants": [
                {
                    "words": one.words,
                    "across": one.across or self.across,
                    "up": one.up or self.up,
                    "curves": [_plain(curve, 1) for curve in one.curves],
                    "table": one.table,
                    "drawings": [_plain(curve, 2) for curve in one.drawings],
                }
                for one in self.variants
            ],
        }


def _plain(curve: Curve, digits: int) -> dict[str, Any]:
    def told(values: Array | Sequence[float]) -> list[float | None]:
        return [round(float(v), digits) if math.isfinite(v) else None for v in values]

    return {
        "name": curve.name,
        "kind": curve.kind,
        "x": [round(float(v), digits + 1) for v in curve.x],
        "y": told(curve.y),
    }


def panels(movement: Movement) -> tuple[Panel, ...]:
    """Every panel that this design can have; one that it cannot have (no range, no such part) is left out."""
    made: tuple[Callable[[Movement], Panel], ...] = (_choice, _day, _coil, _breathing, _escapements)
    found = []
    for make in made:
        try:
            found.append(make(movement))
        except InputError:
            continue
    return tuple(found)


def _choice(movement: Movement) -> Panel:
    """Two makers of one movement: chase amplitude or chase years, both faces of each choice."""
    strip, lock, inertia = (0.75, 1.0, 1.25), (-0.8, 0.0, 0.8), (0.8, 1.0, 1.25)
    spring, e, b = movement.mainspring, movement.escapement, movement.balance
    rows = list(product(strip, lock, inertia))
    pull, deeper, heavier = np.array(rows).T
    changes = {
        "mainspring.height_mm": spring.height_mm * pull,
        "escapement.lock_deg": np.maximum(e.lock_deg + deeper, 0.3),
        "balance.inertia_mg_cm2": b.inertia_mg_cm2 * heavier,
    }
    if spring.slip_torque_n_mm is not None:
        changes["mainspring.slip_torque_n_mm"] = spring.slip_torque_n_mm * pull
    stack = Stack(varied(movement, changes), REFERENCE_C, AS_DESIGNED)
    values = measured(stack, list(_BY_CHOICE))
    own = len(rows) // 2
    variants = []
    for i in range(len(rows)):
        table = tuple(
            (MEASURES[name].words, *(_number(name, values[name][j]) for j in (own, i)), MEASURES[name].unit)
            for name in _BY_CHOICE
        )
        variants.append(Variant(words=_weighed(values, own, i), table=table))
    return Panel(
        key="choice",
        title="Two makers, one movement",
        lead="One maker chases amplitude, the other years. Choose as they would, and look at both faces.",
        choices=(
            ("Mainspring", ("a quarter softer", "as designed", "a quarter stronger"), 1),
            ("Lock", ("shallower by 0.8°", "as designed", "deeper by 0.8°"), 1),
            ("Balance", ("a fifth lighter", "as designed", "a quarter heavier"), 1),
        ),
        heads=("", "design", "your choice", "unit"),
        variants=tuple(variants),
    )


def _number(name: str, value: float) -> str:
    if not math.isfinite(value):
        return "never" if name.startswith("years") else "stops"
    return f"{value:.0f}" if abs(value) >= 100.0 else f"{value:.3g}"


def _weighed(values: dict[str, Array], own: int, i: int) -> str:
    swing, lock = values["amplitude_vertical"], values["lock_energy"]
    if not math.isfinite(swing[i]):
        return "So made it would not run."
    if i == own:
        return "This is the design as given."
    degrees = swing[i] - swing[own]
    said = [f"{abs(degrees):.0f}° {'more' if degrees >= 0.0 else 'less'} with 12 up, fully wound"]
    years = values["years_to_180"]
    if math.isfinite(years[i]) and math.isfinite(years[own]):
        more = years[i] - years[own]
        said.append(
            f"{abs(more):.1f} years {'more' if more >= 0.0 else 'fewer'} until it shows {LIMIT_DEG:.0f}° then"
        )
    share = 100.0 * (lock[i] / lock[own] - 1.0)
    said.append(f"a lock that takes {abs(share):.0f} % {'more' if share >= 0.0 else 'less'} of a jolt")
    rubbed = 100.0 * (values["friction_work"][i] / values["friction_work"][own] - 1.0)
    said.append(f"{abs(rubbed):.0f} % {'more' if rubbed >= 0.0 else 'less'} rubbed away in a year")
    return "Against the design: " + ", ".join(said) + "."


def _day(movement: Movement) -> Panel:
    """A week on the wrist beside the bare run-down."""
    hours, lives = (4.0, 9.0, 14.0), tuple(WOUND)
    bare = rundown(movement, Setting(positions=("CH",)))
    left = Curve(
        name="left alone, dial up", x=bare.hours / 24.0, y=bare.points.amplitude_deg[0], kind="ghost"
    )
    variants = []
    by_hand = movement.winding is None or movement.winding.kind == "hand"
    for worn, life in product(hours, ("usual",) if by_hand else lives):
        week = days(movement, count=7, hours_worn=worn, life=life)
        line = Curve(name="with its wearer", x=week.hour / 24.0, y=week.amplitude_deg)
        stands = f"it stands {100 * week.stopped_share:.0f} % of the time" if not week.stays_wound else ""
        least = f"in the morning it shows at least {week.least_morning_deg:.0f}°"
        even = (
            ""
            if week.break_even_hours is None
            else f" It breaks even at {week.break_even_hours:.1f} h a day."
        )
        variants.append(
            Variant(words=f"Worn {worn:g} h a day, {stands or least}.{even}", curves=(line, left))
        )
    choices: tuple[tuple[str, tuple[str, ...], int], ...] = (
        ("Worn", tuple(f"{one:g} h a day" for one in hours), 1),
    )
    if not by_hand:
        choices += (("Wearer's life", lives, 1),)
    wound = "wound by hand when it is put on" if by_hand else "wound by wearing"
    return Panel(
        key="day",
        title="A week on the wrist",
        lead=f"The same watch, {wound}, beside its bare run-down: a watch that winds quickly "
        f"seldom shows its steep half.",
        choices=choices,
        across="days",
        up="amplitude, deg",
        variants=tuple(variants),
    )


def _coil(movement: Movement) -> Panel:
    """Whole, half and quarter turns, and an outer curve: the coil breathes to one side and the rate follows."""
    own = movement.hairspring or USUAL
    whole = max(6.0, float(math.floor(own.turns)))
    flat = replace(own, outer_curve="none", stud_offset_um=(0.0, 0.0), stud_turn_deg=0.0)
    made = (
        ("whole turns", replace(flat, turns=whole)),
        ("half a turn more", replace(flat, turns=whole + 0.5)),
        ("a quarter turn more", replace(flat, turns=whole + 0.25)),
        ("whole turns, outer curve", replace(flat, turns=whole, outer_curve="phillips")),
    )
    plain = movement.with_({"balance.cubic_stiffness": 0.0})
    variants = []
    for name, spring in made:
        found = hairspring(replace(plain, hairspring=spring), amplitudes_deg=_SWINGS)
        rates = found.watch_rate_s_per_day
        line = Curve(name="rate of the shape, s/day", x=_SWINGS, y=rates)
        thin = max(1, found.coil_mm.shape[1] // _COIL_POINTS)
        coils = tuple(
            Curve(name=f"{angle:+.0f}°" if angle else "at rest", x=path[::thin, 1], y=path[::thin, 0])
            for angle, path in zip(DRAWN, found.coil_mm, strict=True)
        )
        low, high = (float(np.interp(a, _SWINGS, rates)) for a in (220.0, 280.0))
        variants.append(
            Variant(
                words=f"With {name} the rate changes by {high - low:+.1f} s/day from 220° to 280°; "
                "the lever alone gains 2 to 5 on that way.",
                curves=(line,),
                drawings=coils,
            )
        )
    return Panel(
        key="coil",
        title="The coil breathes",
        lead="Seen from the dial, drawn from the solution: at rest and wound and unwound by "
        "270°. A flat coil goes to one "
        "side, and which one depends on where it is pinned.",
        choices=(("Pinned at", tuple(name for name, _ in made), 0),),
        across="amplitude, deg",
        up="rate less that at 270°, s/day",
        variants=tuple(variants),
    )


def _breathing(movement: Movement) -> Panel:
    """A bent pivot is chosen, and the breathing seen."""
    wheels = ("none", "second hand", "fourth", "third", "centre")
    variants = []
    for wheel in wheels:
        faults = {} if wheel == "none" else {wheel: 3.0}
        found = breathing(movement, Setting(), faults_percent=faults, duration_s=900.0, every_s=5.0)
        line = Curve(name="amplitude", x=found.time_s / 60.0, y=found.clean_deg)
        part = next((one for one in found.parts if one.name == wheel), None)
        words = (
            "Sound wheels: only the teeth are felt."
            if part is None
            else f"3 % of torque at the {wheel}: {part.swing_deg:.1f}° up and down every "
            f"{_clock(part.period_s)}. The period "
            "names the wheel."
        )
        variants.append(Variant(words=words, curves=(line,)))
    return Panel(
        key="breathing",
        title="Which wheel is it?",
        lead="Bend a pivot, or let a hand rub, and watch the amplitude for a quarter of an "
        "hour, dial up, fully wound.",
        choices=(("Fault", ("none", *(f"{wheel}, 3 % of torque" for wheel in wheels[1:])), 2),),
        across="minutes",
        up="amplitude, deg",
        variants=tuple(variants),
    )


def _clock(seconds: float) -> str:
    return f"{seconds:.3g} s" if seconds < 120.0 else f"{seconds / 60.0:.3g} min"


def _escapements(movement: Movement) -> Panel:
    """Lever and detent side by side: escapement error over amplitude, and their "
    "torque on the balance over a period."""
    detent = load(DETENT)
    errors, torques = [], []
    for name, one, kind in ((movement.name, movement, "now"), (f"{detent.name}, detent", detent, "other")):
        found = isochronism(one, amplitudes_deg=_SWINGS)
        errors.append(Curve(name=name, x=_SWINGS, y=found.shares["escapement"][0], kind=kind))
        columns = trace(one, Setting(), samples=24).columns
        torque = 1e9 * np.asarray(columns["escapement_torque_n_m"], float)
        time = np.asarray(columns["time_s"], float)
        torques.append(
            Curve(name=name, x=time / time[-1], y=100.0 * torque / np.nanmax(np.abs(torque)), kind=kind)
        )
    change = [float(np.interp(280.0, c.x, c.y) - np.interp(230.0, c.x, c.y)) for c in errors]
    return Panel(
        key="escapements",
        title="Lever and detent",
        lead="The lever works twice a period, the detent gives one impulse straight from the "
        "wheel and lets the other beat "
        "pass. No oil on the impulse, and little error; but it does not start by itself, "
        "and a sharp turn may trip it.",
        choices=(("Look at", ("escapement error", "torque through a period"), 0),),
        variants=(
            Variant(
                across="amplitude, deg",
                up="escapement error, s/day",
                words=f"Escapement error, s/day, over amplitude: from 230° to 280° the lever's changes "
                f"by {change[0]:+.1f}, "
                f"the detent's by {change[1]:+.1f} s/day.",
                curves=tuple(errors),
            ),
            Variant(
                across="share of a period",
                up="torque, per cent of the greatest",
                words="Torque of the escapement on the balance in per cent of its greatest, through "
                "one period: above nought "
                "it drives to the right.",
                curves=tuple(torques),
            ),
        ),
    )
