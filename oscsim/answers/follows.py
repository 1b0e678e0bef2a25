"""What follows from a design's numbers without settling it, and the two amplitudes that do: to be compared with what is
usual."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from oscsim.answers.points import settled_points
from oscsim.escapements.kinds import kind_of
from oscsim.movement import Movement
from oscsim.operating import hours_of_wind, operating_points
from oscsim.parts import balance as bal
from oscsim.parts import coil
from oscsim.parts import mainspring as spr
from oscsim.parts import train as trn
from oscsim.parts.hairspring_table import coils_of
from oscsim.setting import Setting
from oscsim.theory.bessel import jv
from oscsim.units import DAY, MM, N_MM

_SWING = math.radians(270.0)


@dataclass(frozen=True)
class Follows:
    """One derived number: name with its unit, what it is in words, the unit, the value (NaN where there is none) and,
    where it was settled, the state."""

    name: str
    words: str
    unit: str
    value: float
    state: str = ""


def follows(movement: Movement) -> tuple[Follows, ...]:
    """What follows from the design, part by part, and the amplitudes it shows fully wound: where it knocks, the swing
    at the horn."""
    return (*follows_unsettled(movement), *_amplitudes(movement))


def follows_unsettled(movement: Movement) -> tuple[Follows, ...]:
    """What follows without settling the watch."""
    return (*_balance(movement), *_hairspring(movement), *_escapement(movement), *_drive(movement))


def _balance(m: Movement) -> list[Follows]:
    b = m.balance
    stiffness = float(bal.stiffness(b))
    # energy lost per period, docs/physics.md §6: π b ω A² + (8/3) c ω² A³ + 4 M_c A, dial up
    dry = float(bal.pivot_torque(b, np.array(0.0)))
    loss = 1.0 / b.viscous_q + 8.0 * b.quadratic_drag * _SWING / (3.0 * math.pi)
    loss += 4.0 * dry / (math.pi * stiffness * _SWING)
    heavy = float(bal.poise_torque(b, np.array(math.pi / 2.0))) / stiffness
    return [
        Follows("frequency_hz", "frequency", "Hz", b.beats_per_hour / 7200.0),
        Follows("stiffness_un_m_per_rad", "stiffness of the hairspring", "µN·m/rad", 1e6 * stiffness),
        Follows("radius_of_gyration_mm", "radius at which the balance's mass acts", "mm",
                10.0 * math.sqrt(b.inertia_mg_cm2 / b.mass_mg)),
        Follows("total_q_at_270_deg", "Q of all losses of the free balance, dial up, 270 deg", "", 1.0 / loss),
        Follows("unbalance_rate_at_180_deg_s_per_day", "most that want of poise moves a rate, 180 deg", "s/day",
                DAY * heavy * float(jv(1, math.pi)) / math.pi),
    ]  # fmt: skip


def _hairspring(m: Movement) -> list[Follows]:
    """What the strip must be made of to have the stiffness that inertia and beat need: E w h³/(12 L) = k."""
    spring = m.hairspring
    if spring is None or spring.strip_height_mm is None or spring.strip_thickness_mm is None:
        return []
    length = MM * float(coil.rest(coils_of(spring)).length[0])
    section = MM**4 * spring.strip_height_mm * spring.strip_thickness_mm**3 / 12.0
    modulus = float(bal.stiffness(m.balance)) * length / section
    words = "modulus that hairspring, beat and inertia together need"
    return [Follows("hairspring_modulus_gpa", words, "GPa", 1e-9 * modulus)]


def _escapement(m: Movement) -> list[Follows]:
    return [Follows(*told) for told in kind_of(m.escapement).follows(m.escapement)]


def _drive(m: Movement) -> list[Follows]:
    spring, barrel = m.mainspring, m.barrel
    packed = float(spr.turns_of_development(spring, barrel))
    turns = float(spr.full_turns(spring, barrel))
    per_turn = float(hours_of_wind(m, 1.0))
    torque = float(spr.barrel_torque(spring, barrel, turns))
    later = float(spr.barrel_torque(spring, barrel, turns - 24.0 / per_turn))
    free = math.pi / 4.0 * (barrel.inner_diameter_mm**2 - barrel.arbor_diameter_mm**2)
    found = [
        Follows("train_efficiency", "what the train passes on", "", float(trn.efficiency(m.train))),
        Follows("hours_per_barrel_turn", "one turn of the barrel lasts", "h", per_turn),
        Follows("barrel_turns", "turns from let down to fully wound", "turns", turns),
        Follows("hours_wound", "hours until the spring is down", "h", turns * per_turn),
        Follows("strip_fills_share", "share of the free area that the strip fills", "",
                spring.length_mm * spring.thickness_mm / free),
        Follows("arbor_over_barrel", "arbor over barrel", "", barrel.arbor_diameter_mm / barrel.inner_diameter_mm),
        Follows("arbor_radius_over_thickness", "arbor's radius over thickness of the strip", "",
                barrel.arbor_diameter_mm / 2.0 / spring.thickness_mm),
        Follows("barrel_torque_n_mm", "torque of the barrel, fully wound", "N·mm", torque / N_MM),
        Follows("torque_kept_after_24_h", "share of it left after 24 h", "", later / torque if torque else math.nan),
        Follows("escape_torque_un_m", "torque on the escape wheel, fully wound", "µN·m",
                1e6 * float(trn.escape_torque(m.train, torque))),
    ]  # fmt: skip
    if spring.slip_torque_n_mm is not None:
        found.append(
            Follows(
                "slips_before_packed_turns",
                "turns before packed at which the bridle slips",
                "turns",
                packed - turns,
            )
        )
    return found


def _amplitudes(m: Movement) -> list[Follows]:
    points = settled_points(operating_points(m, Setting(positions=("CH", "12H"))))
    words = ("amplitude dial up, fully wound", "amplitude 12 up, fully wound")
    return [
        Follows(
            f"amplitude_{symbol}_wound_deg",
            words[i],
            "deg",
            float(points.shown_amplitude_deg[i, 0]),
            str(points.state[i, 0]),
        )
        for i, symbol in enumerate(("ch", "12h"))
    ]
