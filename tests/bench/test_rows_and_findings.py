"""Rows as people make them, and findings beside them: what is understood, and what contradicts itself."""

import math

import pytest

import oscsim
from oscsim.bench.sound import known
from oscsim.designs import bundled_text
from oscsim.errors import InputError
from oscsim.slips.findings import merged
from oscsim.slips.reading_files import load_readings, sister_of
from oscsim.slips.readings import LIFT_UNKNOWN, About, Findings, Reading, RimWeights, Seen, Swing
from oscsim.slips.slip import Slip, load_slip, slip_of

HEAD = "position,hours,amplitude_deg,rate_s_per_day,beat_error_ms\n"


@pytest.fixture
def written(tmp_path):
    """Writes a file and returns its path."""

    def write(text, name="card.csv"):
        (tmp_path / name).write_text(text, "utf-8")
        return tmp_path / name

    return write


def test_units_and_other_case_are_taken(written):
    text = "sep=;\nPosition;Hours;Amplitude_deg;RATE_s_per_day;beat_error_ms\nCrown down;0 h;255°;+4 s/d;0,3 ms\n"
    (row,) = load_readings(written(text)).rows
    assert row == Reading("9H", 0.0, 255.0, 4.0, 0.3)


def test_a_place_read_twice_is_averaged(written):
    found = load_readings(written(HEAD + "CH,0,250,4,0.3\nFH,0,240,,\nCH,0,256,,0.5\nCH,24,220,,\n"))
    first, _, later = found.rows
    assert (first.amplitude_deg, first.rate_s_per_day, first.times) == (253.0, 4.0, 2)
    assert first.beat_error_ms == pytest.approx(0.4)
    assert later.times == 1


@pytest.mark.parametrize("cell", ["stops", "Stopped", "---", "\N{EM DASH}\N{EM DASH}"])
def test_a_stop_is_a_reading(written, cell):
    rows = load_readings(written(f"{HEAD}CH,24,200,4,0.3\n12H,24,{cell},,\n")).rows
    assert [row.stops for row in rows] == [False, True]
    assert math.isnan(rows[1].amplitude_deg)


def test_dashes_beside_a_rate_are_a_blank(written):
    (row,) = load_readings(written(f"{HEAD}CH,24,---,4,0.3\n")).rows
    assert not row.stops
    assert row.rate_s_per_day == 4.0


def test_stopped_and_ran_is_asked_back(written):
    with pytest.raises(InputError, match="it stopped and it ran"):
        load_readings(written(f"{HEAD}CH,24,200,,\nCH,24,stops,,\n"))


def test_a_lift_angle_that_nobody_knows(written):
    text = 'lift_angle_deg = "unknown"\n[[reading]]\nposition = "CH"\namplitude_deg = 250\n'
    found = load_readings(written(text, "card.toml"))
    assert (found.lift_angle_deg, found.lift_angle_uncertainty_deg) == (None, LIFT_UNKNOWN)
    assert (
        load_readings(written(f"{HEAD}CH,0,250,,\n"), lift_known=False).lift_angle_uncertainty_deg
        == LIFT_UNKNOWN
    )


SLIP = """\
name = "On the kitchen table"
lift_angle_deg = 52.0

[about]
date = "2026-03-04"
job = "0417"
remarks = "stopped on the ferry"

[bench]
balance_diameter_mm = 10.0

[balance]
beats_per_hour = 21600

[looked]
lock_deg = 2.4
barrel_torque_n_mm = 6.1
barrel_torque_n_mm_uncertainty = 0.2
pivot_sides_worn = true
rim_weights = [{ mass_mg = 1.0, radius_mm = 4.8, rate_change_s_per_day = -1650.0 }]

[[reading]]
position = "dial up"
amplitude_deg = 210

[[reading]]
position = "12 up"
stops = true
hours = 30

[[swing]]
position = "CH"
periods = [0, 20, 40]
amplitude_deg = [250, 190, 140]

[[sister]]
name = "from the same drawer"
beats_per_hour = 21600
reading = [{ position = "CH", amplitude_deg = 281 }, { position = "12H", amplitude_deg = 252 }]
"""


def test_findings_of_a_slip(written):
    slip = load_slip(written(SLIP, "slip.toml"))
    found = slip.findings
    assert found.looked == {"lock_deg": Seen(2.4, 0.3), "barrel_torque_n_mm": Seen(6.1, 0.2)}
    assert found.worn == {"pivot_sides_worn": True}
    assert found.rim_weights == (RimWeights(1.0, 4.8, -1650.0),)
    assert found.swings == (Swing("CH", (0.0, 20.0, 40.0), (250.0, 190.0, 140.0)),)
    (sister,) = found.sisters
    assert [row.amplitude_deg for row in sister.readings.rows] == [281.0, 252.0]
    assert slip.readings.about == About(date="2026-03-04", job="0417", remarks="stopped on the ferry")
    assert slip.readings.rows[1].stops


def test_a_sketch_keeps_the_findings(written):
    slip = load_slip(written(SLIP, "slip.toml"))
    kept = slip_of(oscsim.loads(oscsim.sketch(slip).file_text()))
    assert kept.findings.settings() | {"sisters": []} == slip.findings.settings() | {"sisters": []}
    assert kept.findings.sisters[0].readings.rows == slip.findings.sisters[0].readings.rows
    assert kept.readings.about == slip.readings.about


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("beats_per_hour = 21600\nreading", "beats_per_hour = 18000\nreading"), "a sister is of the same kind"),
        (("amplitude_deg = 281 }", "amplitude_deg = 120 }"), "one in order shows at least 150 deg"),
        (("amplitude_deg = 281 }", "stops = true }"), "it stops at CH"),
        (("lock_deg = 2.4", "lock_deg = 24"), "looked.lock_deg = 24 deg: out of range"),
        (("lock_deg = 2.4", "loc_deg = 2.4"), "did you mean 'lock_deg'?"),
        (("[250, 190, 140]", "[250, 290, 140]"), "amplitude_deg must fall"),
        (("[0, 20, 40]", "[0, 20]"), "must have the same number of values"),
        (("pivot_sides_worn = true", 'pivot_sides_worn = "yes"'), "must be true (worn) or false (good)"),
        (("21600\n\n[looked]", "21600\ninertia_mg_cm2 = 90.0\nmass_mg = 60.0\n\n[looked]"),
         "make no balance"),
        (('date = "2026', 'day = "2026'), "about.day: unknown key"),
    ],
)  # fmt: skip
def test_what_contradicts_itself(written, change, said):
    assert change[0] in SLIP
    with pytest.raises(InputError) as error:
        load_slip(written(SLIP.replace(*change), "slip.toml"))
    assert said in str(error.value)
    assert "\n" not in str(error.value)


def test_own_readings_are_no_sister(written):
    card = written(HEAD + "CH,0,250,4,0.3\n12H,0,222,,\n")
    sister = sister_of(str(card))
    with pytest.raises(InputError, match="this movement's own"):
        Slip(readings=load_readings(card), findings=Findings(sisters=(sister,)))


def test_two_findings_as_one():
    one, other = Findings(looked={"lock_deg": Seen(2.0, 0.3)}), Findings(worn={"pivot_sides_worn": False})
    both = merged(one, other)
    assert both.looked == one.looked
    assert both.worn == other.worn
    with pytest.raises(InputError, match=r"2 in the slip and 2\.5 with the readings"):
        merged(one, Findings(looked={"lock_deg": Seen(2.5, 0.3)}))


def test_headings_as_people_write_them(tmp_path):
    """The unit left out, or in brackets; another unit is no heading that is known."""
    text = "Position;Hours;Amplitude (°);Rate;Beat error [ms]\nCH;0;228°;+8;0,4\n6H;0;196;-3,5;\n"
    (tmp_path / "r.csv").write_text(text)
    first, second = oscsim.load_readings(tmp_path / "r.csv").rows
    assert (first.amplitude_deg, first.rate_s_per_day, first.beat_error_ms) == (228.0, 8.0, 0.4)
    assert (second.amplitude_deg, second.rate_s_per_day) == (196.0, -3.5)
    (tmp_path / "r.csv").write_text(text.replace("(°)", "(rad)"))
    with pytest.raises(
        oscsim.InputError, match=r"unknown heading 'Amplitude \(rad\)'; did you mean 'amplitude_deg'"
    ):
        oscsim.load_readings(tmp_path / "r.csv")


def test_readings_may_be_given_by_their_file(tmp_path):
    (tmp_path / "r.csv").write_text("position,hours,amplitude_deg\nCH,0,228\n12H,0,200\n")
    by_path = oscsim.diagnose("dockhand", tmp_path / "r.csv")
    assert (
        by_path.to_dict() == oscsim.diagnose("dockhand", oscsim.load_readings(tmp_path / "r.csv")).to_dict()
    )
    with pytest.raises(oscsim.InputError, match="no such file"):
        oscsim.diagnose("dockhand", "nowhere.csv")


def test_a_number_in_the_wrong_table_of_a_slip_is_sent_to_its_own(tmp_path):
    (tmp_path / "s.toml").write_text("[bench]\nbalance_diameter_mm = 9.8\nbeats_per_hour = 18000\n")
    with pytest.raises(oscsim.InputError, match=r"did you mean 'balance\.beats_per_hour'"):
        oscsim.load_slip(tmp_path / "s.toml")


@pytest.mark.parametrize("ask", [
    lambda: oscsim.diagnose("packet", 5), lambda: oscsim.poise("packet", None),
    lambda: oscsim.fit("packet", [5], ["balance.viscous_q"]),
])  # fmt: skip
def test_what_are_no_readings_is_refused_in_words(ask):
    with pytest.raises(
        oscsim.InputError, match="must be readings, a readings file, or the name of bundled ones"
    ):
        ask()


def test_a_file_or_one_name_is_enough_in_python(tmp_path):
    slip = tmp_path / "kitchen.toml"
    slip.write_text(
        "[bench]\nmovement_diameter_mm = 26.0\n[balance]\nbeats_per_hour = 18000\n", encoding="utf-8"
    )
    assert oscsim.sketch(slip).movement == oscsim.sketch(oscsim.load_slip(slip)).movement
    series = "packet_rubbing_hand"
    assert str(oscsim.ripple("packet", series)) == str(oscsim.ripple("packet", oscsim.load_series(series)))
    assert [m.name for m in oscsim.ageing("packet", years=[1.0]).movements] == ["Packet"]
    with pytest.raises(oscsim.InputError, match="designs = Packet: at least two"):
        oscsim.compare("packet")
    with pytest.raises(oscsim.InputError, match="done: 'oils': no cause; did you mean 'oil'"):
        oscsim.progress("packet", "packet_dirty_pivots", "packet_cleaned", done="oils")


def test_a_sketch_says_that_findings_do_not_weigh_it():
    slip = oscsim.Slip(given={"balance.beats_per_hour": 18000.0}, facts={"movement_diameter_mm": 26.0})
    seen = slip.with_(findings=oscsim.Findings(worn={"pivot_sides_worn": True}))
    plain, found = (" ".join(str(oscsim.sketch(one)).split()) for one in (slip, seen))
    said = " What was looked at, let swing or read of a sister does not weigh the sketch: the file keeps it,"
    assert said not in plain
    assert said in found
    # and so it is: nothing else on the page differs
    assert found.replace(f"{said} and oscsim diagnose weighs by it.", "") == plain


IN_WORDS = """
lift_angle_deg = "52 deg"
[bench]
movement_diameter_mm = "11½ lignes"
reserve_hours = "1.75 days"
[balance]
beats_per_hour = "3 Hz"
mass_mg = "0.08 g"
inertia_mg_cm2 = "16 mg cm2"
[train]
jewels = 17
[mainspring]
elastic_limit_mpa = "2900 MPa"
[looked]
usual_amplitude_deg = "270°"
[[reading]]
position = "dial up"
hours = "1 day"
amplitude_deg = "262°"
rate_s_per_day = "-4 s/d"
"""


def test_a_slips_numbers_may_have_units(tmp_path):
    """3 Hz are 21600 beats/h; 11½ lignes 25.942 mm (443.296 lignes to the metre, law of 19 Frimaire VIII)."""
    path = tmp_path / "slip.toml"
    path.write_text(IN_WORDS, "utf-8")
    slip = load_slip(path)
    assert slip.given == {
        "balance.beats_per_hour": 21600.0,
        "balance.mass_mg": 80.0,
        "balance.inertia_mg_cm2": 16.0,
        "train.jewels": 17,
        "mainspring.elastic_limit_mpa": 2900.0,
    }
    assert slip.facts == {
        "movement_diameter_mm": pytest.approx(11500 / 443.296, abs=1e-6),
        "reserve_hours": 42.0,
    }
    assert slip.findings.looked["usual_amplitude_deg"].value == 270.0
    assert slip.readings.lift_angle_deg == 52.0
    (row,) = slip.readings.rows
    assert (row.hours, row.amplitude_deg, row.rate_s_per_day) == (24.0, 262.0, -4.0)


@pytest.mark.parametrize(("old", "new", "said"), [
    ("3 Hz", "3 Hx", "balance.beats_per_hour = '3 Hx': not a number, in beats/h; understood behind it: hz, beats/h"),
    ("2900 MPa", "290 kg", "mainspring.elastic_limit_mpa = '290 kg': not a number, in MPa"),
    ("3 Hz", "300 Hz", "balance.beats_per_hour = 2160000.0 beats/h: out of range"),
    ("3 Hz", "three", "balance.beats_per_hour = 'three': not a number, must be"),
    ("-4 s/d", "−0 262", "reading.rate_s_per_day = '−0 262': not a number, in s/day"),
])  # fmt: skip
def test_a_unit_that_is_none_of_the_keys_is_refused(old, new, said, tmp_path):
    path = tmp_path / "slip.toml"
    path.write_text(IN_WORDS.replace(old, new), "utf-8")
    with pytest.raises(oscsim.InputError) as refused:
        load_slip(path)
    assert said in str(refused.value)


@pytest.mark.parametrize("name", ["dockhand", "bollard", "tidewaiter"])
def test_a_copied_design_file_is_a_design_and_no_slip(written, name):
    """What `oscsim designs NAME > mine.toml` writes answers as the name does: none has every optional table."""
    copy = written(bundled_text(name), "mine.toml")
    assert known(copy) == oscsim.load(name)
    gap = written(
        "\n".join(line for line in bundled_text(name).splitlines() if "lock_deg" not in line), "gap.toml"
    )
    with pytest.raises(InputError, match=r"a slip takes train\.ratio|escapement\.kind"):
        known(gap)  # a design with gaps is a slip
