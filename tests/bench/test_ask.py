"""The guided entry, by a pseudo-terminal as a person sees it, and its words of the trade."""

import os
import pty
import select
import subprocess
import sys
import time

import pytest

from oscsim.commands.ask import ask_slip
from oscsim.errors import InputError
from oscsim.slips.slip import load_slip, slip_text
from oscsim.units import trade_number

ANSWERS = (
    "Ferry pilot's watch",
    "3 Hz",
    "17",
    "automatic",
    "11½ lignes",
    "",  # the balance's diameter
    "",
    "",
    "",
    "1.2 x 0.11 x 320",
    "10.2 3.0 mm",
    "",
    "dial up 0 262 +4 0.3",
    "crown down 24 198",
    "sideways 0 250",  # no position: asked again
    "12H 30 h stops",
    "12H 30 stops",
    "",
    "unknown",
)


def asked(answers):
    """The slip, the questions and what was said."""
    left, questions, said = list(answers), [], []

    def read(words):
        questions.append(words)
        return left.pop(0) + "\n"

    return ask_slip(read, said.append), questions, said, left


def test_answers_become_a_slip(tmp_path):
    slip, _, said, left = asked(ANSWERS)
    assert not left
    assert slip.given["balance.beats_per_hour"] == 21600
    assert slip.given["train.jewels"] == 17
    assert slip.winding == "self"
    # 443.296 lignes make a metre (French law of 19 Frimaire VIII)
    assert slip.facts["movement_diameter_mm"] == pytest.approx(11.5 * 1000.0 / 443.296, abs=1e-5)
    assert slip.given["mainspring.thickness_mm"] == 0.11
    assert [(r.position, r.hours, r.stops) for r in slip.readings.rows] == [
        ("CH", 0.0, False), ("9H", 24.0, False), ("12H", 30.0, True),
    ]  # fmt: skip
    assert slip.readings.rows[0].beat_error_ms == 0.3
    assert (slip.readings.lift_angle_deg, slip.readings.lift_angle_uncertainty_deg) == (None, 4.0)
    assert any("Once more, or Enter to skip" in line for line in said)
    (tmp_path / "slip.toml").write_text(slip_text(slip), "utf-8")
    again = load_slip(tmp_path / "slip.toml")
    assert (again.given, again.facts, again.winding) == (slip.given, slip.facts, slip.winding)
    assert again.readings.rows == slip.readings.rows


def test_every_question_can_be_skipped():
    slip, questions, _, _ = asked([""] * 40)
    assert dict(slip.given) == {}
    assert slip.readings is None
    assert len(questions) == len(set(questions))


def test_an_answer_out_of_range_is_asked_again():
    slip, questions, said, _ = asked(["", "3 kHz", "3", "2.5 Hz", *[""] * 20])
    assert slip.given == {"balance.beats_per_hour": 18000}
    assert len([q for q in questions if q.startswith("Beat")]) == 3
    assert any("out of range" in line for line in said)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [("4 Hz", "beats/h", 28800.0),
     ("21600 A/h", "beats/h", 21600.0), ("2,56 cm", "mm", 25.6), ("11.5'''", "mm", 25.942), ("11 1/2'''", "mm", 25.942),
     ("3/4 lignes", "mm", 1.6919),
     ("1½ days", "h", 36.0), ("52°", "deg", 52.0), ("-4", "s/day", -4.0)],
)  # fmt: skip
def test_words_of_the_trade(text, unit, value):
    assert trade_number("x", text, unit) == pytest.approx(value, rel=1e-4)


def test_what_is_no_number_says_what_is_understood():
    with pytest.raises(InputError, match="not a number, in mm; understood behind it: mm, cm, lignes"):
        trade_number("movement_diameter_mm", "large", "mm")


def test_on_a_terminal(tmp_path):
    """A person at a terminal: each answer is typed when its question stands there."""
    place, design = tmp_path / "slip.toml", tmp_path / "design.toml"
    words = [sys.executable, "-m", "oscsim", "sketch", "--ask", str(place), "--output", str(design)]
    mine, theirs = pty.openpty()
    run = subprocess.Popen(words, stdin=theirs, stdout=theirs, stderr=theirs, close_fds=True)
    os.close(theirs)
    shown, answers = b"", [a for a in ANSWERS if a not in ("sideways 0 250", "12H 30 h stops")]
    end = time.monotonic() + 240.0
    try:
        seen = 0
        while time.monotonic() < end:
            ready, _, _ = select.select([mine], [], [], 1.0)
            if ready:
                try:
                    part = os.read(mine, 4096)
                except OSError:  # the other end has closed
                    break
                if not part:
                    break
                shown += part
            if answers and shown[seen:].rstrip(b" ").endswith((b":", b"?")):
                seen = len(shown)
                os.write(mine, answers.pop(0).encode() + b"\n")
        assert run.wait(timeout=60) == 0, shown.decode()
    finally:
        run.kill()
        os.close(mine)
    assert not answers
    assert load_slip(place).facts["movement_diameter_mm"] == pytest.approx(25.942, abs=1e-3)
    assert design.exists()
    assert b"Written: " in shown


def test_what_is_there_is_not_overwritten(tmp_path, refusal):
    place = tmp_path / "slip.toml"
    place.write_text("name = 'mine'\n")
    assert "is there already" in refusal("sketch", "--ask", place)
    assert place.read_text() == "name = 'mine'\n"
