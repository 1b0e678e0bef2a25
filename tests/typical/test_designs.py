"""The bundled designs' sizes hang together: inertia, mass and diameter; hairspring and beat; strip and barrel; counts
and ratio."""

import math

import pytest
from scipy.special import kv

import oscsim
from oscsim.answers.follows import follows_unsettled
from oscsim.typical.laws import GYRATION


@pytest.mark.parametrize("name", oscsim.bundled())
def test_balance(name):
    """The diameter that inertia and mass make is one of a wrist or a pocket watch, and the rim's section a part of it.

    A rim as heavy as the balance at 0.85 of its radius, of brass (8.4 mg/mm³), has a square section of side s with
    mass = 8.4 · 2π · 0.85 R · s²; common practice: from a fifteenth to a sixth of the radius.
    """
    balance = oscsim.load(name).balance
    diameter = 20.0 * math.sqrt(balance.inertia_mg_cm2 / balance.mass_mg) / GYRATION
    assert 6.0 < diameter < 18.0
    side = math.sqrt(balance.mass_mg / (8.4 * 2.0 * math.pi * GYRATION * diameter / 2.0))
    assert 1.0 / 15.0 < side / (diameter / 2.0) < 1.0 / 6.0
    if balance.beats_per_hour <= 18000:
        assert 15.0 < diameter < 18.0  # a pocket watch's


#: Air at 20 °C: viscosity, Pa·s, and the same over its density, m²/s (handbooks).
AIR, KINEMATIC = 1.82e-5, 1.52e-5


def smooth_ring_q(balance):
    """Q that air alone leaves a smooth ring with the balance's mass and inertia, without arms, screws or walls.

    A long cylinder of radius a that oscillates along itself (Stokes's equations, exact by separation): stress over
    speed μ Re(λ K₁(λa)/K₀(λa)), λ = (1 + i)√(ω/2ν), and the ring's moment is that times 2πa · 2πr³. The section is
    square; a circle of the same area stands for it (of the same circumference: 6 % less).
    """
    inertia = 1e-10 * balance.inertia_mg_cm2
    radius = math.sqrt(inertia / (1e-6 * balance.mass_mg))
    omega = 2.0 * math.pi * balance.beats_per_hour / 7200.0
    a = math.sqrt(1e-6 * balance.mass_mg / (8400.0 * 2.0 * math.pi * radius) / math.pi)
    wave = (1.0 + 1.0j) * math.sqrt(omega / (2.0 * KINEMATIC))
    stress = AIR * (wave * kv(1, wave * a) / kv(0, wave * a)).real
    return inertia * omega / (2.0 * math.pi * a * stress * 2.0 * math.pi * radius**3)


@pytest.mark.parametrize("name", oscsim.bundled())
def test_no_more_q_than_the_air_leaves(name):
    """The air on the rim takes a quarter to two thirds of what the design loses by speed; the rest is for arms, oil and
    hairspring (share: common practice)."""
    balance = oscsim.load(name).balance
    assert 0.25 < balance.viscous_q / smooth_ring_q(balance) < 2.0 / 3.0


@pytest.mark.parametrize(
    "name", [name for name in oscsim.bundled() if oscsim.load(name).hairspring is not None]
)
def test_hairspring_and_beat(name):
    """A strip of steel or its alloys, 195 to 215 GPa (from memory), has the stiffness I (2πf)² = E w h³/(12 L); its
    length is that of evenly spaced coils and of the two arcs of an outer curve (by derivation); it is four to five
    times as high as thick and lies within the rim (common practice)."""
    m = oscsim.load(name)
    spring, balance = m.hairspring, m.balance
    length = math.pi * spring.turns * (spring.collet_radius_mm + spring.outer_radius_mm)
    if spring.outer_curve == "phillips":
        length += spring.outer_radius_mm * (0.83214 * math.pi + 0.67 * math.radians(81.80))
    stiffness = 1e-10 * balance.inertia_mg_cm2 * (2.0 * math.pi * balance.beats_per_hour / 7200.0) ** 2
    height, thick = spring.strip_height_mm, spring.strip_thickness_mm
    gpa = stiffness * 12.0 * 1e-3 * length / (1e-12 * height * thick**3) * 1e-9
    assert 195.0 < gpa < 215.0
    assert 4.0 < height / thick < 5.0
    assert spring.outer_radius_mm < 0.75 * 10.0 * math.sqrt(balance.inertia_mg_cm2 / balance.mass_mg)
    (told,) = (one for one in follows_unsettled(m) if one.name == "hairspring_modulus_gpa")
    assert told.value == pytest.approx(gpa, rel=2e-3)


@pytest.mark.parametrize("name", oscsim.bundled())
def test_strip_and_barrel(name):
    """The strip fills about half of what is free, where it makes most turns (by derivation); the arbor is a third."""
    m = oscsim.load(name)
    b, s = m.barrel, m.mainspring
    free = math.pi / 4.0 * (b.inner_diameter_mm**2 - b.arbor_diameter_mm**2)
    assert 0.48 < s.length_mm * s.thickness_mm / free < 0.62
    assert 0.24 < b.arbor_diameter_mm / b.inner_diameter_mm < 0.36
    assert 9.0 < b.arbor_diameter_mm / 2.0 / s.thickness_mm < 18.0
    assert 0.08 < s.height_mm / b.inner_diameter_mm < 0.17  # common practice


@pytest.mark.parametrize("name", oscsim.bundled())
def test_teeth_and_ratio(name):
    """A turn of the barrel lasts ratio · 2 · teeth / beats hours: 4 to 9 of them (common practice)."""
    m = oscsim.load(name)
    hours = m.train.ratio * 2.0 * m.escapement.teeth / m.balance.beats_per_hour
    assert 4.0 < hours < 9.0
    wheels, leaves = m.train.wheel_teeth, m.train.pinion_leaves
    assert m.train.ratio == pytest.approx(math.prod(wheels) / math.prod(leaves), rel=0.005)
    # the centre carries the minute hand and the fourth the second hand: one turn an hour, and one a minute
    beats = math.prod(wheels[1:]) / math.prod(leaves[1:]) * 2.0 * m.escapement.teeth
    assert beats == m.balance.beats_per_hour
    assert wheels[3] / leaves[3] * 2.0 * m.escapement.teeth * 60.0 == m.balance.beats_per_hour
