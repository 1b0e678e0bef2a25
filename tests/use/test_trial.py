"""The trial of fifteen days: against quadrature of settled rates, and the laws of the noise."""

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import erf

import oscsim
from oscsim.use.judging import CATEGORIES, DAYS
from oscsim.use.trial import criteria_of, lobatto


@pytest.fixture(scope="module")
def packet():
    return oscsim.load("packet")


def _rate(movement, position, warmth, hours):
    setting = oscsim.Setting(positions=position, hours=hours, temperature_c=warmth)
    return float(oscsim.settle(movement, setting).points.rate_s_per_day[0, 0])


def test_daily_rates_are_the_integral_over_the_day(packet):
    """scipy's adaptive quadrature of rates settled one by one."""
    found = oscsim.trial(packet)
    for day in (0, 10, 12):
        position, warmth = DAYS[day]
        mean = (
            quad(lambda h, p=position, t=warmth: _rate(packet, p, t, h), 0.0, 24.0, epsabs=1e-3, limit=5)[0]
            / 24
        )
        assert found.rates_s_per_day[day] == pytest.approx(mean, abs=2e-4)


def test_criteria_of_numbers_by_hand():
    """Fifteen daily rates and the seven criteria worked out with a pencil after ISO 3159's definitions."""
    days = np.array([1, 2, 3, 5, -1, -1, 4, 1, 0, 2, -3, 1, 3, 2, 4.5])
    found = criteria_of(days)
    assert found["M"] == pytest.approx(1.6)
    assert found["V"] == pytest.approx((1 + 2 + 0 + 3 + 2) / 5)
    assert found["Vmax"] == 3.0
    assert found["D"] == pytest.approx(1.5 - 1.0)
    assert found["D_other"] == pytest.approx(-0.5)
    assert found["P"] == pytest.approx(3.4)
    assert found["C"] == pytest.approx(6 / 30)
    assert found["R"] == pytest.approx(4.5 - 1.5)


def test_noise_alone_by_its_law(packet):
    """E V = 2σ/√π, E Vmax = √2 σ times the mean greatest of five half-normal values (quadrature of its law)."""
    greatest = math.sqrt(2) * quad(lambda x: 1 - erf(x / math.sqrt(2)) ** 5, 0, 12)[0]
    by_name = {one.name: one for one in oscsim.trial(packet, noise_s_per_day=1.5).criteria}
    assert by_name["V"].value == pytest.approx(1.5 * 2 / math.sqrt(math.pi))
    assert by_name["Vmax"].value == pytest.approx(1.5 * greatest, rel=1e-4)
    quiet = {one.name: one for one in oscsim.trial(packet, noise_s_per_day=0.0).criteria}
    assert quiet["V"].value == quiet["Vmax"].value == quiet["R"].value == 0.0


@pytest.mark.parametrize(
    ("sigma", "chance"), [(0.5, 1.0), (1.0, 0.98), (1.5, 0.72), (2.0, 0.40), (2.5, 0.20)]
)
def test_chance_of_mean_variation(packet, sigma, chance):
    """P(V ≤ 2) by a simulation of ours: mean of five |x - y|, normal noise, another generator."""
    noise = np.random.RandomState(5).normal(0.0, sigma, (40_000, 5, 2))
    simulated = (np.abs(noise[..., 0] - noise[..., 1]).mean(axis=1) <= 2.0).mean()
    assert simulated == pytest.approx(chance, abs=0.01)
    found = next(one for one in oscsim.trial(packet, noise_s_per_day=sigma).criteria if one.name == "V")
    assert found.chance == pytest.approx(simulated, abs=0.012)  # 20,000 trials: standard error 0.0035


def test_limits_of_the_standard():
    """ISO 3159:2009, both categories, as printed by an accredited laboratory (docs/outside-checks.md, 23)."""
    one, two = CATEGORIES[1], CATEGORIES[2]
    assert (one["M"].low, one["M"].high, two["M"].low, two["M"].high) == (-4, 6, -5, 8)
    assert (one["V"].high, two["V"].high, one["Vmax"].high, two["Vmax"].high) == (2, 3.4, 5, 7)
    assert (one["D"].low, one["D"].high, two["D"].low, two["D"].high) == (-6, 8, -8, 10)
    assert (one["P"].high, two["P"].high) == (10, 15)
    assert (one["C"].high, two["C"].high, one["R"].high, two["R"].high) == (0.6, 0.7, 5, 6)


def test_fewer_nodes_of_an_example_are_enough(packet):
    """The chance over examples with spreads near nought is the design's own."""
    narrow = packet.with_({"name": "narrow"})
    narrow = oscsim.loads(
        oscsim.dumps(narrow) + '\n[tolerance]\n"balance.unbalance_ug_cm" = { plus_minus = 1e-6 }\n'
    )
    alone, many = oscsim.trial(narrow, rng=1), oscsim.trial(narrow, examples=50, rng=1)
    assert many.all_seven == pytest.approx(alone.all_seven, abs=0.01)


def test_regulated_before_the_trial(packet):
    found = oscsim.trial(packet, regulate_s_per_day=1.0, examples=100)
    mean = next(one for one in found.criteria if one.name == "M")
    assert mean.value == pytest.approx(1.0, abs=1e-9)
    assert mean.chance > 0.95


def test_no_trial_for_a_watch_that_stops_or_knocks():
    # a turn of the barrel lasts half as long, at the same torque on the escape wheel
    quick = {"train.ratio": 1980.0, "mainspring.height_mm": 0.65, "mainspring.slip_torque_n_mm": None}
    short = oscsim.load("dockhand").with_(quick)
    found = oscsim.trial(short).to_dict()
    assert found["state"] == "stops"
    assert found["all_seven"] is None
    assert {one["value"] for one in found["criteria"]} == {None}
    assert "No trial: it stops within a day" in str(oscsim.trial(short))
    strong = oscsim.load("packet").with_({"mainspring.height_mm": 2.2, "mainspring.slip_torque_n_mm": None})
    assert oscsim.trial(strong).to_dict()["state"] == "knocks"


def test_lobatto_against_its_table():
    """M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 1964, table 25.6, n = 4."""
    x, w = lobatto(4)
    assert x == pytest.approx([-1, -0.44721360, 0.44721360, 1], abs=1e-8)
    assert w == pytest.approx([0.16666667, 0.83333333, 0.83333333, 0.16666667], abs=1e-8)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--category", "3"), "category"),
        (("--noise", "-1"), "noise_s_per_day"),
        (("--examples", "1.5"), "examples"),
        (("--regulate", "4000"), "regulate_s_per_day"),
    ],
)
def test_bad_input(refusal, options, said):
    assert said in refusal("trial", "packet", *options)
