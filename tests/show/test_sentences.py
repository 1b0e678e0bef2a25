"""What the sentences below the tables conclude is what the tables hold: nothing healthy about a worn or guessed
movement, gains and losses apart, what a knock takes, and where it stops or a slipping bridle leaves nothing to gain.

Numbers are those of the answers, taken anew: energies of a knock from the speeds at the horn, E = I ω²/2.
"""

import dataclasses
import re

import matplotlib.pyplot as plt
import numpy as np
import pytest

import oscsim
from oscsim import Setting
from oscsim.answers.change import change
from oscsim.answers.tolerance import tolerance
from oscsim.answers.whatif import whatif
from oscsim.condition import Condition
from oscsim.movement import number_names
from oscsim.show.labels import spoken

DOCKHAND = oscsim.load("dockhand")
SKETCH = dataclasses.replace(DOCKHAND, filled=("balance.viscous_q",))
OLD, POINTS = Condition(oil_age_years=10.0), {"positions": ("CH", "12H"), "hours": (0.0, 24.0)}
WAY = "mainspring.thickness_mm"


def said(answer):
    """The page in one line."""
    return " ".join(str(answer).split())


# ----------------------------------------------------------------------------------------------- tolerance


@pytest.mark.parametrize(
    ("movement", "condition", "heading", "words"),
    [
        (DOCKHAND, Condition(), "what 20 sound examples would show", "nine in ten sound examples show"),
        (
            DOCKHAND,
            OLD,
            "what 20 examples would show in this condition",
            "nine in ten examples in this condition show",
        ),
        (SKETCH, Condition(), "what 20 such movements may show", "nine in ten such movements may show"),
        (
            SKETCH,
            OLD,
            "what 20 such movements may show in this condition",
            "nine in ten such movements in this condition may show",
        ),
    ],
)
def test_only_examples_of_a_measured_design_as_it_should_be_are_sound(movement, condition, heading, words):
    answer = tolerance(movement, Setting(condition=condition), examples=20, sobol=False)
    text, sound = said(answer), (movement, condition) == (DOCKHAND, Condition())
    axes = answer.plot()
    assert heading in text
    assert heading in " ".join(axes.get_title(loc="left").split() or axes.get_title().split())
    assert words in text
    assert ("no fault of the example's own" in text) == ("sound" in text) == sound
    healthy = "What is healthy for them is what they show without the condition."
    assert (healthy in text) == (condition == OLD)
    plt.close("all")


@pytest.mark.parametrize(("hours", "words"), [(42.0, "of the"), (80.0, "more than half of the")])
def test_open_bands_of_a_sketch_judge_nothing(hours, words):
    text = said(tolerance(SKETCH, Setting(hours=hours), examples=40, sobol=False))
    assert re.search(rf"{words} such movements may (have|lie)", text)
    assert "sound" not in text


# -------------------------------------------------------------------------------------------------- change


def test_gain_and_loss_are_told_apart():
    answer = change(
        DOCKHAND, {WAY: 0.12}, Setting(**POINTS, condition=Condition(drag=1.5)), condition=Condition()
    )
    gained = answer.gained_deg
    assert np.unravel_index(gained.argmax(), gained.shape) == (0, 0)
    assert np.unravel_index(gained.argmin(), gained.shape) == (1, 1)
    assert (
        f"it gains up to {gained.max():.1f} deg (dial up, fully wound) and loses up to {-gained.min():.1f} deg "
        "(12 up, after 24 h)."
    ) in said(answer)


@pytest.mark.parametrize(("lock", "verb"), [(5.0, "loses"), (1.0, "gains")])
def test_most_and_least_by_size_where_all_go_one_way(lock, verb):
    answer = change(DOCKHAND, {"escapement.lock_deg": lock}, Setting(**POINTS))
    size = np.abs(answer.gained_deg)
    most, least = re.search(
        rf"it {verb} most [^(]*\(([-+.\d]+) deg\) and least [^(]*\(([-+.\d]+) deg", said(answer)
    ).groups()
    assert abs(float(most)) == pytest.approx(size.max(), abs=0.051)
    assert abs(float(least)) == pytest.approx(size.min(), abs=0.051)


def test_where_it_stops_afterwards_is_all_told():
    text = said(change(DOCKHAND, {WAY: 0.13}, Setting(**POINTS)))
    assert "afterwards it stops (in every position, after 24 h)." in text


# ------------------------------------------------------------------------------------------------- what if


def test_a_slipping_bridle_leaves_no_slope_and_stops_are_named():
    text = said(whatif(DOCKHAND, {WAY: np.linspace(0.08, 0.15, 8).round(2)}))
    assert "raising the thickness of the mainspring from 0.08 to 0.11 mm raises the amplitude" in text
    assert "from 0.11 mm on nothing more is gained: there the bridle slips, at 6.6 N·mm" in text
    swing = (
        oscsim.settle(DOCKHAND, Setting(hours=24.0)).points.at("CH", 24).amplitude_deg
    )  # the design's own strip is of 0.11 mm
    assert f"after 24 h it is greatest, {swing:.1f} deg, near 0.11 mm" in text
    assert "It stops from 0.13 mm on (in every position, after 24 h)." in text
    assert "on average" not in text
    # the order in which the values are given does not matter
    assert said(whatif(DOCKHAND, {WAY: np.linspace(0.15, 0.08, 8).round(2)})).endswith(
        text[text.index("What this means") :]
    )


@pytest.mark.parametrize("name", number_names())
def test_every_number_has_a_name_for_a_sentence(name):
    """No key, and no unit in the name: it stands beside the value."""
    told = spoken(name)
    assert told.startswith("the ")
    assert not re.search(r"[a-z]\.[a-z]|_|,|;|:", told)


@pytest.mark.parametrize(
    "asked",
    [
        lambda: whatif(DOCKHAND, {"escapement.lock_deg": [2.0, 2.5, 3.0]}),
        lambda: whatif(DOCKHAND, {"escapement.lock_deg": [2.0, 3.0], "balance.inertia_mg_cm2": [10.0, 20.0]}),
        lambda: oscsim.sensitivities(DOCKHAND),
        lambda: tolerance(DOCKHAND, Setting(positions="CH", hours=0.0), examples=16, rng=1),
    ],
    ids=["one", "two", "steps", "tolerance"],
)
def test_sentences_speak_the_trades_words(asked):
    """A key is for files and the command line: 'balance.inertia_mg_cm2' says nothing at a bench."""
    text = said(asked())
    sentence = text[text.index("What this means") :]
    assert not re.search(r"[a-z]+\.[a-z]+_", sentence)
    assert "the " in sentence


def test_where_it_knocks_the_numbers_are_told_for_what_they_are():
    """A lighter balance than the drive is for: 352 deg is no amplitude that it shows, and no rate is given there."""
    light = {"balance.inertia_mg_cm2": 9.0}
    answer = change(DOCKHAND, light)
    text = said(answer)
    assert answer.after.shown_amplitude_deg[0, 0] < 325.0 < answer.after.amplitude_deg[0, 0]
    note = "Where it knocks the numbers are those of the motion it would have if it did not"
    assert note in text
    rates = text.split("Rate after less before, s/day")[1].split("What this means")[0]
    assert re.search(r"CH dial up knocks \+", rates)
    cured = said(change(DOCKHAND.with_(light), {"balance.inertia_mg_cm2": 20.0}))
    assert re.search(r"CH dial up no longer knocks [-+]", cured.split("Rate after less before, s/day")[1])
    assert note in said(whatif(DOCKHAND, {"balance.inertia_mg_cm2": [9.0, 20.0]}))
    assert note not in said(whatif(DOCKHAND, {"balance.inertia_mg_cm2": [18.0, 20.0]}))


def test_pairs_that_do_equally_well_are_told_as_a_stretch():
    """Beyond the slip torque that the strip reaches, 6.7 N·mm, the bridle changes nothing."""
    text = said(
        whatif(
            DOCKHAND,
            {"mainspring.slip_torque_n_mm": [6.0, 8.0, 10.0, 12.0], "escapement.lock_deg": [2.0, 2.8]},
        )
    )
    assert "the torque at which the bridle slips from 8 N·mm on and the lock 2 deg." in text


def test_level_from_the_first_value_on_and_all_along():
    text = said(whatif(DOCKHAND, {WAY: [0.11, 0.12, 0.13]}))
    swing = f"{oscsim.settle(DOCKHAND).points.at('CH', 0).amplitude_deg:.1f}"
    assert f"leaves the amplitude at {swing} deg: there the bridle slips" in text
    assert "on average" not in text
    text = said(whatif(DOCKHAND, {"mainspring.length_mm": [400.0, 450.0, 500.0, 550.0, 600.0]}))
    assert f"up to 500 mm it stays at {swing} deg: there the bridle slips" in text
    assert f"from 500 to 600 mm lowers the amplitude from {swing} to" in text


def test_a_bridle_that_holds_all():
    text = said(whatif(DOCKHAND, {"mainspring.slip_torque_n_mm": [4.0, 6.0, 10.0, 15.0, 20.0]}))
    assert "from 10 N·mm on nothing more is gained: there the bridle no longer slips" in text


def test_a_curve_that_goes_one_way_keeps_its_slope():
    answer = whatif(DOCKHAND, {"escapement.lock_deg": [1.0, 3.0, 5.0]}, Setting())
    slope = np.ptp(answer.points.amplitude_deg) / 4.0
    text = said(answer)
    assert f"on average -{slope:.2f} deg for each 1 deg." in text
    assert " It " not in text.split("What this means")[1]


def test_knocks_are_named_with_values_and_places():
    answer = whatif(DOCKHAND, {"balance.viscous_q": [100.0, 500.0, 1000.0, 2000.0]})
    knocks = (answer.points.state == "knocks").reshape(4, 4)
    assert knocks.sum(axis=0).tolist() == [2, 0, 1, 0]
    assert "It knocks from 1000 on (dial up, fully wound); at 2000 (12 up, fully wound)." in said(answer)


def test_a_map_names_stops_and_knocks():
    values = {WAY: [0.08, 0.1, 0.13, 0.15], "escapement.lock_deg": [1.0, 5.0]}
    assert (
        "It stops with the thickness of the mainspring from 0.13 mm on (in every position, after 24 h)."
        in said(whatif(DOCKHAND, values))
    )
    answer = whatif(
        DOCKHAND,
        {"balance.viscous_q": [100.0, 825.0, 3000.0], "balance.inertia_mg_cm2": [10.0, 20.0, 30.0]},
        Setting(),
    )
    found = (answer.points.state == "knocks").reshape(3, 3)
    text = said(answer)
    assert not found[0].any()
    assert found[1:].sum() not in (0, 6)  # no rectangle
    assert (
        f"It knocks for {found.sum()} of 9 pairs, all with the quality factor of air and oil from 825 on"
        in text
    )
    assert text.endswith("(dial up, fully wound).")


# --------------------------------------------------------------------------------------------------- trace


@pytest.mark.parametrize(("swing", "beats", "knocks"), [(400.0, 2, 2), (400.0, 1, 1), (600.0, 8, 3)])
def test_what_a_knock_takes_and_the_sum(swing, beats, knocks):
    answer = oscsim.trace(DOCKHAND, swing_deg=swing, beats=beats)
    text, inertia = said(answer), DOCKHAND.balance.inertia_mg_cm2 * 1e-10
    outs = [phase for phase in answer.phases() if phase["phase"] == "free arc out"]
    ins = [phase for phase in answer.phases() if phase["phase"] == "free arc in"]
    kept = DOCKHAND.escapement.knock_restitution
    at_horn = [(a["speed_out_rad_per_s"], a["speed_out_rad_per_s"] * kept) for a in outs]
    for (_, back), following in zip(at_horn, ins[1:], strict=False):
        assert -back == pytest.approx(following["speed_in_rad_per_s"], rel=1e-6, abs=1e-6)
    taken = [1e9 * 0.5 * inertia * (v**2 - back**2) for v, back in at_horn]
    taken = [t for t in taken if t > 0.0]
    assert len(taken) == knocks
    # the shock itself: the first arc starts at the horn with what the rebound left of the speed
    shock = 1e9 * 0.5 * inertia * ins[0]["speed_in_rad_per_s"] ** 2 * (1.0 / kept**2 - 1.0)
    told = answer.knocks()
    assert [1e9 * one["energy_j"] for one in told] == pytest.approx([shock, *taken], rel=1e-6)
    if beats == 2:
        first, second = (f"the knock at the end of beat {n} takes {taken[n - 1]:.1f} nJ" for n in (1, 2))
        assert f"before beat 1, takes {shock:.1f} nJ, {first} and {second}" in text
        assert f"{-taken[0]:+.2f}" in str(answer)  # a row of the table, too
    number = r"([\d.]+) nJ"
    takes, gives, friction, struck, loses = (
        float(n)
        for n in re.search(
            rf"the escapement takes {number} and gives {number}; friction and air take {number} and the knocks? "
            rf"{number}, so the balance loses {number}",
            text,
        ).groups()
    )
    assert struck == pytest.approx(sum(taken) / beats, abs=0.06)
    assert gives - takes - friction - struck == pytest.approx(-loses, abs=0.21)
    # and the energy that the balance has after the last rebound is really less by so much
    left = answer.energy_j[-1] * 1e9 - (taken[-1] if at_horn[-1][0] else 0.0)
    assert (answer.energy_j[0] * 1e9 - left) / beats == pytest.approx(loses, abs=0.06)


def test_no_knock_no_word_of_it():
    assert "knock" not in said(oscsim.trace(DOCKHAND))
