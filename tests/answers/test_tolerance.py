"""Monte Carlo over a design's spreads, and the ``[tolerance]`` table.

Sources: percentiles by numpy over copies of the design settled one by one; Kolmogorov-Smirnov against scipy's
distributions; for a nearly linear model first-order index and total are the shares of the variance, (s_i sigma_i)² over
their sum (I. M. Sobol, Math. Comput. Simul. 55 (2001) 271), with sensitivities by finite differences.
"""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

import oscsim
from oscsim.answers.tolerance import draw, spreads_of, tolerance
from oscsim.answers.whatif import sensitivities
from oscsim.condition import Condition
from oscsim.errors import InputError
from oscsim.motion import sweep
from oscsim.movement import Movement
from oscsim.tolerances import Spread
from oscsim.typical.numbers import DEFAULT_SPREADS

DOCKHAND, PACKET, FERRYMAN = (oscsim.load(name) for name in ("dockhand", "packet", "ferryman"))
WOUND = oscsim.Setting()
BANDS = ("amplitude_deg", "apparent_amplitude_deg", "rate_s_per_day")


def with_spreads(movement: Movement, text: str) -> Movement:
    return oscsim.loads(f"{oscsim.dumps(movement)}\n[tolerance]\n{text}\n")


def bands(found) -> np.ndarray:
    ends = [getattr(getattr(found, band), end) for band in BANDS for end in ("low", "middle", "high")]
    return np.array(ends)


# -------------------------------------------------------------------------------------------- the examples


def test_percentiles_of_copies_settled_one_by_one() -> None:
    setting = oscsim.Setting(positions=("CH", "9H"), hours=(0.0, 24.0))
    examples = 41
    found = tolerance(DOCKHAND, setting, examples=examples, rng=7, sobol=False)
    values = draw(DOCKHAND, spreads_of(DOCKHAND), examples, np.random.default_rng(7))
    settled = [
        oscsim.settle(DOCKHAND.with_({name: float(v[i]) for name, v in values.items()}), setting).points
        for i in range(examples)
    ]
    for band in BANDS:
        each = np.array([getattr(p, band) for p in settled])
        for percent, end in ((5, "low"), (50, "middle"), (95, "high")):
            want = np.percentile(each, percent, axis=0, method="closest_observation")
            assert getattr(getattr(found, band), end) == pytest.approx(want, abs=1e-6)
    assert found.hours.tolist() == [0.0, 24.0]
    assert found.states["running"] == pytest.approx(np.ones((2, 2)))
    assert found.worst_residual_rad == pytest.approx(max(p.residual_rad.max() for p in settled), abs=1e-10)
    assert found.first_order is found.total is None


def test_the_seed_decides_and_nothing_else(monkeypatch: pytest.MonkeyPatch, tmp_path) -> None:
    monkeypatch.setattr(sweep, "BLOCK", 100)  # several blocks
    kwargs = {"examples": 120, "sobol": False}
    one = tolerance(PACKET, rng=5, **kwargs)
    seen: list[tuple[int, int]] = []
    with ThreadPoolExecutor(2) as pool:
        others = [
            tolerance(PACKET, rng=5, executor=pool, **kwargs),
            tolerance(PACKET, rng=5, store=tmp_path, progress=lambda *at: seen.append(at), **kwargs),
            tolerance(PACKET, rng=5, store=tmp_path, executor=pool, **kwargs),
            tolerance(PACKET, rng=np.random.default_rng(5), **kwargs),
        ]
    for other in others:
        assert np.array_equal(bands(one), bands(other))
    assert not np.array_equal(bands(one), bands(tolerance(PACKET, rng=6, **kwargs)))
    assert seen == [(100, 480), (200, 480), (300, 480), (400, 480), (480, 480)]


@pytest.mark.parametrize("shape", ["uniform", "normal"])
def test_what_a_spread_means(shape: str) -> None:
    """Uniform: ± holds all; normal: ± holds 95 %. Kolmogorov-Smirnov against scipy."""
    from scipy import stats

    spreads = [
        Spread("balance.inertia_mg_cm2", percent=3.0, shape=shape),  # of 20: ± 0.6
        Spread("escapement.lock_deg", plus_minus=0.4, shape=shape),
    ]
    found = draw(DOCKHAND, spreads, 20000, np.random.default_rng(1))
    for name, middle, half in (("balance.inertia_mg_cm2", 20.0, 0.6), ("escapement.lock_deg", 2.8, 0.4)):
        values = found[name]
        inside = np.mean(np.abs(values - middle) <= half)
        if shape == "uniform":
            want = stats.uniform(middle - half, 2 * half)
            assert inside == 1.0
        else:
            want = stats.norm(middle, half / stats.norm.ppf(0.975))
            assert inside == pytest.approx(0.95, abs=0.006)  # four standard errors
        assert stats.kstest(values, want.cdf).pvalue > 1e-3
    assert abs(np.corrcoef(*found.values())[0, 1]) < 0.03  # independent of one another


def test_draws_out_of_range_are_drawn_again() -> None:
    """The notch's shake, 0.3 deg, cannot be negative: what is left of ± 0.6 is even from 0 to 0.9."""
    from scipy import stats

    spread = Spread("escapement.notch_shake_deg", plus_minus=0.6, shape="uniform")
    values = draw(DOCKHAND, [spread], 5000, np.random.default_rng(2))[spread.name]
    assert stats.kstest(values, stats.uniform(0.0, 0.9).cdf).pvalue > 1e-3


def test_a_range_that_is_never_met() -> None:
    spread = Spread("train.mesh_efficiency", plus_minus=1e6)
    with pytest.raises(
        InputError, match=r"tolerance\.train\.mesh_efficiency: almost no draw lies in the range"
    ):
        draw(DOCKHAND, [spread], 20, np.random.default_rng(0))


def test_states_are_counted_and_what_stops_is_below_all() -> None:
    """At an hour by which some examples have stopped: no low end, never a smaller sample passed off as all."""
    found = tolerance(DOCKHAND, oscsim.Setting(hours=42.0), examples=100, rng=1)
    stops = found.states["stops"][0, 0]
    assert 0.1 < stops < 0.9
    assert sum(share[0, 0] for share in found.states.values()) == pytest.approx(1.0)
    assert math.isnan(found.amplitude_deg.low[0, 0])
    assert np.isfinite(found.amplitude_deg.high[0, 0])
    assert found.first_order is found.total is None
    assert found.to_dict()["bands"][0]["amplitude_deg_5_percent"] is None


def test_all_stopped() -> None:
    found = tolerance(DOCKHAND, oscsim.Setting(hours=80.0), examples=20)
    assert list(found.states) == ["stops"]
    assert np.isnan(bands(found)).all()
    assert math.isnan(found.worst_residual_rad)
    assert found.first_order is None


# ------------------------------------------------------------------------------------------- what matters

LINEAR = """
balance.inertia_mg_cm2 = { percent = 0.6 }
balance.viscous_q = { percent = 1.0, shape = "uniform" }
escapement.lock_deg = { plus_minus = 0.05 }
escapement.pallet_friction = { percent = 1.0, shape = "uniform" }
mainspring.slip_torque_n_mm = { percent = 0.5 }
balance.heavy_point_deg = { plus_minus = 5.0 }
"""


@pytest.mark.parametrize(
    "setting",
    [WOUND, oscsim.Setting(positions=["12H", "CH"], turns=[4.0, 2.0], condition=Condition(drag=1.3))],
)
def test_sobol_of_a_nearly_linear_model(setting: oscsim.Setting) -> None:
    movement = with_spreads(DOCKHAND, LINEAR)
    found = tolerance(movement, setting, examples=50, rng=3)
    steps = sensitivities(movement, [s.name for s in found.spreads], setting)
    slopes = np.stack([steps.amplitude_deg_per_unit[:, 0, 0], steps.rate_s_per_day_per_unit[:, 0, 0]])
    sigmas = []
    for spread in found.spreads:
        part, field = spread.name.split(".")
        half = spread.half_width(movement.tables()[part][field])
        sigmas.append(half / math.sqrt(3.0) if spread.shape == "uniform" else half / 1.96)
    amplitude, rate = (one / one.sum() for one in (slopes * sigmas) ** 2)
    for share, alone, total in (
        (amplitude, found.first_order, found.total),
        (rate, found.rate_first_order, found.rate_total),
    ):
        assert alone is not None
        assert total is not None
        assert alone == pytest.approx(share, abs=0.04)
        assert total == pytest.approx(share, abs=0.04)
    assert max(amplitude) < 0.8  # several matter
    assert np.argmax(rate) != np.argmax(amplitude) or max(abs(rate - amplitude)) > 0.1  # and not alike


def test_one_spread_has_all_of_the_variance() -> None:
    found = tolerance(with_spreads(DOCKHAND, "escapement.lock_deg.percent = 5.0"), WOUND, examples=20)
    assert found.first_order == found.total == [1.0]


# ---------------------------------------------------------------------------------------- [tolerance]


def test_the_table_of_a_design_file() -> None:
    text = """
    balance.inertia_mg_cm2 = { percent = 1.5 }
    [tolerance.escapement]
    lock_deg = { plus_minus = 0.3, shape = "uniform" }
    [tolerance.train.arbors.fourth]
    pivot_radius_mm.percent = 4
    """
    movement = with_spreads(DOCKHAND, text)
    assert movement.tolerance == (
        Spread("balance.inertia_mg_cm2", percent=1.5),
        Spread("escapement.lock_deg", plus_minus=0.3, shape="uniform"),
        Spread("train.arbors.fourth.pivot_radius_mm", percent=4),
    )
    assert oscsim.loads(oscsim.dumps(movement)) == movement
    assert movement.with_({"balance.viscous_q": 200.0}).tolerance == movement.tolerance
    found = tolerance(movement, WOUND, examples=20)
    assert (found.spreads, found.assumed) == (movement.tolerance, False)
    entry = found.to_dict()["spreads"][1]
    assert {key: entry[key] for key in ("name", "plus_minus", "shape")} == {
        "name": "escapement.lock_deg",
        "plus_minus": 0.3,
        "shape": "uniform",
    }


@pytest.mark.parametrize("spread", DEFAULT_SPREADS, ids=lambda s: s.name)
def test_default_spreads_round_trip(spread: Spread) -> None:
    kind, value = ("percent", spread.percent) if spread.percent else ("plus_minus", spread.plus_minus)
    movement = with_spreads(DOCKHAND, f"{spread.name} = {{ {kind} = {value} }}")
    assert movement.tolerance == (spread,)
    assert oscsim.loads(oscsim.dumps(movement)) == movement


def test_default_spreads_are_said_to_be_assumed() -> None:
    found = tolerance(DOCKHAND, WOUND, examples=20, sobol=False)
    assert (found.spreads, found.assumed) == (DEFAULT_SPREADS, True)
    without = DOCKHAND.with_({"balance.pivot_friction": 0.0})  # per cent of nothing is nothing
    names = {spread.name for spread in tolerance(without, WOUND, examples=20, sobol=False).spreads}
    assert names == {spread.name for spread in DEFAULT_SPREADS} - {"balance.pivot_friction"}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("escapement.lock_deg = { percent = -1.0 }", "percent = -1.0: out of range, must be above 0, at most 90 %"),
        ("escapement.lock_deg = { plus_minus = 0 }", "plus_minus = 0: out of range, must be above 0"),
        ("escapement.lock_deg = { percent = 91 }", "percent = 91: out of range"),
        ("escapement.lock_deg = { percent = nan }", "percent = nan: must be a finite number above 0"),
        ("escapement.lock_deg = { percent = true }", "percent = True: must be a finite number above 0"),
        ("escapement.lock_deg = { percent = '2' }", "percent = '2': must be a finite number above 0"),
        (
            "escapement.lock_deg = { percent = 2, plus_minus = 0.1 }",
            "tolerance.escapement.lock_deg: exactly one of plus_minus and percent is needed",
        ),
        ("escapement.lock_deg = { shape = 'normal' }", "exactly one of plus_minus and percent is needed"),
        ("escapement.lock_deg = {}", "exactly one of plus_minus and percent is needed"),
        ("escapement.lock_deg = { percent = 2, shape = 'even' }", "shape = 'even': must be one of normal, uniform"),
        ("escapement.lock_deg = { percentage = 2, percent = 2 }", "percentage: unknown key; did you mean 'percent'?"),
        ("escapement.lock_deg = 0.3", "tolerance.escapement.lock_deg = 0.3: must be like { percent = 2.0 }"),
        ("escapement.lok_deg = { percent = 2 }", "no number of a design file; did you mean 'escapement.lock_deg'?"),
        ("name = { percent = 2 }", "tolerance.name: no number of a design file"),
        ("escapement = { percent = 2 }", "tolerance.escapement: no number of a design file"),
    ],
)  # fmt: skip
def test_tables_refused(text: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        with_spreads(DOCKHAND, text)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)


def test_not_a_table() -> None:
    with pytest.raises(InputError, match="tolerance = 5: not a table"):
        oscsim.loads(f"tolerance = 5\n{oscsim.dumps(DOCKHAND)}")


@pytest.mark.parametrize(
    ("movement", "text", "said"),
    [
        (DOCKHAND, "escapement.lift_angle_deg.plus_minus = 1", "'Dockhand' does not give this number"),
        (FERRYMAN, "mainspring.slip_torque_n_mm.percent = 1", "'Ferryman' does not give this number"),
        (DOCKHAND, "train.jewels.plus_minus = 1", "tolerance.train.jewels: a whole number has no spread"),
        (
            FERRYMAN,
            "mainspring.free_curvature_per_m.percent = 2",
            "tolerance.mainspring.free_curvature_per_m.percent: its value is 0, give plus_minus",
        ),
    ],
)
def test_spreads_that_this_design_cannot_have(movement: Movement, text: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        tolerance(with_spreads(movement, text), WOUND, examples=20)
    assert said in str(caught.value)


@pytest.mark.parametrize(
    ("examples", "said"),
    [(9, "examples = 9: out of range"), (10.0, "not a whole number"), (2_000_000, "from 10 to 1e+06")],
)
def test_examples_out_of_range(examples: float, said: str) -> None:
    with pytest.raises(InputError) as caught:
        tolerance(DOCKHAND, examples=examples)  # type: ignore[arg-type]
    assert said in str(caught.value)
