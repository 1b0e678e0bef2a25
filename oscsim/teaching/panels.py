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
from oscsim.answers.isochronism import CEILING, isochronism
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
from oscsim.teaching.drawn_coil import USUAL, coil_words
from oscsim.teaching.words import Words
from oscsim.use.days import days
from oscsim.use.stretches import LIVES, ON_WRIST, WOUND
from oscsim.use.wound import curves_of

#: Points of a coil as it is drawn.
_COIL_POINTS = 400
_SWINGS = tuple(float(a) for a in range(130, 321, 10))
#: A curve that goes over more is told to a tenth.
_TENS = 30.0
#: What counts as the same in a choice, as a share.
_SAME = 0.005
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
class Choice:
    """A choice: its label, its options, which comes first; ``ordered`` options stand on a slider."""

    label: str
    options: tuple[str, ...]
    first: int = 0
    ordered: bool = False


@dataclass(frozen=True, kw_only=True)
class Panel:
    """A panel: choices, axes, heads of its table, a variant for every combination, the last choice changing fastest."""

    key: str
    title: str
    lead: str
    choices: tuple[Choice, ...]
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
            "choices": [vars(choice) for choice in self.choices],
            "heads": self.heads,
            "variants": [
                {
                    "words": one.words,
                    "across": one.across or self.across,
                    "up": one.up or self.up,
                    "curves": [_plain(curve, _digits(curve)) for curve in one.curves],
                    "table": one.table,
                    "drawings": [_plain(curve, 2) for curve in one.drawings],
                }
                for one in self.variants
            ],
        }


def _digits(curve: Curve) -> int:
    """Digits behind the point that show no steps: one where it goes over tens, two where it does not."""
    y = np.asarray(curve.y, float)
    return 1 if np.isfinite(y).any() and np.nanmax(y) - np.nanmin(y) > _TENS else 2


def _plain(curve: Curve, digits: int) -> dict[str, Any]:
    def told(values: Array | Sequence[float]) -> list[float | None]:
        return [round(float(v), digits) if math.isfinite(v) else None for v in values]

    return {
        "name": curve.name,
        "kind": curve.kind,
        "x": [round(float(v), digits + 1) for v in curve.x],
        "y": told(curve.y),
    }


def panels(movement: Movement, say: Words) -> tuple[Panel, ...]:
    """Every panel that this design can have, in the words of ``say``; one that it cannot have (no range, no such part)
    is left out."""
    made: tuple[Callable[[Movement, Words], Panel], ...] = (_choice, _day, _coil, _breathing, _escapements)
    found = []
    for make in made:
        try:
            found.append(make(movement, say))
        except InputError:
            continue
    return tuple(found)


def _choice(movement: Movement, say: Words) -> Panel:
    """Two makers of one movement: chase amplitude or chase years, both faces of each choice."""
    strip, lock, inertia = (0.75, 0.85, 1.0, 1.15, 1.25), (-0.8, -0.4, 0.0, 0.4, 0.8), (0.8, 1.0, 1.25)
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
    own = rows.index((1.0, 0.0, 1.0))
    variants = []
    for i in range(len(rows)):
        table = tuple(
            (
                say(f"measure_{name}"),
                *(_number(name, values[name][j], say) for j in (own, i)),
                say.texts.get(f"unit_{MEASURES[name].unit}", MEASURES[name].unit),
                _face(name, values[name][own], values[name][i], say),
            )
            for name in _BY_CHOICE
        )
        variants.append(Variant(words=_weighed(values, own, i, say), table=table))

    def by_lock(angle: float) -> str:
        told = say.number(f"{abs(angle):.1f}")
        way = "as_designed" if not angle else "choice_deeper" if angle > 0.0 else "choice_shallower"
        return say(way, angle=told)

    def by_share(key: str, share: float) -> str:
        return say("as_designed") if share == 1.0 else say(key, share=f"{100.0 * share:.0f}")

    return Panel(
        key="choice",
        title=say("choice_title"),
        lead=say("choice_lead"),
        choices=(
            Choice(label=say("choice_mainspring"), first=strip.index(1.0), ordered=True,
                   options=tuple(by_share("choice_strength", one) for one in strip)),
            Choice(label=say("choice_lock"), first=lock.index(0.0), ordered=True,
                   options=tuple(by_lock(one) for one in lock)),
            Choice(label=say("choice_balance"), first=inertia.index(1.0), ordered=True,
                   options=tuple(by_share("choice_inertia", one) for one in inertia)),
        ),
        heads=("", *(say(f"choice_{name}") for name in ("design", "yours", "unit", "face"))),
        variants=tuple(variants),
    )  # fmt: skip


def _number(name: str, value: float, say: Words) -> str:
    if not math.isfinite(value):
        return say("never" if name.startswith("years") else "state_stops")
    digits = ".0f" if abs(value) >= 100.0 else ".1f" if name.startswith("years") else ".3g"
    return say.number(f"{value:{digits}}")


def _face(name: str, own: float, value: float, say: Words) -> str:
    """Whether the choice is on the better side of the design's, by more than can be called the same."""
    if not (math.isfinite(own) and math.isfinite(value)) or abs(value - own) <= _SAME * abs(own):
        return ""
    return say("better" if (value > own) == (MEASURES[name].better == "higher") else "worse")


def _weighed(values: dict[str, Array], own: int, i: int, say: Words) -> str:
    swing, lock = values["amplitude_vertical"], values["lock_energy"]
    if not math.isfinite(swing[i]):
        return say("weighed_stops")
    if i == own:
        return say("weighed_own")

    def more(key: str, value: float) -> str:
        return f"{key}_{'more' if value >= 0.0 else 'less'}"

    degrees = swing[i] - swing[own]
    said = [say(more("weighed", degrees), degrees=f"{abs(degrees):.0f}")]
    years = values["years_to_180"]
    if math.isfinite(years[i]) and math.isfinite(years[own]):
        longer = years[i] - years[own]
        told = say.number(f"{abs(longer):.1f}")
        said.append(say(more("weighed_years", longer), years=told, limit=f"{LIMIT_DEG:.0f}"))
    for key, of in (("weighed_lock", lock), ("weighed_rubbed", values["friction_work"])):
        share = 100.0 * (of[i] / of[own] - 1.0)
        said.append(say(more(key, share), share=f"{abs(share):.0f}"))
    return say("weighed", told=", ".join(said))


def _day(movement: Movement, say: Words) -> Panel:
    """A week on the wrist beside the bare run-down."""
    hours, lives = (4.0, 9.0, 14.0), tuple(WOUND)
    bare = rundown(movement, Setting(positions=("CH",)))
    left = Curve(name=say("day_left"), x=bare.hours / 24.0, y=bare.points.amplitude_deg[0], kind="ghost")
    variants = []
    by_hand = movement.winding is None or movement.winding.kind == "hand"
    # what all lives need while worn, at one go
    curves_of(movement, AS_DESIGNED).prepare([(at, ON_WRIST) for mix in LIVES.values() for at in mix])
    for worn, life in product(hours, ("usual",) if by_hand else lives):
        week = days(movement, count=7, hours_worn=worn, life=life)
        line = Curve(name=say("day_with"), x=week.hour / 24.0, y=week.amplitude_deg)
        if week.stays_wound:
            words = say("day_least", hours=f"{worn:g}", least=f"{week.least_morning_deg:.0f}")
        else:
            words = say("day_stands", hours=f"{worn:g}", share=f"{100.0 * week.stopped_share:.0f}")
        if week.break_even_hours is not None:
            words += " " + say("day_even", hours=say.number(f"{week.break_even_hours:.1f}"))
        variants.append(Variant(words=words, curves=(line, left)))
    shares = tuple(say("day_hours", hours=f"{one:g}") for one in hours)
    choices: tuple[Choice, ...] = (Choice(label=say("day_worn"), options=shares, first=1),)
    if not by_hand:
        options = tuple(say(f"life_{life}") for life in lives)
        choices += (Choice(label=say("day_life"), options=options, first=lives.index("usual")),)
    return Panel(
        key="day",
        title=say("day_title"),
        lead=say("day_lead_hand" if by_hand else "day_lead_worn"),
        choices=choices,
        across=say("days"),
        up=say("amplitude_deg"),
        variants=tuple(variants),
    )


def _coil(movement: Movement, say: Words) -> Panel:
    """Whole, half and quarter turns, and an outer curve: the coil breathes to one side and the rate follows."""
    own = movement.hairspring or USUAL
    whole = max(6.0, float(math.floor(own.turns)))
    flat = replace(own, outer_curve="none", stud_offset_um=(0.0, 0.0), stud_turn_deg=0.0)
    made = (
        (say("coil_whole"), replace(flat, turns=whole)),
        (say("coil_half"), replace(flat, turns=whole + 0.5)),
        (say("coil_quarter"), replace(flat, turns=whole + 0.25)),
        (say("coil_curve"), replace(flat, turns=whole, outer_curve="phillips")),
    )
    plain = movement.with_({"balance.cubic_stiffness": 0.0})
    kept = isochronism(plain, amplitudes_deg=(220.0, 280.0), torque_ceiling=CEILING.high)
    alone = _signed(float(np.diff(kept.shares["escapement"][0])[0]), say)
    angles = [coil_words(own, angle, say) for angle in DRAWN]
    variants = []
    for name, spring in made:
        found = hairspring(replace(plain, hairspring=spring), amplitudes_deg=_SWINGS)
        thin = max(1, found.coil_mm.shape[1] // _COIL_POINTS)
        coils = tuple(
            Curve(name=turned, x=path[::thin, 1], y=path[::thin, 0])
            for turned, path in zip(angles, found.coil_mm, strict=True)
        )
        line = Curve(name=say("coil_line"), x=_SWINGS, y=found.watch_rate_s_per_day)
        change = _signed(float(np.diff(np.interp((220.0, 280.0), line.x, line.y))[0]), say)
        words = say("coil_words", name=name, change=change)
        if alone:
            words += " " + say("coil_escapement", change=alone)
        variants.append(Variant(words=words, curves=(line,), drawings=coils))
    return Panel(
        key="coil",
        title=say("coil_title"),
        lead=say("coil_lead"),
        choices=(Choice(label=say("coil_pinned"), options=tuple(name for name, _ in made)),),
        across=say("amplitude_deg"),
        up=say("coil_up"),
        variants=tuple(variants),
    )


def _signed(value: float, say: Words) -> str:
    return say.number(f"{value:+.1f}".replace("-", "−")) if math.isfinite(value) else ""


def _breathing(movement: Movement, say: Words) -> Panel:
    """A bent pivot is chosen, and the breathing seen."""
    wheels = ("none", "second hand", "fourth", "third", "centre")
    variants, names = [], [say("breathing_none")]
    for wheel in wheels:
        faults = {} if wheel == "none" else {wheel: 3.0}
        found = breathing(movement, Setting(), faults_percent=faults, duration_s=900.0, every_s=5.0)
        line = Curve(name=say("only_amplitude"), x=found.time_s / 60.0, y=found.clean_deg)
        part = next((one for one in found.parts if one.name == wheel), None)
        words = say("breathing_sound")
        if wheel != "none":
            named = say(f"wheel_{wheel.replace(' ', '_')}")
            names.append(say("breathing_option", wheel=named))
            if part is not None:
                swing, period = say.number(f"{part.swing_deg:.1f}"), say.number(_clock(part.period_s))
                words = say("breathing_words", wheel=named, swing=swing, period=period)
        variants.append(Variant(words=words, curves=(line,)))
    return Panel(
        key="breathing",
        title=say("breathing_title"),
        lead=say("breathing_lead"),
        choices=(Choice(label=say("breathing_fault"), options=tuple(names), first=2),),
        across=say("breathing_across"),
        up=say("amplitude_deg"),
        variants=tuple(variants),
    )


def _clock(seconds: float) -> str:
    return f"{seconds:.3g} s" if seconds < 120.0 else f"{seconds / 60.0:.3g} min"


def _escapements(movement: Movement, say: Words) -> Panel:
    """Lever and detent side by side: escapement error over amplitude, and their torque on the balance over a period.

    The page sets both in motion above the curves.
    """
    detent = load(DETENT)
    errors, torques = [], []
    of_detent = say("escapements_detent", name=detent.name)
    for name, one, kind in ((movement.name, movement, "now"), (of_detent, detent, "other")):
        found = isochronism(one, amplitudes_deg=_SWINGS)
        errors.append(Curve(name=name, x=_SWINGS, y=found.shares["escapement"][0], kind=kind))
        columns = trace(one, Setting(), samples=24).columns
        torque = 1e9 * np.asarray(columns["escapement_torque_n_m"], float)
        time = np.asarray(columns["time_s"], float)
        torques.append(
            Curve(name=name, x=time / time[-1], y=100.0 * torque / np.nanmax(np.abs(torque)), kind=kind)
        )
    change = [_signed(float(np.interp(280.0, c.x, c.y) - np.interp(230.0, c.x, c.y)), say) for c in errors]
    return Panel(
        key="escapements",
        title=say("escapements_title"),
        lead=say("escapements_lead"),
        choices=(
            Choice(
                label=say("escapements_look"),
                options=(say("escapements_error"), say("escapements_torque")),
            ),
        ),
        variants=(
            Variant(
                across=say("amplitude_deg"),
                up=say("escapements_error_up"),
                words=say("escapements_error_words", lever=change[0], detent=change[1]),
                curves=tuple(errors),
            ),
            Variant(
                across=say("escapements_share"),
                up=say("escapements_torque_up"),
                words=say("escapements_torque_words"),
                curves=tuple(torques),
            ),
        ),
    )
