"""The laws that fill a slip: drawn and middle ones agree, sizes of a family hang together, and so do its strip and
swing."""

import math

import numpy as np
import pytest

from oscsim.answers.joint import joint
from oscsim.condition import Condition
from oscsim.motion.sustain import sustain
from oscsim.movement import movement_from
from oscsim.operating import operating_points
from oscsim.setting import Setting
from oscsim.slips.slip import Slip
from oscsim.tables import put, value_at
from oscsim.tolerances import Spread
from oscsim.typical.families import FAMILIES, family_weights
from oscsim.typical.laws import GYRATION, draw, fill


def usual(family):
    """The design of a family's own usual sizes, every law at its middle."""
    tables = {"name": family.name}
    for one in fill({}, family, {"balance_diameter_mm": family.balance_diameter_mm}):
        put(tables, one.name, one.value)
    return movement_from(tables)


@pytest.mark.parametrize("name", FAMILIES)
def test_the_strip_of_its_usual_sizes_gives_a_family_its_usual_amplitude(name):
    """Factor on the drive that keeps up the family's usual amplitude: it was 0.4 to 2 once."""
    family = FAMILIES[name]
    points = operating_points(usual(family), Setting())
    factor = sustain(points.oscillators, np.radians([family.usual_deg])).factor[0]
    assert 0.8 < factor < 1.2


@pytest.mark.parametrize("name", FAMILIES)
def test_the_usual_sizes_hang_together(name):
    """Inertia m (0.85 D/2)²; strip half to two thirds of the free area (most turns at a half, by derivation)."""
    family = FAMILIES[name]
    m = usual(family)
    arm = GYRATION * family.balance_diameter_mm / 20.0
    assert m.balance.inertia_mg_cm2 == pytest.approx(m.balance.mass_mg * arm**2, rel=2e-3)
    b, s = m.barrel, m.mainspring
    free = math.pi / 4.0 * (b.inner_diameter_mm**2 - b.arbor_diameter_mm**2)
    assert 0.5 < s.length_mm * s.thickness_mm / free < 0.67
    # a flat balance of steel or brass (7.8 to 8.5 mg/mm³) fills a small part of the disc 2 mm high
    assert m.balance.mass_mg < 0.5 * 8.5 * math.pi / 4.0 * family.balance_diameter_mm**2 * 2.0


def test_drawn_designs_lie_about_the_middle_one_as_its_ranges_say():
    """Medians are the middles; of a number whose law stands alone, 95 of 100 draws lie in its range."""
    family, facts = FAMILIES["plain"], {"balance_diameter_mm": 10.0}
    given = {"balance.beats_per_hour": 21600}
    drawn = draw(given, family, facts, None, 4000, np.random.default_rng(3))
    for one in fill(given, family, facts):
        if one.spread is None:
            assert (drawn[one.name] == one.value).all()
        else:
            middle = np.median(drawn[one.name])
            assert abs(middle - one.value) < 0.12 * one.spread.half_width(one.value) + 1e-12, one.name
    for name in ("escapement.lock_deg", "escapement.draw_deg", "mainspring.coil_efficiency"):
        (one,) = [f for f in fill(given, family, facts) if f.name == name]
        low, high = one.ends
        inside = np.mean((drawn[name] > low) & (drawn[name] < high))
        assert 0.93 < inside < 0.97  # three standard errors of 4,000 are 0.01


def test_what_hangs_together_is_drawn_together():
    drawn = draw({}, FAMILIES["plain"], {}, None, 2000, np.random.default_rng(1))
    for one, other, least in (
        ("balance.mass_mg", "balance.inertia_mg_cm2", 0.9),
        ("balance.inertia_mg_cm2", "escapement.lever_inertia_mg_cm2", 0.6),
        ("barrel.inner_diameter_mm", "mainspring.height_mm", 0.5),
        ("balance.mass_mg", "barrel.inner_diameter_mm", 0.5),
    ):
        assert np.corrcoef(np.log(drawn[one]), np.log(drawn[other]))[0, 1] > least, (one, other)


def test_what_is_measured_is_drawn_with_its_error():
    given = {"mainspring.thickness_mm": 0.11, "escapement.teeth": 15, "balance.mass_mg": 60.0}
    own = (Spread("balance.mass_mg", percent=20.0),)
    drawn = draw(given, FAMILIES["plain"], {}, None, 4000, np.random.default_rng(2), own)
    assert np.std(drawn["mainspring.thickness_mm"]) / 0.11 == pytest.approx(0.015, rel=0.1)
    assert np.std(drawn["balance.mass_mg"]) / 60.0 == pytest.approx(0.2 / 1.96, rel=0.1)
    assert (drawn["escapement.teeth"] == 15).all()


@pytest.mark.parametrize("name", FAMILIES)
def test_a_family_is_known_by_its_own_traits(name):
    """Most probable of all where the bench sees its usual sizes and winding, or beside the commoner one like it."""
    f = FAMILIES[name]
    weights = family_weights(
        {
            "balance.beats_per_hour": f.beats_per_hour,
            "balance.mass_mg": f.rim_mass_mg * (f.balance_diameter_mm / 10.0) ** 3,
            "escapement.lift_angle_deg": f.lift_angle_deg,
        },
        {"balance_diameter_mm": f.balance_diameter_mm},
        f.winding,
    )
    assert math.isclose(sum(weights.values()), 1.0)
    assert weights.get(name, 0.0) > 0.2 * f.share
    if f.share == 1.0:
        assert next(iter(weights)) == name


def slip(**more):
    given = {"balance.beats_per_hour": 21600, "train.jewels": 17} | more
    return Slip(given=given, facts={"balance_diameter_mm": 10.0})


@pytest.mark.parametrize("strip", [{}, {"mainspring.height_mm": 1.2}, {"mainspring.height_mm": 1.2,
                         "mainspring.thickness_mm": 0.107, "mainspring.length_mm": 330.0}])  # fmt: skip
def test_designs_of_a_slip_have_their_makers_habit(strip):
    """Sound and wound none knocks, none is near its stop a day later, and they show what the family shows."""
    found = joint(slip(**strip), rng=4)
    assert np.isfinite(found.amplitude_deg).all()
    assert (found.amplitude_deg[:, :, 1] > 150.0).all()
    assert 260.0 < np.median(found.amplitude_deg[:, 0, 0]) < 300.0
    # common practice, no source: some 25 less upright
    less = found.amplitude_deg[:, 0, 0] - found.amplitude_deg[:, 1, 0]
    assert 18.0 < np.median(less) < 42.0
    assert np.mean((less > 0.0) & (less < 60.0)) > 0.95
    assert found.solved == (
        "" if len(strip) == 3 else "mainspring.thickness_mm" if strip else "mainspring.height_mm"
    )
    assert math.isclose(found.weight.sum(), 1.0)
    assert sum(found.families.values()) == pytest.approx(1.0)


def test_a_solved_strip_gives_the_amplitude_it_was_solved_for():
    """Each design settles where the drawn amplitude was: their spread is the habit's own, ± 45 deg at 95 %."""
    found = joint(slip().with_(family="plain"), rng=5, designs=1000)
    shown = found.amplitude_deg[:, 0, 0]
    kin = FAMILIES["plain"]
    assert np.mean(shown) == pytest.approx(kin.usual_deg, abs=6.0)  # what knocks is left out at the upper end
    assert 15.0 < np.std(shown) < kin.usual_off_deg / 1.96 + 2.0


def test_a_stack_of_designs_is_each_of_them():
    """Design by design through the file's own road: the same operating points."""
    found = joint(slip(), rng=6, designs=60)
    setting = Setting(positions=("CH", "12H"), hours=(0.0, 24.0), condition=Condition(drive=0.9))
    whole = operating_points(found.movement, setting)
    torque = whole.escape_torque.reshape(whole.shape)
    dry = whole.oscillators.dry.reshape(whole.shape)
    for n in (0, 20, 41):
        tables = {"name": "one"}
        for name, values in found.values.items():
            if np.isfinite(values[n]):
                info_whole = name in ("escapement.teeth", "train.jewels", "train.meshes")
                put(tables, name, int(values[n]) if info_whole else float(values[n]))
        one = movement_from(tables)
        alone = operating_points(one, setting)
        assert torque[n] == pytest.approx(alone.escape_torque.reshape(2, 2), rel=1e-9)
        assert dry[n] == pytest.approx(alone.oscillators.dry.reshape(2, 2), rel=1e-9)
        assert value_at(one, "balance.mass_mg") == found.values["balance.mass_mg"][n]
