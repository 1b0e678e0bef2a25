"""The printed page: job, beat errors, picture and the whole text are on it."""

import re
import zlib

import pytest

import oscsim
from oscsim.show.report import about_lines, beat_table, report_pages
from oscsim.slips.readings import About, Reading, Readings

ABOUT = About("2026-03-04", "0417", "Harbour pilot", "stopped on the ferry, dropped once")


def words_on(pages):
    return [text.get_text() for page in pages for text in page.texts]


def test_the_page_has_it_all():
    before, after = oscsim.load_readings("packet_low_and_sick"), oscsim.load_readings("packet_cleaned")
    answer = oscsim.progress(oscsim.load("packet"), before, after)
    pages = report_pages(answer, {"before": before, "after": after}, ABOUT)
    words = "\n".join(words_on(pages))
    assert "Date 2026-03-04 · Job 0417 · For Harbour pilot" in words
    assert "stopped on the ferry" in words
    assert "Beat error, ms" in words
    printed = " ".join(words.split())
    for line in answer.text().split("\n")[1:]:
        assert " ".join(line.split()) in printed
    assert len(pages[0].axes) >= 1  # the picture


def test_no_text_runs_off_a_sheet():
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    readings = oscsim.load_readings("packet_low_and_sick")
    answer = oscsim.poise(oscsim.load("packet"), readings)
    for page in report_pages(answer, {"read": readings}, ABOUT):
        renderer = FigureCanvasAgg(page).get_renderer()
        for text in page.texts:
            box = text.get_window_extent(renderer)
            assert box.y0 >= 0.0
            assert box.x0 >= 0.0
            assert box.x1 <= page.bbox.width


def test_beat_errors_of_two_sets():
    one = Readings((Reading("CH", 0.0, 250.0, beat_error_ms=0.7), Reading("12H", 0.0, 230.0)))
    other = Readings((Reading("CH", 0.0, 280.0, beat_error_ms=0.2),))
    table = beat_table({"before": one, "after": other})
    assert re.search(r"CH\s+dial up\s+0 h\s+0\.7\s+0\.2", table)
    assert "12H" not in table
    assert beat_table({"read": Readings((Reading("CH", 0.0, 250.0),))}) == ""


@pytest.mark.parametrize(("about", "lines"), [(About(), []), (About(job="7"), ["Job 7"]),
                         (About(remarks="wet"), ["Remarks: wet"])])  # fmt: skip
def test_what_was_not_given_is_left_out(about, lines):
    assert about_lines(about) == lines


def test_the_command_writes_one_file(tmp_path, command, refusal):
    page = tmp_path / "job.pdf"
    words = ("poise", "packet", "packet_low_and_sick", "--report", page, "--job", "0417")
    code, _, err = command(*words)
    assert (code, err) == (0, "")
    content = page.read_bytes()
    assert content.startswith(b"%PDF")
    streams = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", content, re.DOTALL)
    assert any(b"BT" in zlib.decompress(stream) for stream in streams if stream[:1] == b"x")
    assert "is not .pdf" in refusal(
        "poise", "packet", "packet_low_and_sick", "--report", tmp_path / "job.png"
    )
