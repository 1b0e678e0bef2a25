"""What nobody measured, filled by laws: each value with the range that holds 95 of 100 such movements, and why.

A law begins from what is given and from what earlier laws filled, so that parts keep their proportions. Ranges are
common practice without source; where a value has a source it is named.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from oscsim.parts.mainspring import Barrel, Mainspring, barrel_torque, turns_of_development
from oscsim.tolerances import DEFAULT_SPREADS, Spread
from oscsim.typical.families import FAMILIES, Family
from oscsim.units import N_MM

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


@dataclass(frozen=True)
class Filled:
    """One filled number: dotted name, value, spread (None for a count), why, and the law's value where readings moved
    it."""

    name: str
    value: float
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
    """What is given and what has been filled so far."""

    given: Mapping[str, Any]
    family: Family
    instead: Mapping[str, tuple[float, str]] = field(default_factory=dict)
    filled: dict[str, Filled] = field(default_factory=dict)

    def __contains__(self, name: str) -> bool:
        return self.given.get(name) is not None

    def __getitem__(self, name: str) -> float:
        return float(self.given[name] if name in self else self.filled[name].value)

    def put(self, name: str, value: float, reason: str, percent: float | None = None, plus_minus: float | None = None,
            *, count: bool = False) -> None:  # fmt: skip
        """Fill a number that is neither given nor filled; a count is right or wrong and has no spread."""
        if name in self or name in self.filled:
            return
        if count:
            self.filled[name] = Filled(name, value, None, reason)
            return
        value, reason = self.instead.get(name, (value, reason))
        rounded = float(f"{value:.{_DIGITS}g}")
        width = None if percent is None else min(float(f"{percent:.2g}"), _WIDEST)
        self.filled[name] = Filled(name, rounded, Spread(name, plus_minus, width), reason)


def fill(
    given: Mapping[str, Any],
    family: Family,
    facts: Mapping[str, Any],
    winding: str | None = None,
    instead: Mapping[str, tuple[float, str]] = MappingProxyType({}),
) -> tuple[Filled, ...]:
    """What is missing from ``given`` (dotted name to value; None counts as missing) for a complete design.

    facts: ``FACTS`` that are known, by name; winding: 'hand' or 'self', default the family's; instead: value and reason
    that go before a law's own.
    """
    ledger = _Ledger(given, family, instead)
    _balance(ledger, facts)
    _escapement(ledger)
    _train(ledger)
    _mainspring(ledger, facts)
    _bridle_and_ratio(ledger, facts, winding or family.winding)
    return tuple(ledger.filled.values())


def spreads(given: Mapping[str, Any], filled: tuple[Filled, ...]) -> tuple[Spread, ...]:
    """Spreads of all numbers: those of the fills, and the default ones of sound examples for what is given."""
    own = [one.spread for one in filled if one.spread is not None]
    kept = [s for s in DEFAULT_SPREADS if isinstance(given.get(s.name), int | float) and given[s.name]]
    return (*kept, *own)


def _balance_diameter(ledger: _Ledger, facts: Mapping[str, Any]) -> tuple[float, float, str]:
    """Outer diameter in mm, its uncertainty in per cent, and where it comes from."""
    family = ledger.family
    if facts.get("balance_diameter_mm") is not None:
        return float(facts["balance_diameter_mm"]), 0.0, "the balance's diameter"
    if facts.get("movement_diameter_mm") is not None:
        share = 0.40 if family.name == "pocket" else 0.39
        return (
            share * float(facts["movement_diameter_mm"]),
            12.0,
            f"a balance {share:g} of the movement across",
        )
    inertia, mass = "balance.inertia_mg_cm2", "balance.mass_mg"
    if inertia in ledger:  # I = m (0.85 D/2)², m as D³
        scale = family.rim_mass_mg * (GYRATION * 0.5) ** 2
        return 10.0 * (ledger[inertia] / scale) ** 0.2, 8.0, "the balance's inertia"
    if mass in ledger:
        return 10.0 * (ledger[mass] / family.rim_mass_mg) ** (1 / 3), 12.0, "the balance's mass"
    if "barrel.inner_diameter_mm" in ledger:
        return 1.05 * ledger["barrel.inner_diameter_mm"], 20.0, "a balance about as large as the barrel"
    return family.balance_diameter_mm, 20.0, "the usual balance of its family"


def _balance(led: _Ledger, facts: Mapping[str, Any]) -> None:
    family = led.family
    led.put(
        "balance.beats_per_hour", family.beats_per_hour, "the usual beat of its family; count it", count=True
    )
    size, off, why = _balance_diameter(led, facts)
    arm = GYRATION * size / 20.0  # cm
    inertia, mass = "balance.inertia_mg_cm2", "balance.mass_mg"
    if inertia in led and facts.get("balance_diameter_mm") is not None:
        led.put(mass, led[inertia] / arm**2, f"mass at {GYRATION:g} of the radius has this inertia", 15.0)
    led.put(mass, family.rim_mass_mg * (size / 10.0) ** 3, f"proportions kept, as the diameter cubed, from {why}",
            math.hypot(30.0, 3.0 * off))  # fmt: skip
    # a filled mass and the place where it acts come from one diameter and err the same way; a diameter that is itself
    # uncertain counts five times over
    wide = math.hypot(14.0, 2.0 * off) if mass in led else math.hypot(40.0, 5.0 * off)
    led.put(
        inertia, led[mass] * arm**2, f"mass at {GYRATION:g} of the radius: m (0.85 D/2)², from {why}", wide
    )
    led.put("balance.pivot_radius_mm", 0.044 * (led[mass] / 55.0) ** 0.2,
            "pivots grow little with the weight they bear", 12.0)  # fmt: skip
    led.put("balance.pivot_friction", family.pivot_friction,
            "oiled steel on agate 0.107 (Jenkin and Ewing 1877)", 30.0)  # fmt: skip
    led.put("balance.end_friction_radius_um", 200.0 * led["balance.pivot_radius_mm"],
            "a rounded end worn a little flat: a fifth of the pivot", 45.0)  # fmt: skip
    beat = (led["balance.beats_per_hour"] / 28800.0) ** 0.25
    typical = family.rim_mass_mg / 10.0**3
    size_of = (led[mass] / typical) ** (1 / 3) / 10.0
    led.put("balance.viscous_q", family.viscous_q * math.sqrt(size_of) * beat,
            "100 to 300 published for wrist balances with all losses; more when large or fast", 45.0)  # fmt: skip
    led.put("balance.quadratic_drag", 0.00025, "fast air, a small part", 50.0)


def _escapement(led: _Ledger) -> None:
    family = led.family
    fast = led["balance.beats_per_hour"] >= _FAST and family.teeth < 20
    wheel = FAMILIES["fast"] if fast else family
    led.put("escapement.teeth", wheel.teeth, "usual at this beat; count them", count=True)
    half_pitch = 180.0 / led["escapement.teeth"]
    # 2½ of 15 is 30° to either side; a wheel of more teeth embraces about as much
    embraced = math.floor(led["escapement.teeth"] * 32.0 / 180.0) + 0.5
    led.put("escapement.teeth_embraced", embraced, "pallets span about 30° to either side", count=True)
    if "escapement.fork_ratio" not in led:
        led.put(
            "escapement.lift_angle_deg", family.lift_angle_deg, "usual lift angle; look it up", plus_minus=2.5
        )
    led.put("escapement.lock_deg", family.lock_deg,
            "1.5 in Playtner's drawing (1910), deeper in service", plus_minus=0.6)  # fmt: skip
    led.put(
        "escapement.run_deg", family.run_deg, "a quarter of a degree in Playtner's drawing", plus_minus=0.15
    )
    led.put("escapement.pallet_lift_deg", 8.5, "Playtner's drawing", plus_minus=0.5)
    led.put("escapement.drop_deg", wheel.drop_deg * min(1.0, half_pitch / (180.0 / wheel.teeth)),
            "1.5 of 12 deg in Playtner's drawing, more in service", 22.0)  # fmt: skip
    led.put("escapement.draw_deg", family.draw_deg, "12 in Playtner's drawing", plus_minus=1.5)
    led.put(
        "escapement.pallet_friction",
        0.15,
        "between oiled and dry steel on stone (Jenkin and Ewing 1877)",
        22.0,
    )
    led.put("escapement.fork_efficiency", 0.935, "sliding of the pin in the notch", 3.0)
    led.put("escapement.notch_shake_deg", family.notch_shake_deg, "free pin", plus_minus=0.12)
    led.put("escapement.lever_inertia_mg_cm2", 0.006 * led["balance.inertia_mg_cm2"],
            "proportions kept: 0.006 of the balance's", 60.0)  # fmt: skip
    led.put("escapement.wheel_inertia_mg_cm2", 0.005 * led["balance.inertia_mg_cm2"],
            "proportions kept: 0.005 of the balance's", 60.0)  # fmt: skip


def _train(led: _Ledger) -> None:
    if not any(name.startswith("train.jewels.") for name in led.given):
        led.put("train.jewels", led.family.jewels, "the usual count of its family; count them", count=True)
    led.put("train.meshes", 4, "barrel, centre, third, fourth", count=True)
    led.put("train.mesh_efficiency", led.family.mesh_efficiency,
            "four of them: a train of 80 to 90 per cent, with its pivots", 1.5)  # fmt: skip
    led.put("train.jewel_friction", 0.12, "0.107 oiled to 0.200 dry in agate (Jenkin and Ewing 1877)", 25.0)
    led.put("train.brass_friction", 0.18, "0.146 oiled to 0.195 dry in brass (Jenkin and Ewing 1877)", 20.0)


def _mainspring(led: _Ledger, facts: Mapping[str, Any]) -> None:
    family = led.family
    inner, arbor = "barrel.inner_diameter_mm", "barrel.arbor_diameter_mm"
    height, thick, length = (f"mainspring.{key}_mm" for key in ("height", "thickness", "length"))
    if thick in led and length in led:
        free = led[thick] * led[length] / FILLED / (1.0 - ARBOR_OVER_BARREL**2)
        led.put(
            inner,
            math.sqrt(4.0 * free / math.pi),
            "barrel of which its strip fills a little more than half",
            5.0,
        )
    if height in led:
        led.put(inner, led[height] / 0.13, "barrel from the height of its strip", 12.0)
    size, off, why = _balance_diameter(led, facts)
    led.put(
        inner,
        size / 1.05,
        f"barrel about as large as the balance, from {why}",
        min(math.hypot(10.0, off), 14.0),
    )
    if thick in led:
        led.put(arbor, 2.0 * ARBOR_OVER_STRIP * led[thick], "arbor 26 times as thick as the strip", 10.0)
    led.put(arbor, ARBOR_OVER_BARREL * led[inner], "arbor about a third of the barrel", 10.0)
    free = math.pi / 4.0 * (led[inner] ** 2 - led[arbor] ** 2)
    if length in led and free > 0.0:
        led.put(thick, FILLED * free / led[length], "strip fills a little more than half the free area", 7.0)
    led.put(thick, led[arbor] / 2.0 / ARBOR_OVER_STRIP, "arbor 26 times as thick as the strip", 8.0)
    led.put(height, 0.13 * led[inner], "0.13 of the barrel's diameter", 20.0)
    led.put(
        length, FILLED * max(free, 0.1) / led[thick], "strip fills a little more than half the free area", 6.0
    )
    led.put("mainspring.modulus_gpa", 203.0, "steel and its modern alloys", 2.5)
    kind = "carbon steel" if family.name == "pocket" else "a modern alloy"
    led.put("mainspring.elastic_limit_mpa", family.elastic_limit_mpa, f"{kind}, not calibrated", 13.0)
    if family.reversed_per_m:
        led.put("mainspring.free_curvature_per_m", family.reversed_per_m, "reverse-curved when new", 60.0)
    led.put("mainspring.coil_efficiency", 0.88, "greased coils", 5.0)
    led.put("mainspring.tail_turns", 0.5, "torque fades at the end", 60.0)


def _bridle_and_ratio(led: _Ledger, facts: Mapping[str, Any], winding: str) -> None:
    """Slipping torque and train ratio, which follow from strip and barrel where these make a mainspring."""
    strip = {name.split(".")[1]: led[name] for name in (*led.given, *led.filled)
             if name.startswith("mainspring.") and not (name in led.given and led.given[name] is None)}  # fmt: skip
    turns = math.nan
    try:
        spring = Mainspring(**strip)
        barrel = Barrel(inner_diameter_mm=led["barrel.inner_diameter_mm"],
                        arbor_diameter_mm=led["barrel.arbor_diameter_mm"])  # fmt: skip
        packed = float(turns_of_development(spring, barrel))
        turns = packed
        if winding == "self" and packed > SLIPS_SHORT + LEFT_AT_STOP:
            turns = packed - SLIPS_SHORT
            slip = float(barrel_torque(spring, barrel, turns)) / N_MM
            if slip > 0.01:
                led.put(
                    "mainspring.slip_torque_n_mm",
                    slip,
                    f"bridle slips {SLIPS_SHORT:g} turn before packed",
                    8.0,
                )
    except (ValueError, TypeError):  # numbers that make no mainspring: whoever asks says so
        pass
    measured = facts.get("reserve_hours") is not None
    reserve = float(facts["reserve_hours"]) if measured else led.family.reserve_hours
    if not turns > LEFT_AT_STOP + 1.0:
        turns = reserve / 5.6 + LEFT_AT_STOP
    per_turn = reserve / (turns - LEFT_AT_STOP)
    source = f"the reserve of {reserve:g} h" + ("" if measured else ", usual in its family,")
    led.put("train.ratio", per_turn * led["balance.beats_per_hour"] / (2.0 * led["escapement.teeth"]),
            f"from {source} and the barrel's turns; count the teeth", 5.0 if measured else 14.0)  # fmt: skip
