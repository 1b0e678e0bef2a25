"""What a diary tells: diaries made from days of our own, with a known winding, regulation and noise."""

import numpy as np
import pytest

import oscsim
from oscsim.use.stretches import usual_day
from oscsim.use.wound import Wind, curves_of

W, REGULATION, NOISE, LINES = 2.5, 4.0, 0.8, 28


def _diary(movement, rng, hours, w=W):
    """Errors of days worn so many hours, by the state of wind that follows, shifted and noisy."""
    curves, watch, error, lines = curves_of(movement, oscsim.Condition()), Wind.full(1), 0.0, []
    lines.append(oscsim.Entry(day=1, error_s=0.0))
    for day, worn in enumerate(hours, 2):
        begun = float(watch.error_s[0])
        for stretch in usual_day(worn):
            watch.go(stretch.hours, curves.of(stretch), np.array([w * stretch.worn]))
        error += float(watch.error_s[0]) - begun + REGULATION + NOISE * rng.standard_normal()
        lines.append(oscsim.Entry(day=day, error_s=error, hours_worn=worn))
    return lines


def test_regulation_and_noise_are_found():
    """20 diaries: of the 90 % intervals at least 14 hold the truth (of 20 true ones fewer in 2 of 1,000)."""
    movement, rng = oscsim.load("dockhand"), np.random.default_rng(3)
    held = {"regulation_s_per_day": 0, "noise_s_per_day": 0, "winding": 0}
    truth = {"regulation_s_per_day": REGULATION, "noise_s_per_day": NOISE, "winding": W}
    for _ in range(20):
        hours = rng.uniform(5.0, 16.0, LINES)
        found = oscsim.diary(movement, _diary(movement, rng, hours))
        for name in held:
            one = getattr(found, name)
            held[name] += one.low <= truth[name] <= one.high
    assert min(held.values()) >= 14, held


def test_days_all_alike_tell_nothing_of_winding():
    movement, rng = oscsim.load("dockhand"), np.random.default_rng(4)
    found = oscsim.diary(movement, _diary(movement, rng, [15.0] * 12))
    assert not found.winding.learnt
    assert any(said.startswith("winding") for said in found.cannot_tell)


def test_a_hand_wound_watch_has_no_winding_to_tell():
    found = oscsim.diary(oscsim.load("ferryman"), [oscsim.Entry(day=n, error_s=-4.0 * n) for n in range(9)])
    assert found.winding is None
    assert found.mean_s_per_day == pytest.approx(-4.0)


FILE = "date;error_s;hours_worn;set\n2026-03-01;0;;\n2026-03-02;-4,5;12;\n2026-03-04;-13;10;yes\n2026-03-05;-4;12;\n"


def test_a_file_with_missing_days_and_a_setting(tmp_path, command):
    path = tmp_path / "diary.csv"
    path.write_text(FILE)
    code, out, err = command("diary", "dockhand", path, "--format", "csv")
    assert (code, err) == (0, "")
    rows = [line.split(",") for line in out.splitlines()]
    assert [row[1:3] for row in rows[1:]] == [["1.0", "-4.5"], ["2.0", "-8.5"], ["1.0", "-4.0"]]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (FILE.replace("2026-03-05", "2026-03-03"), "days must go forward"),
        (FILE.replace("-13", "much"), "error_s"),
        (FILE.replace("2026-03-04", "4.3."), "date"),
        (FILE.replace("10", "30"), "hours_worn"),
        (FILE.replace("date", "dat"), "dat"),
        ("day,error_s\n1,0\n2,1\n", "at least 4"),
    ],
)
def test_bad_files(tmp_path, refusal, text, said):
    path = tmp_path / "diary.csv"
    path.write_text(text)
    assert said in refusal("diary", "dockhand", path)


def test_a_diary_is_taken_by_its_file_or_name(tmp_path):
    path = tmp_path / "diary.csv"
    path.write_text(FILE)
    assert oscsim.diary("ferryman", path).entries == oscsim.load_diary(path)
    assert oscsim.diary("dockhand", "dockhand_september").entries == oscsim.load_diary("dockhand_september")
