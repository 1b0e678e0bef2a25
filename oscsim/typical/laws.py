"""What nobody measured, filled by laws: each value with the range that holds 95 of 100 such movements, and why.

A law begins from what is given and from what earlier laws filled, so that parts keep their proportions. ``fill`` takes
every law at its middle; ``draw`` draws whole arrays of designs, each law about what was drawn before it, so that a
heavy
balance has its heavier lever. Ranges are common practice without source; where a value has a source it is named.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from oscsim.arrays import Array, Number
from oscsim.parts.mainspring import Barrel, Mainspring, barrel_torque, turns_of_development
from oscsim.stack import unchecked
from oscsim.tolerances import NORMAL_95, Spread
from oscsim.typical.families import FAMILIES, Family
from oscsim.typical.measure import measuring_error
from oscsim.typical.numbers import DEFAULT_SPREADS
from oscsim.typical.poise import usual_unbalance_ug_cm
from oscsim.units import MG_CM2, N_MM

#: Radius of gyration over outer radius of a balance with a narrow rim and thin arms.
GYRATION = 0.85
#: Radius of the barrel's arbor over thickness of the strip, arbor over barrel, share of the free area that is strip.
ARBOR_OVER_STRIP, ARBOR_OVER_BARREL, FILLED = 13.0, 0.30, 0.54
#: Turns short of packed at which a bridle slips; turns still wound when the watch stops.
SLIPS_SHORT, LEFT_AT_STOP = 0.6, 0.4
_DIGITS = 4
#: No spread is taken wider than this, in per cent.
_WIDEST = 80.0
#: From this beat on escape wheels commonly have more than fifteen teeth.
_FAST = 25200.0
_HEIGHT, _THICKNESS, _LENGTH = (f"mainspring.{key}_mm" for key in ("height", "thickness", "length"))
_INNER, _ARBOR = "barrel.inner_diameter_mm", "barrel.arbor_diameter_mm"
_INERTIA, _MASS, _BEATS = "balance.inertia_mg_cm2", "balance.mass_mg", "balance.beats_per_hour"


@dataclass(frozen=True)
class Filled:
    """One filled number, or word or list of counts: dotted name, value, spread (None for a count or a word), why, and
    the law's value where readings moved it."""

    name: str
    value: Any
    spread: Spread | None
    reason: str
    before: float | None = None

    @property
    def ends(self) -> tuple[float, float] | None:
        """The range that holds 95 of 100 such movements; None for a count."""
        if self.spread is None:
            return None
        half = self.spread.half_width(self.value)
        return self.value - half, self.value + half


@dataclass
class _Ledger:
    """What is given and what has been filled so far, every law at its middle."""

    given: Mapping[str, Any]
    facts: Mapping[str, Any]
    family: Family
    winding: str
    filled: dict[str, Filled] = field(default_factory=dict)

    def __contains__(self, name: str) -> bool:
        return self.given.get(name) is not None

    def __getitem__(self, name: str) -> Number:
        found: Number = self.given[name] if name in self else self.filled[name].value
        return found

    def has(self, name: str) -> bool:
        """Whether the number is given or filled already."""
        return name in self or name in self.filled

    def size(self, value: Number, percent: float) -> tuple[Number, float]:
        """A size that is no number of a design, and how uncertain laws that begin from it must take it, in per cent."""
        return value, percent

    def put(self, name: str, value: Number, reason: str, percent: float | None = None, plus_minus: float | None = None,
            *, shape: str = "normal") -> None:  # fmt: skip
        """Fill a number that is neither given nor filled."""
        if self.has(name):
            return
        rounded = float(f"{float(value):.{_DIGITS}g}")
        width = None if percent is None else min(float(f"{percent:.2g}"), _WIDEST)
        self.filled[name] = Filled(name, rounded, Spread(name, plus_minus, width, shape), reason)

    def count(self, name: str, value: float, reason: str) -> None:
        """Fill a count, which is right or wrong and has no spread."""
        if not self.has(name):
            self.filled[name] = Filled(name, value, None, reason)


@dataclass
class _Draws(_Ledger):
    """A ledger that draws what it fills, so that later laws begin from what was drawn."""

    draws: int = 0
    rng: np.random.Generator = field(default_factory=np.random.default_rng)
    drawn: dict[str, Array] = field(default_factory=dict)

    def __getitem__(self, name: str) -> Number:
        return self.given[name] if name in self else self.drawn[name]

    def has(self, name: str) -> bool:
        return name in self or name in self.drawn

    def size(self, value: Number, percent: float) -> tuple[Number, float]:
        return self._about(value, percent), 0.0

    def put(self, name: str, value: Number, reason: str, percent: float | None = None, plus_minus: float | None = None,
            *, shape: str = "normal") -> None:  # fmt: skip
        if self.has(name):
            return
        if percent is not None:
            self.drawn[name] = self._about(value, percent)
        else:
            assert plus_minus is not None
            z = (
                self.rng.uniform(-1.0, 1.0, self.draws)
                if shape == "uniform"
                else self.rng.standard_normal(self.draws) / NORMAL_95
            )
            self.drawn[name] = value + plus_minus * z

    def _about(self, value: Number, percent: float) -> Array:
        """Lognormal about a value: 95 of 100 within some per cent."""
        z = self.rng.standard_normal(self.draws) / NORMAL_95
        return np.asarray(value * np.exp(min(percent, _WIDEST) / 100.0 * z))

    def count(self, name: str, value: float, reason: str) -> None:
        if not self.has(name):
            self.drawn[name] = np.full(self.draws, float(value))


def fill(
    given: Mapping[str, Any], family: Family, facts: Mapping[str, Any], winding: str | None = None
) -> tuple[Filled, ...]:
    """What is missing from ``given`` (dotted name to value; None counts as missing) for a complete design.

    facts: ``FACTS`` that are known, by name; winding: 'hand' or 'self', default the family's.
    """
    ledger = _Ledger(given, facts, family, winding or family.winding)
    _laws(ledger)
    return tuple(ledger.filled.values())


def draw(
    given: Mapping[str, Any],
    family: Family,
    facts: Mapping[str, Any],
    winding: str | None,
    designs: int,
    rng: np.random.Generator,
    own: tuple[Spread, ...] = (),
) -> dict[str, Array]:
    """Whole designs of a family, drawn jointly: dotted name to values (designs,), given numbers too.

    What is given is drawn with the error of measuring it, or with the spread of that name in ``own``. Nothing is
    checked: a drawn design may be out of range or make no mainspring.
    """
    stated = {spread.name: spread for spread in own}

    def measured(values: Mapping[str, Any]) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for name, value in values.items():
            if value is None:
                continue
            sd = measuring_error(name) * value
            if name in stated:
                sd = stated[name].half_width(value) / NORMAL_95
            found[name] = value + sd * rng.standard_normal(designs) if sd else np.full(designs, float(value))
        return found

    ledger = _Draws(
        measured(given), measured(facts), family, winding or family.winding, draws=designs, rng=rng
    )
    _laws(ledger)
    return {**ledger.given, **ledger.drawn}


def _laws(led: _Ledger) -> None:
    with np.errstate(all="ignore"):  # odd sizes make odd designs, which whoever asked for them sorts out
        size, off, why = _balance_diameter(led)
        _balance(led, size, off, why)
        _escapement(led)
        _train(led)
        _mainspring(led, size, off, why)
        _bridle_and_ratio(led)
        _poise_and_beat(led)


def spreads(given: Mapping[str, Any], filled: tuple[Filled, ...]) -> tuple[Spread, ...]:
    """Spreads of all numbers: those of the fills, and the default ones of sound examples for what is given."""
    own = [one.spread for one in filled if one.spread is not None]
    there = {one.name for one in own}
    kept = [
        s
        for s in DEFAULT_SPREADS
        if s.name not in there and isinstance(given.get(s.name), int | float) and given[s.name]
    ]
    return (*kept, *own)


def _balance_diameter(led: _Ledger) -> tuple[Number, float, str]:
    """Outer diameter in mm, its uncertainty in per cent, and where it comes from."""
    family, facts = led.family, led.facts
    if facts.get("balance_diameter_mm") is not None:
        return facts["balance_diameter_mm"], 0.0, "the balance's diameter"
    if facts.get("movement_diameter_mm") is not None:
        share = family.balance_over_movement
        said = f"a balance {share:g} of the movement across"
        return *led.size(share * facts["movement_diameter_mm"], 12.0), said
    if _INERTIA in led:  # I = m (0.85 D/2)², m as D³
        scale = family.rim_mass_mg * (GYRATION * 0.5) ** 2
        return *led.size(10.0 * (led[_INERTIA] / scale) ** 0.2, 8.0), "the balance's inertia"
    if _MASS in led:
        return *led.size(10.0 * (led[_MASS] / family.rim_mass_mg) ** (1 / 3), 12.0), "the balance's mass"
    if _INNER in led:
        return *led.size(led[_INNER] / family.barrel_over_balance, 20.0), "the size of the barrel"
    return *led.size(family.balance_diameter_mm, 20.0), "the usual balance of its family"


def _balance(led: _Ledger, size: Number, off: float, why: str) -> None:
    family = led.family
    led.count(_BEATS, family.beats_per_hour, "the usual beat of its family; count it")
    arm = GYRATION * size / 20.0  # cm
    if _INERTIA in led and led.facts.get("balance_diameter_mm") is not None:
        led.put(_MASS, led[_INERTIA] / arm**2, f"mass at {GYRATION:g} of the radius has this inertia", 15.0)
    led.put(_MASS, family.rim_mass_mg * (size / 10.0) ** 3, f"proportions kept, as the diameter cubed, from {why}",
            math.hypot(30.0, 3.0 * off))  # fmt: skip
    # a filled mass and the place where it acts come from one diameter and err the same way; a diameter that is itself
    # uncertain counts five times over
    wide = math.hypot(14.0, 2.0 * off) if _MASS in led else math.hypot(40.0, 5.0 * off)
    if isinstance(led, _Draws):
        wide = 14.0
    led.put(
        _INERTIA, led[_MASS] * arm**2, f"mass at {GYRATION:g} of the radius: m (0.85 D/2)², from {why}", wide
    )
    led.put("balance.pivot_radius_mm", family.pivot_radius_mm * (led[_MASS] / 55.0) ** 0.2,
            "pivots grow little with the weight they bear", 12.0)  # fmt: skip
    led.put("balance.pivot_friction", family.pivot_friction,
            "oiled steel on agate 0.107 (Jenkin and Ewing 1877)", 30.0)  # fmt: skip
    led.put("balance.end_friction_radius_um", 1000.0 * family.end_over_pivot * led["balance.pivot_radius_mm"],
            "a rounded end worn a little flat: a fifth of the pivot", 45.0)  # fmt: skip
    beat = (led[_BEATS] / 28800.0) ** 0.25
    size_of = (led[_MASS] / family.rim_mass_mg) ** (1 / 3)
    led.put("balance.viscous_q", family.viscous_q * np.sqrt(size_of) * beat,
            "100 to 300 published for wrist balances with all losses; more when large or fast", 45.0)  # fmt: skip
    led.put("balance.quadratic_drag", 0.00025, "fast air, at 270 deg a fifth of the drag", 50.0)


def _escapement(led: _Ledger) -> None:
    family = led.family
    fast = np.all(led[_BEATS] >= _FAST) and family.teeth < 20
    wheel = FAMILIES["fast"] if fast else family
    led.count("escapement.teeth", wheel.teeth, "usual at this beat; count them")
    half_pitch = 180.0 / led["escapement.teeth"]
    # 2½ of 15 is 30° to either side; a wheel of more teeth embraces about as much
    teeth = float(np.mean(led["escapement.teeth"]))
    led.count(
        "escapement.teeth_embraced",
        math.floor(teeth * 32.0 / 180.0) + 0.5,
        "pallets span about 30° to either side",
    )
    if "escapement.fork_ratio" not in led:
        led.put(
            "escapement.lift_angle_deg", family.lift_angle_deg, "usual lift angle; look it up", plus_minus=2.5
        )
    led.put("escapement.lock_deg", family.lock_deg,
            "1.5 in Playtner's drawing (1910), deeper in service", plus_minus=0.6)  # fmt: skip
    led.put(
        "escapement.run_deg", family.run_deg, "a quarter of a degree in Playtner's drawing", plus_minus=0.15
    )
    led.put("escapement.pallet_lift_deg", family.pallet_lift_deg, "8.5 in Playtner's drawing", plus_minus=0.5)
    led.put("escapement.drop_deg", wheel.drop_deg * np.minimum(1.0, half_pitch / (180.0 / wheel.teeth)),
            "1.5 of 12 deg in Playtner's drawing, more in service", 22.0)  # fmt: skip
    led.put("escapement.draw_deg", family.draw_deg, "12 in Playtner's drawing", plus_minus=1.5)
    led.put("escapement.pallet_friction", family.pallet_friction,
            f"between oiled and dry {family.pallets} (Jenkin and Ewing 1877)", 25.0)  # fmt: skip
    led.put("escapement.fork_efficiency", 0.935, "sliding of the pin in the notch", 3.0)
    led.put("escapement.notch_shake_deg", family.notch_shake_deg, "free pin", plus_minus=0.12)
    led.put(
        "escapement.lever_inertia_mg_cm2",
        0.006 * led[_INERTIA],
        "proportions kept: 0.006 of the balance's",
        60.0,
    )
    led.put(
        "escapement.wheel_inertia_mg_cm2",
        0.005 * led[_INERTIA],
        "proportions kept: 0.005 of the balance's",
        60.0,
    )


def _train(led: _Ledger) -> None:
    if not any(name.startswith("train.jewels.") for name in led.given):
        led.count("train.jewels", led.family.jewels, "the usual count of its family; count them")
    led.count("train.meshes", 4, "barrel, centre, third, fourth")
    led.put("train.mesh_efficiency", led.family.mesh_efficiency,
            "four of them: a train of 80 to 90 per cent, with its pivots", 2.0)  # fmt: skip
    led.put("train.jewel_friction", 0.12, "0.107 oiled to 0.200 dry in agate (Jenkin and Ewing 1877)", 25.0)
    led.put("train.brass_friction", 0.18, "0.146 oiled to 0.195 dry in brass (Jenkin and Ewing 1877)", 20.0)


def _mainspring(led: _Ledger, size: Number, off: float, why: str) -> None:
    family = led.family
    if _THICKNESS in led and _LENGTH in led:
        free = led[_THICKNESS] * led[_LENGTH] / FILLED / (1.0 - ARBOR_OVER_BARREL**2)
        led.put(
            _INNER,
            np.sqrt(4.0 * free / math.pi),
            "barrel of which its strip fills a little more than half",
            5.0,
        )
    if _HEIGHT in led:
        led.put(_INNER, led[_HEIGHT] / family.height_over_barrel, "barrel from the height of its strip", 12.0)
    led.put(_INNER, family.barrel_over_balance * size, f"barrel of the usual size beside the balance, from {why}",
            min(math.hypot(10.0, off), 14.0))  # fmt: skip
    if _THICKNESS in led:
        led.put(
            _ARBOR, 2.0 * ARBOR_OVER_STRIP * led[_THICKNESS], "arbor 26 times as thick as the strip", 10.0
        )
    led.put(_ARBOR, ARBOR_OVER_BARREL * led[_INNER], "arbor about a third of the barrel", 10.0)
    free = math.pi / 4.0 * (led[_INNER] ** 2 - led[_ARBOR] ** 2)
    if _LENGTH in led and np.all(free > 0.0):
        led.put(
            _THICKNESS, FILLED * free / led[_LENGTH], "strip fills a little more than half the free area", 7.0
        )
    led.put(_THICKNESS, led[_ARBOR] / 2.0 / ARBOR_OVER_STRIP, "arbor 26 times as thick as the strip", 8.0)
    led.put(
        _HEIGHT,
        family.height_over_barrel * led[_INNER],
        f"{family.height_over_barrel:g} of the barrel's diameter",
        20.0,
    )
    led.put(_LENGTH, FILLED * np.maximum(free, 0.1) / led[_THICKNESS],
            "strip fills a little more than half the free area", 6.0)  # fmt: skip
    led.put("mainspring.modulus_gpa", 203.0, "steel and its modern alloys", 2.5)
    led.put("mainspring.elastic_limit_mpa", family.elastic_limit_mpa, f"{family.strip}, not calibrated", 13.0)
    if family.reversed_per_m:
        led.put("mainspring.free_curvature_per_m", family.reversed_per_m, "reverse-curved when new", 60.0)
    led.put("mainspring.coil_efficiency", 0.88, "greased coils", 5.0)
    led.put("mainspring.tail_turns", 0.5, "torque fades at the end", 60.0)


def _bridle_and_ratio(led: _Ledger) -> None:
    """Slipping torque and train ratio, which follow from strip and barrel where these make a mainspring."""
    held = {"free_curvature_per_m": 0.0}
    for key in Mainspring.__dataclass_fields__:
        if led.has(f"mainspring.{key}"):
            held[key] = led[f"mainspring.{key}"]  # type: ignore[assignment]
    spring = unchecked(_PLAIN, {"slip_torque_n_mm": None, **held})
    barrel = unchecked(_BARREL, {"inner_diameter_mm": led[_INNER], "arbor_diameter_mm": led[_ARBOR]})
    packed = np.asarray(turns_of_development(spring, barrel), float)
    turns = packed
    if led.winding == "self":
        short = np.where(packed > SLIPS_SHORT + LEFT_AT_STOP, packed - SLIPS_SHORT, packed)
        slip = np.asarray(barrel_torque(spring, barrel, short)) / N_MM
        if np.all(slip > 0.01):
            turns = short
            led.put(
                "mainspring.slip_torque_n_mm", slip, f"bridle slips {SLIPS_SHORT:g} turn before packed", 8.0
            )
    measured = led.facts.get("reserve_hours") is not None
    reserve = led.facts["reserve_hours"] if measured else led.family.reserve_hours
    turns = np.where(turns > LEFT_AT_STOP + 1.0, turns, reserve / 5.6 + LEFT_AT_STOP)
    per_turn = reserve / (turns - LEFT_AT_STOP)
    source = f"the reserve of {float(np.mean(reserve)):.3g} h" + (
        "" if measured else ", usual in its family,"
    )
    led.put("train.ratio", per_turn * led[_BEATS] / (2.0 * led["escapement.teeth"]),
            f"from {source} and the barrel's turns; count the teeth", 5.0 if measured else 14.0)  # fmt: skip


def _poise_and_beat(led: _Ledger) -> None:
    """Want of poise and beat error of an ordinary movement in order, so that rates show what such a one shows."""
    k = led[_INERTIA] * MG_CM2 * (2.0 * math.pi * led[_BEATS] / 7200.0) ** 2
    led.put("balance.unbalance_ug_cm", usual_unbalance_ug_cm(k), "the verticals some 15 s/day apart", 80.0)
    led.put("balance.heavy_point_deg", 180.0, "it may lie anywhere", plus_minus=180.0, shape="uniform")
    led.put("balance.out_of_beat_deg", 0.4, "0.2 ms at 21,600 beats, as such are found", plus_minus=0.8)


_PLAIN = Mainspring(
    height_mm=1.3, thickness_mm=0.12, length_mm=400.0, modulus_gpa=203.0, elastic_limit_mpa=2900.0,
    coil_efficiency=0.88, tail_turns=0.5,
)  # fmt: skip
_BARREL = Barrel(inner_diameter_mm=10.0, arbor_diameter_mm=3.0)
