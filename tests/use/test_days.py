"""Days with its wearer: laws of winding, and a plain integration in small steps beside the exact pieces."""

import math

import numpy as np
import pytest

import oscsim
from oscsim.errors import InputError
from oscsim.use.stretches import LIVES, POCKET, mix_of, usual_day
from oscsim.use.wound import Wind, curves_of


@pytest.fixture(scope="module")
def dockhand():
    return oscsim.load("dockhand")


@pytest.fixture(scope="module")
def week(dockhand):
    return oscsim.days(dockhand, count=7, hours_worn=6.0)


def test_break_even(dockhand):
    """Wearing 24/w hours keeps the wind where it is: by the balance dn/dt = w worn - runs."""
    even = oscsim.days(dockhand, hours_worn=8.0, wound_per_hour=3.0)
    assert even.break_even_hours == pytest.approx(8.0)
    assert even.stays_wound
    assert np.ptp(even.wound_h[even.mornings]) < 1e-9
    less = oscsim.days(dockhand, hours_worn=7.5, wound_per_hour=3.0)
    assert np.all(np.diff(less.wound_h[less.mornings])[:3] == pytest.approx(24.0 - 3.0 * 7.5))


def test_what_is_wound_is_spent_slips_or_stays(week, dockhand):
    for found in (
        week,
        oscsim.days(dockhand, count=9, hours_worn=3.0),
        oscsim.days(oscsim.load("dinghy"), count=3),
    ):
        b = found.balance_h
        assert b["wound"] == pytest.approx(b["spent"] + b["slipped"] + b["change"], abs=1e-9)
        stood = found.stopped_share * 24.0 * found.days
        assert b["spent"] + stood == pytest.approx(24.0 * found.days, abs=1e-9)


def test_many_days_come_to_rest(dockhand):
    found = oscsim.days(dockhand, count=40, hours_worn=14.0)
    assert found.daily_error_s[-1] == pytest.approx(found.daily_error_s[-2], abs=1e-9)


def test_against_a_plain_integration_in_small_steps(dockhand, week):
    """Euler steps of a hundredth of an hour, rates interpolated between settled points of its own."""
    x, error, step = 0.0, 0.0, 0.01
    hours = np.linspace(0.0, 38.0, 39)
    rate = {}
    for stretch in week.day:
        settings = [(s, oscsim.Setting(positions=s, hours=tuple(hours), temperature_c=stretch.temperature_c))
                    for s, _ in stretch.mix]  # fmt: skip
        share = dict(stretch.mix)
        rate[stretch.worn] = sum(
            share[s] * oscsim.settle(dockhand, at).points.rate_s_per_day[0] for s, at in settings
        )
    for n in range(int(4 * 24 / step)):
        worn = (n * step) % 24.0 < 6.0 - 1e-9
        error += np.interp(x, hours, rate[worn]) * step / 24.0
        x = max(0.0, x + step * (1.0 - 3.0 * worn))
    i = week.mornings[3]
    assert week.wound_h[i] == pytest.approx(x, abs=0.05)
    assert week.error_s[i] == pytest.approx(error, abs=0.02)


def test_a_walk_of_104_minutes(dockhand):
    """A published measurement: 104 minutes of walking from empty wound 16.9 h in one watch and 24.4 h in another; with
    what it runs meanwhile that is w of 10.8 and 15.1, over the 10 to 14 that the gains alone come to."""
    curve = curves_of(dockhand, oscsim.Condition()).of(usual_day(12.0)[0])
    for gained in (16.9, 24.4):
        watch = Wind.full(1)
        watch.x, watch.runs = np.array([curve.stop_hours]), np.array([False])
        watch.go(104.0 / 60.0, curve, np.array([gained / (104.0 / 60.0) + 1.0]))
        assert curve.stop_hours - watch.x[0] == pytest.approx(gained, abs=1e-6)
        assert watch.stopped[0] == 0.0


def test_worn_too_little_it_stops_and_says_so(dockhand):
    found = oscsim.days(dockhand, hours_worn=4.0)
    assert not found.stays_wound
    assert 0.0 < found.stopped_share < 1.0
    assert found.to_dict()["daily_error_s"][-1] is None
    assert "does not stay wound" in str(found)
    # in the long run it runs for what is wound: 3 h for each of 4 h worn
    long = oscsim.days(dockhand, hours_worn=4.0, count=200)
    assert 1.0 - long.stopped_share == pytest.approx(0.5, abs=0.02)


def test_hand_wound_once_a_day():
    found = oscsim.days(oscsim.load("ferryman"), count=3)
    assert found.w == 0.0
    assert found.wind_at_h == 0.0
    assert found.wound_h[found.mornings] == pytest.approx([24.0, 24.0, 24.0])


def test_night_is_the_days_own_error(week, dockhand):
    assert set(week.night) == set(oscsim.POSITIONS)
    found = oscsim.days(dockhand, count=7, hours_worn=9.0)
    assert found.night["CH"] == pytest.approx(found.daily_error_s[-1], abs=1e-9)
    assert found.best_night == min(found.night, key=lambda one: abs(found.night[one]))
    assert None in week.night.values()  # worn six hours it stands before the week is over


def test_the_other_wrist_turns_the_crown_round():
    """Crown at 3, arm hanging: on the left wrist the crown points down the hand (9H of ISO 3158), on the right up."""
    left, right = (dict(usual_day(14.0, life="active", wrist=w)[0].mix) for w in ("left", "right"))
    assert left["9H"] == right["3H"] == pytest.approx(0.45)
    assert left["CH"] == right["CH"]


def test_a_pocket_watch_hangs_from_its_pendant():
    """Pendant at 12, in a waistcoat's pocket: 12 up of ISO 3158 whatever the life; wound by hand, also one that would
    wind itself on a wrist."""
    worn, laid = usual_day(14.0, life="active", wrist="pocket")
    assert max(dict(worn.mix), key=dict(worn.mix).get) == "12H"
    assert worn.mix == usual_day(14.0, life="desk", wrist="pocket")[0].mix
    assert laid.temperature_c < worn.temperature_c < usual_day(14.0)[0].temperature_c
    assert dict(laid.mix) == {"CH": 1.0}
    ferryman, packet = (
        oscsim.days(oscsim.load(name), count=2, wrist="pocket") for name in ("ferryman", "packet")
    )
    assert (packet.w, packet.wind_at_h, packet.stays_wound) == (0.0, 0.0, True)
    assert {mix for mix, at in zip(ferryman.lies, ferryman.worn, strict=True) if at} == {"12H 90% CH 10%"}
    # the mean of both positions' rates by their shares, at the first moment and fully wound
    at = oscsim.Setting(positions=["12H", "CH"], temperature_c=25.5)
    upright, flat = oscsim.settle("ferryman", at).points.rate_s_per_day[:, 0]
    assert ferryman.rate_s_per_day[0] == pytest.approx(0.9 * upright + 0.1 * flat, abs=1e-6)


def test_nowhere_else_is_it_worn():
    with pytest.raises(
        InputError, match=r"wrist = 'pocet': must be left, right or pocket; did you mean 'pocket'"
    ):
        usual_day(14.0, wrist="pocet")


def test_mixes_add_up():
    for life in [*LIVES.values(), POCKET]:
        assert math.fsum(share for _, share in mix_of(life, "life")) == pytest.approx(1.0)


DAY = """
[[stretch]]
hours = 10
positions = { "dial up" = 40, 9H = 60 }
[[stretch]]
hours = 14
positions = "crown up"
worn = false
temperature_c = 18
"""


def test_a_day_file(tmp_path, command):
    path = tmp_path / "day.toml"
    path.write_text(DAY.replace('"crown up"', '"6H"'))
    code, out, err = command("days", "dockhand", "--day", path, "--days", 3, "--format", "json")
    assert (code, err) == (0, "")
    assert '"stopped_share": 0.0' in out


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (DAY.replace("60", "50"), "add up to 90"),
        (DAY.replace("14", "15").replace("crown up", "6H"), "25 h, more than a day"),
        (DAY.replace("18", "99"), "temperature_c"),
        (DAY.replace("worn", "warn"), "worn"),
        (DAY.replace("9H", "5H"), "5H"),
        ("", "stretch"),
    ],
)
def test_bad_day_files(tmp_path, refusal, text, said):
    path = tmp_path / "day.toml"
    path.write_text(text)
    assert said in refusal("days", "dockhand", "--day", path)


@pytest.mark.parametrize(
    ("design", "options", "said"),
    [
        ("ferryman", ("--wound-per-hour", "3"), "wound by hand"),
        ("dockhand", ("--hours-worn", "25"), "hours_worn"),
        ("dockhand", ("--night", "7H"), "7H"),
        ("dockhand", ("--life", "lazy"), "life"),
        ("dockhand", ("--days", "0"), "days"),
        ("dockhand", ("--crown-turns", "10"), "wind_at"),
    ],
)
def test_bad_options(refusal, design, options, said):
    assert said in refusal("days", design, *options)


def test_asked_in_use():
    """compare, swap and whatif with the morning of a usual day: the same as days says of each movement."""
    pair = oscsim.compare([oscsim.load("packet"), oscsim.load("dockhand")])
    found = oscsim.morning(pair, hours_worn=9.0).to_dict()
    assert found["attribution"] == pair.to_dict()["attribution"]
    own = oscsim.days("dockhand", hours_worn=9.0)
    assert found["morning"][1]["morning_amplitude_deg"] == pytest.approx(own.least_morning_deg, abs=1e-6)
    with pytest.raises(oscsim.InputError, match="compare, swap and whatif"):
        oscsim.morning(own)


def test_asked_in_use_on_the_command_line(command):
    options = ("--vary", "train.ratio", "3900", "4000", "2", "--morning", "9", "--format", "csv")
    code, out, err = command("whatif", "dockhand", *options)
    assert (code, err) == (0, "")
    _, page, _ = command("whatif", "dockhand", *options[:-2])
    _, alone, _ = command("whatif", "dockhand", *options[:4], "2")
    assert page.startswith(alone.rstrip()), "the answer's own page stands above, line by line"
    assert "train.ratio = 3900 " in page  # whole, or the rows could not be told apart
    assert [line.split(",")[0] for line in out.splitlines()] == [
        "name",
        "train.ratio = 3900",
        "train.ratio = 4000",
    ]
