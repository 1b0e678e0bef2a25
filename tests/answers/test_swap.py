"""Another mainspring in the present barrel.

Sources: the half-filled barrel and its worked strip (watchmaking texts); the strip of 13.1 and 8.09 N·mm, by derivation
from elastic bending; torque by height, thickness and length (elastic bending); W. J. Kleinlein, Rules and Practice for
Adjusting Watches (1920) §65; amplitudes are those of ``settle`` for the changed design.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

import oscsim
from oscsim.answers.band import band
from oscsim.answers.candidates import Candidate, read_candidates, usual_sizes
from oscsim.answers.swap import CAUTION, Fitted, calibrate, swap
from oscsim.errors import InputError
from oscsim.movement import Movement
from oscsim.parts.mainspring import barrel_torque

from ..sizes import size

DOCKHAND, PACKET, FERRYMAN = (oscsim.load(name) for name in ("dockhand", "packet", "ferryman"))
#: A straight strip that stays elastic, without coil friction, bridle and almost without a tail.
ELASTIC = {
    "mainspring.elastic_limit_mpa": 10000.0,
    "mainspring.free_curvature_per_m": 0.0,
    "mainspring.coil_efficiency": 1.0,
    "mainspring.tail_turns": 0.01,
    "mainspring.slip_torque_n_mm": None,
}


def strip(movement: Movement, **changes: float) -> Candidate:
    """A candidate with the present dimensions but for ``changes``."""
    m = movement.mainspring
    size = {"height_mm": m.height_mm, "thickness_mm": m.thickness_mm, "length_mm": m.length_mm}
    return Candidate(**({"name": "candidate"} | size | changes))


def fitted(movement: Movement, **changes: float) -> Fitted:
    (found,) = swap(movement, [strip(movement, **changes)]).candidates
    return found


def barrel(inner: float, arbor: float) -> dict[str, float]:
    return {"barrel.inner_diameter_mm": inner, "barrel.arbor_diameter_mm": arbor}


# ------------------------------------------------------------------------- the spring against outside figures


def test_half_filled_barrel() -> None:
    """Barrel 21.3, arbor 7.1, strip 0.254 mm: 6.60 turns, about 620 mm (worked example of watchmaking texts)."""
    movement = FERRYMAN.with_(barrel(21.3, 7.1))
    lengths = [420.0, 520.0, 620.0, 720.0, 820.0]
    several = [strip(movement, name=str(n), thickness_mm=0.254, length_mm=n) for n in lengths]
    found = swap(movement, several).candidates
    assert max(found, key=lambda f: f.turns).candidate.length_mm == 620.0
    (most,) = (f for f in found if f.candidate.length_mm == 620.0)
    assert most.turns == pytest.approx(6.60, abs=0.005)
    assert most.fill == pytest.approx(1.0, abs=0.01)
    formula = (math.sqrt(2 * (21.3**2 + 7.1**2)) - (21.3 + 7.1)) / (2 * 0.254)
    assert most.turns == pytest.approx(formula, abs=1e-3)


def test_straight_elastic_strip() -> None:
    """R 5.3, r 1.77, h 0.12, w 1.3, L 326.8 mm, 200 GPa: 13.1 N·mm wound, 8.09 let down (by derivation)."""
    movement = DOCKHAND.with_(ELASTIC | barrel(10.6, 3.54) | {"mainspring.length_mm": 300.0})
    found = fitted(movement, height_mm=1.3, thickness_mm=0.12, length_mm=326.8)
    assert found.full_torque_n_mm == pytest.approx(13.1, abs=0.05)
    after = found.candidate.fitted(movement)
    low, high = (1e3 * float(barrel_torque(after.mainspring, after.barrel, n)) for n in (0.5, 1.0))
    assert 2 * low - high == pytest.approx(8.09, abs=0.01)  # a straight line: to no turns at all
    assert found.stress == pytest.approx(200e9 * 0.12e-3 / (2 * 1.77e-3) / 10000e6, rel=1e-12)


@pytest.mark.parametrize(
    ("key", "exponent"), [("height_mm", 1.0), ("thickness_mm", 3.0), ("length_mm", -1.0)]
)
def test_exponents_of_the_torque(key: str, exponent: float) -> None:
    """At equal turns of bending, laid close on the arbor (docs/physics.md (5)), of an elastic strip."""
    movement = DOCKHAND.with_(ELASTIC)
    sizes = [factor * getattr(movement.mainspring, key) for factor in (0.9, 1.1)]
    found = swap(movement, [strip(movement, **{key: size}) for size in sizes]).candidates
    arbor = movement.barrel.arbor_diameter_mm / 2
    per_turn = {}
    for f in found:
        h, length = f.candidate.thickness_mm, f.candidate.length_mm
        turns = (math.sqrt(arbor**2 + length * h / math.pi) - arbor) / h
        per_turn[getattr(f.candidate, key)] = f.full_torque_n_mm / turns
    rise = math.log(per_turn[sizes[1]] / per_turn[sizes[0]])
    assert rise / math.log(1.1 / 0.9) == pytest.approx(exponent, abs=1e-9)


@pytest.mark.parametrize("name", size(["dockhand", "ferryman", "pilot"], oscsim.bundled()))
def test_a_hundredth_of_a_millimetre_is_felt(name: str) -> None:
    """Kleinlein §65: 0.01 mm too thin cost about ¼ turn of total motion late in the day, 45 deg on each side.

    Of the model's own strips, which have taken a set, it costs 13-20 deg wound: the sign and the order are asked.
    """
    movement = oscsim.load(name)
    found = swap(movement, [strip(movement, thickness_mm=movement.mainspring.thickness_mm - 0.01)])
    (thin,) = found.candidates
    assert 10.0 < found.present.flat_wound_deg - thin.flat_wound_deg < 45.0
    assert 5.0 < found.present.flat_24h_deg - thin.flat_24h_deg < 45.0


# -------------------------------------------------------------------------------------------- what it shows


@pytest.mark.parametrize("movement", [DOCKHAND, FERRYMAN], ids=lambda m: m.name)
def test_numbers_are_those_of_the_changed_design(movement: Movement) -> None:
    found = fitted(movement, height_mm=1.05 * movement.mainspring.height_mm, length_mm=300.0)
    changed = movement.with_(
        {"mainspring.height_mm": 1.05 * movement.mainspring.height_mm, "mainspring.length_mm": 300.0}
    )
    p = oscsim.settle(changed, oscsim.Setting(positions=["CH", "12H"], hours=[0, 24])).points
    amplitudes = [found.flat_wound_deg, found.flat_24h_deg, found.vertical_wound_deg, found.vertical_24h_deg]
    assert amplitudes == pytest.approx(p.amplitude_deg.ravel().tolist(), abs=1e-9)
    assert found.state == p.state[0, 0] == "running"
    assert found.full_torque_n_mm == pytest.approx(p.barrel_torque_n_mm[0, 0], rel=1e-12)
    assert found.turns == pytest.approx(p.turns[0, 0], rel=1e-12)
    train, teeth, beats = movement.train, movement.escapement.teeth, movement.balance.beats_per_hour
    assert found.reserve_hours == pytest.approx(found.turns * train.ratio * 2 * teeth / beats, rel=1e-12)
    m, b = changed.mainspring, changed.barrel
    free = math.pi / 4 * (b.inner_diameter_mm**2 - b.arbor_diameter_mm**2)
    assert found.fill == pytest.approx(2 * m.thickness_mm * m.length_mm / free, rel=1e-12)
    bend = 2e3 / b.arbor_diameter_mm - m.free_curvature_per_m  # 1/m
    by_hand = m.modulus_gpa * 1e9 * m.thickness_mm * 1e-3 / 2 * bend / (m.elastic_limit_mpa * 1e6)
    assert found.stress == pytest.approx(by_hand, rel=1e-12)


def test_the_present_spring_is_rank_0_and_the_floor_is_that_of_the_band() -> None:
    found = swap(DOCKHAND, [strip(DOCKHAND, height_mm=1.4)], tolerance_s_per_day=12.0)
    assert found.floor_deg == band(DOCKHAND, 12.0).floor_deg
    assert not found.unbalance_is_usual
    for row in (found.present, *found.candidates):
        movement = row.candidate.fitted(DOCKHAND)
        then = oscsim.settle(movement, oscsim.Setting(hours=row.floor_hours)).points
        assert then.amplitude_deg[0, 0] == pytest.approx(found.floor_deg, abs=1e-2)
    rows = found.rows()
    assert [row["rank"] for row in rows] == [0, 1]
    assert rows[0]["flat_wound_deg"] == pytest.approx(
        oscsim.settle(DOCKHAND).points.amplitude_deg[0, 0], abs=1e-9
    )
    assert found.present.candidate.height_mm == 1.3


def test_ranking_and_strips_that_do_not_fit() -> None:
    several = [
        strip(DOCKHAND, name="too long", length_mm=3500.0),
        strip(DOCKHAND, name="knocks", height_mm=2.6, slip_torque_n_mm=20.0),
        strip(DOCKHAND, name="stops", height_mm=0.01),
        strip(DOCKHAND, name="weak", height_mm=1.0),
        strip(DOCKHAND, name="below zero", thickness_mm=-0.1),
        strip(DOCKHAND, name="strong", height_mm=1.6, slip_torque_n_mm=8.5),
    ]
    found = swap(DOCKHAND, several, wanted_deg=270.0)
    order = [(f.candidate.name, f.state) for f in found.candidates]
    assert order[-2:] == [("too long", "does not fit"), ("below zero", "does not fit")]
    assert [state for _, state in order] == ["running"] * 2 + ["knocks", "stops"] + ["does not fit"] * 2
    off = [abs(f.flat_wound_deg - 270.0) for f in found.candidates[:2]]
    assert off[0] < off[1]
    assert order[0][0] == "strong"
    assert "does not fit the barrel; it fills 385.0 of the 68.8 mm²" in found.candidates[4].remark
    assert "mainspring.thickness_mm = -0.1 mm: out of range" in found.candidates[5].remark
    assert math.isnan(found.candidates[4].fill)
    nearer = swap(DOCKHAND, several, wanted_deg=230.0)
    assert nearer.candidates[0].candidate.name == "weak"
    body = found.to_dict()
    assert body["candidates"][5]["flat_wound_deg"] is None
    assert body["candidates"][3]["flat_wound_deg"] is None
    assert body["caution"] == CAUTION
    assert "let it down" in CAUTION


def test_near_the_knock() -> None:
    """Just below 360° - B/(2g) - 8° (docs/physics.md §2) a remark, above it the state."""
    e = PACKET.escapement
    bank = e.lock_deg + 2 * e.run_deg + e.pallet_lift_deg
    knock = 360.0 - bank / (2 * e.fork_ratio) - 8.0
    seen = set()
    several = [strip(PACKET, height_mm=2.2, slip_torque_n_mm=slip) for slip in (7.0, 7.9, 8.3, 8.7, 9.5)]
    for found in swap(PACKET, several).candidates:
        assert found.knock_margin_deg == pytest.approx(knock - found.flat_wound_deg, abs=1e-9)
        expected = "knocks" if found.flat_wound_deg > knock else "running"
        near = 0.0 < found.knock_margin_deg < 10.0
        assert (found.state, found.remark != "") == (expected, near)
        seen.add((expected, near))
    assert seen == {("running", False), ("running", True), ("knocks", False)}


def test_above_any_number_the_floor_is_still_reached() -> None:
    """Beyond 400 deg at full wind there is no amplitude, but the run-down comes down to the floor."""
    found = swap(FERRYMAN, [strip(FERRYMAN, height_mm=9.0)])
    (strong,) = found.candidates
    assert (strong.state, math.isnan(strong.flat_wound_deg)) == ("knocks", True)
    assert strong.floor_hours > found.present.floor_hours


# ----------------------------------------------------------------------------------- bridle and usual sizes


def test_a_bridle_of_its_own() -> None:
    """By hand: slip torque over the torque of the strip packed, (5)-(7) of docs/physics.md, is the present one's."""
    strong = {"height_mm": 1.6, "thickness_mm": 0.13, "length_mm": 380.0}
    without = {"mainspring.slip_torque_n_mm": None}
    packed = oscsim.settle(DOCKHAND.with_(without)).points.barrel_torque_n_mm[0, 0]
    sized = {f"mainspring.{key}": value for key, value in strong.items()}
    new = oscsim.settle(DOCKHAND.with_(sized | without)).points
    own = 6.6 / packed * new.barrel_torque_n_mm[0, 0]
    kept, judged = (
        swap(DOCKHAND, [strip(DOCKHAND, **strong)], own_bridle=asked).candidates[0] for asked in (False, True)
    )
    assert (kept.slip_torque_n_mm, kept.full_torque_n_mm) == pytest.approx((6.6, 6.6), rel=1e-12)
    assert kept.held_torque_n_mm == pytest.approx(new.barrel_torque_n_mm[0, 0], rel=1e-12)
    assert kept.held_turns == pytest.approx(new.turns[0, 0], rel=1e-12)
    assert kept.own_slip_torque_n_mm == pytest.approx(own, rel=1e-12)
    assert judged.full_torque_n_mm == pytest.approx(own, rel=1e-9)
    assert judged.reserve_hours > 3 * kept.reserve_hours  # a strip that slips at once has few turns
    assert "would slip at 11.33 N·mm" in str(swap(DOCKHAND, [strip(DOCKHAND, **strong)])).replace("\n", " ")


@pytest.mark.parametrize(("movement", "wanted"), [(DOCKHAND, 270.0), (FERRYMAN, 270.0), (PACKET, 260.0)])
def test_usual_sizes(movement: Movement, wanted: float) -> None:
    """Eight sizes that settle near the amplitude they are for, in whole steps, in the present barrel."""
    found = swap(movement, None, wanted_deg=wanted)
    assert {f.candidate.name for f in found.candidates} == {c.name for c in usual_sizes(movement, wanted)}
    assert len(found.candidates) == 8
    for one in found.candidates:
        assert one.state == "running"
        assert one.flat_wound_deg == pytest.approx(
            wanted, abs=8.0
        )  # a step of 0.05 in 1.3 mm is 4 % of torque
        size = one.candidate
        for value, step in ((size.height_mm, 0.05), (size.thickness_mm, 0.005), (size.length_mm, 10.0)):
            assert value / step == pytest.approx(round(value / step), abs=1e-9)
        assert one.fill == pytest.approx(found.present.fill, abs=0.025)
    first, *others = found.candidates
    assert first.flat_wound_deg == pytest.approx(wanted, abs=5.0)
    as_near = [f for f in others if abs(f.flat_wound_deg - wanted) <= 5.0]
    assert as_near, "one alone within what can be read is ranked by nothing"
    assert all(first.flat_24h_deg >= f.flat_24h_deg for f in as_near)
    # of strips that pull alike a higher, thinner one has more turns: N = (√(2(D² + d²)) − (D + d))/(2h)
    assert all(first.candidate.height_mm >= f.candidate.height_mm for f in as_near)
    assert all(first.reserve_hours >= f.reserve_hours - 0.1 for f in as_near)


def test_what_a_watchmaker_would_take_comes_first() -> None:
    """A degree nearer is no better if it leaves ten less a day later; near the knock, or too high, comes last."""
    thick, thin = (
        strip(FERRYMAN, height_mm=w, thickness_mm=h, length_mm=ell)
        for w, h, ell in ((2.05, 0.2, 440.0), (2.3, 0.19, 460.0))
    )
    found = swap(FERRYMAN, [thick, thin], wanted_deg=300.0).candidates
    assert abs(found[0].flat_wound_deg - 300.0) > abs(found[1].flat_wound_deg - 300.0)
    assert [f.candidate for f in found] == [thin, thick]
    high = strip(FERRYMAN, height_mm=2.4, thickness_mm=0.185, length_mm=470.0)
    assert [f.candidate for f in swap(FERRYMAN, [high, thick], wanted_deg=300.0).candidates] == [thick, high]
    knocking = strip(FERRYMAN, height_mm=2.3, thickness_mm=0.205, length_mm=430.0)
    near, far = swap(FERRYMAN, [knocking, thin], wanted_deg=317.0).candidates[::-1]
    assert 0.0 < near.knock_margin_deg < 10.0 < far.knock_margin_deg
    assert abs(near.flat_wound_deg - 317.0) < abs(far.flat_wound_deg - 317.0)


def test_the_table_says_what_each_does_to_reserve_and_a_day_later() -> None:
    found = swap(FERRYMAN, [strip(FERRYMAN, height_mm=2.3, thickness_mm=0.19, length_mm=460.0)])
    (one,) = found.candidates
    told = str(found).split("Against the present spring")[1].splitlines()[2].split()
    change = [
        one.flat_wound_deg - found.present.flat_wound_deg,
        one.flat_24h_deg - found.present.flat_24h_deg,
    ]
    assert [float(v) for v in told[-4:-2]] == pytest.approx(change, abs=0.05)
    assert float(told[-1]) == pytest.approx(one.reserve_hours - found.present.reserve_hours, abs=0.05)
    assert "Order:" not in str(found)


def test_usual_sizes_behind_a_bridle_that_never_slips() -> None:
    """A slip torque beyond what the strip pulls changes nothing: the sizes are those of no slip torque at all."""
    names = [
        [c.name for c in usual_sizes(DOCKHAND.with_({"mainspring.slip_torque_n_mm": slip}), 270.0)]
        for slip in (None, 30.0)
    ]
    assert names[0] == names[1]


def test_sizes_that_are_no_numbers() -> None:
    with pytest.raises(InputError, match=r"height_mm = '1,3x': not a number; sizes of a strip are in mm"):
        Candidate(name="x", height_mm="1,3x", thickness_mm=0.1, length_mm=300.0)  # type: ignore[arg-type]


# ---------------------------------------------------------------------------------------- unknown alloy


@pytest.mark.parametrize(
    ("movement", "hours", "limit"),
    [(FERRYMAN, 0.0, 2280.0), (FERRYMAN, 12.0, 1950.0), (PACKET, 20.0, 3050.0), (DOCKHAND, 24.0, 2700.0)],
)
def test_the_elastic_limit_is_found_from_one_amplitude(
    movement: Movement, hours: float, limit: float
) -> None:
    setting = oscsim.Setting(positions="12H", hours=hours)
    other = movement.with_({"mainspring.elastic_limit_mpa": limit})
    shown = float(oscsim.settle(other, setting).points.amplitude_deg[0, 0])
    found = calibrate(movement, shown, setting)
    assert found.mainspring.elastic_limit_mpa == pytest.approx(limit, abs=1e-3)
    told = swap(movement, [strip(movement)], known_deg=shown, known_at=setting)
    assert told.calibrated_elastic_limit_mpa == found.mainspring.elastic_limit_mpa
    assert told.candidates[0].flat_wound_deg == told.present.flat_wound_deg
    again = oscsim.settle(told.movement, setting).points.amplitude_deg[0, 0]
    assert again == pytest.approx(shown, abs=1e-6)


TWO = oscsim.Setting(positions=["CH", "12H"])


@pytest.mark.parametrize(
    ("amplitude", "at", "said"),
    [
        (60.0, None, "amplitude_deg = 60 deg: no elastic limit of the mainspring from 500 to 6000 MPa gives it"),
        (20.0, None, "amplitude_deg = 20.0 deg: out of range, must be from 30 to 400 deg"),
        (math.nan, None, "amplitude_deg = nan deg: not a finite number"),
        (250.0, TWO, "at: give the one position and hour at which the amplitude was read"),
    ],
)  # fmt: skip
def test_amplitudes_that_tell_no_alloy(amplitude: float, at: oscsim.Setting | None, said: str) -> None:
    with pytest.raises(InputError) as caught:
        swap(DOCKHAND, [strip(DOCKHAND)], known_deg=amplitude, known_at=at)
    assert said in str(caught.value)


def test_a_strip_set_all_along_bears_what_its_limit_allows() -> None:
    """Bent beyond its limit all along a strip bears σ_y w h²/6, less coil friction, whatever its modulus."""
    m = FERRYMAN.mainspring
    set_all_along = m.coil_efficiency * m.elastic_limit_mpa * m.height_mm * m.thickness_mm**2 / 6  # N·mm
    for changes in ({}, {"mainspring.modulus_gpa": 190.0}):
        shown = oscsim.settle(FERRYMAN.with_(changes)).points
        assert shown.barrel_torque_n_mm[0, 0] == pytest.approx(set_all_along, rel=1e-5)


def test_where_the_bridle_slips_every_limit_does() -> None:
    shown = oscsim.settle(DOCKHAND).points
    with pytest.raises(InputError, match="the torque there is the same for many elastic limits"):
        calibrate(DOCKHAND, float(shown.amplitude_deg[0, 0]))


def test_a_wanted_amplitude_out_of_range() -> None:
    with pytest.raises(InputError, match="wanted_deg = 500 deg: out of range"):
        swap(DOCKHAND, [], wanted_deg=500)


# ---------------------------------------------------------------------------------------------- the list

HEADINGS = "name,height_mm,thickness_mm,length_mm"


def test_reading_a_list(tmp_path: Path) -> None:
    path = tmp_path / "springs.csv"
    text = f" {HEADINGS} ,modulus_gpa,slip_torque_n_mm\r\nA 1,1.3,0.11,350,,\r\n\r\n,1.4, .12 ,360,205,7\r\n"
    path.write_bytes(text.encode("utf-8-sig"))
    one, two = read_candidates(path)
    assert one == Candidate(name="A 1", height_mm=1.3, thickness_mm=0.11, length_mm=350.0)
    assert (two.name, two.modulus_gpa, two.slip_torque_n_mm) == ("line 4", 205.0, 7.0)
    assert (two.height_mm, two.thickness_mm, two.elastic_limit_mpa) == (1.4, 0.12, None)
    assert np.isfinite(swap(DOCKHAND, [one, two]).candidates[0].flat_wound_deg)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "empty, needs the headings name, height_mm, thickness_mm, length_mm"),
        ("name,height_mm,thickness_mm\na,1,1\n", "heading length_mm is missing"),
        ("name,height_cm,thickness_mm,length_mm\n", "unknown heading 'height_cm'; did you mean 'height_mm'?"),
        ("name,height,thickness_mm,length_mm\n", "unknown heading 'height'; did you mean 'height_mm'?"),
        (HEADINGS.replace(",", ";") + "\n", "no springs below the headings"),
        (f"{HEADINGS},length_mm\n", "heading length_mm stands there twice"),
        (f"{HEADINGS}\n", "no springs below the headings"),
        (f"{HEADINGS}\na,1.3 mm,0.11,350\n", "line 2: height_mm = '1.3 mm': not a number"),
        (f"{HEADINGS}\n\n\na,1.3,0.11,x\n", "line 4: length_mm = 'x': not a number"),
        (f"{HEADINGS}\na,1.3,0.11\n", "line 2: length_mm is empty"),
        (f"{HEADINGS}\na,,0.11,350\n", "line 2: height_mm is empty"),
        (f"{HEADINGS}\na,1,3,0,11,350\n", "line 2: more cells than headings"),
        (f"{HEADINGS}\na\rb,1,1,1\n", "line 2: height_mm is empty"),
        (f"{HEADINGS}\n{'a' * 140000},1,1,1\n", "not CSV: field larger than field limit"),
    ],
)
def test_lists_that_cannot_be_used(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "springs.csv"
    path.write_bytes(text.encode())
    with pytest.raises(InputError) as caught:
        read_candidates(path)
    assert said in str(caught.value)
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)


def test_no_list(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="a directory, not a list of springs"):
        read_candidates(tmp_path)


def test_a_list_is_taken_by_its_file(tmp_path: Path) -> None:
    path = tmp_path / "springs.csv"
    path.write_text("name,height_mm,thickness_mm,length_mm\nshort,1.3,0.11,320\n", "utf-8")
    assert swap("dockhand", path) == swap(DOCKHAND, read_candidates(path))
    with pytest.raises(InputError, match=r"nowhere\.csv"):
        swap(DOCKHAND, "nowhere.csv")


def test_a_poised_design_s_floor_is_told_to_be_a_usual_one_s():
    poised = DOCKHAND.with_({"balance.unbalance_ug_cm": 0.0})
    found = oscsim.swap(
        poised, [oscsim.Candidate(name="a", height_mm=1.2, thickness_mm=0.11, length_mm=350.0)]
    )
    assert found.unbalance_is_usual
    assert "as the design has none" in " ".join(found.text().split())


def test_the_present_size_is_called_so() -> None:
    found = swap(DOCKHAND, [strip(DOCKHAND), strip(DOCKHAND, name="short", length_mm=250.0)])
    assert "(the size of the present one)" in " ".join(found.text().split())
