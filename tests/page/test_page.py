"""The lesson without a browser: tables, their measured error, the file, and what is refused."""

import base64
import json
import math
import re

import numpy as np
import pytest
from scipy.interpolate import BarycentricInterpolator

import oscsim
from oscsim.parts.hairspring_table import coil_on_dial
from oscsim.show.page import rounded_up
from oscsim.teaching.drawn_coil import USUAL
from oscsim.teaching.page_motion import SAMPLES, SWINGS
from oscsim.teaching.page_tables import nodes, weights
from tests.page.test_in_browser import DESIGNS, HOSTILE


@pytest.mark.parametrize("name", DESIGNS)
def test_bundled_designs_keep_the_promise(pages, name):
    _, lesson, path = pages(name)
    assert lesson.tables.compared > 150
    assert lesson.tables.amplitude_error_deg <= 0.5
    assert lesson.tables.rate_error_s_per_day <= 0.3
    assert path.stat().st_size <= 3_000_000


def test_weights_are_those_of_barycentric_interpolation():
    """Against scipy's interpolator on the same nodes."""
    rng = np.random.default_rng(3)
    at, values = nodes(7, 2.0, 5.0), rng.normal(size=7)
    x = np.concatenate([rng.uniform(2.0, 5.0, 20), at])
    assert weights(x, 7, 2.0, 5.0) @ values == pytest.approx(
        BarycentricInterpolator(at, values)(x), abs=1e-12
    )
    assert weights(np.array([1.0]), 4, 1.0, 1.0) @ np.ones(4) == pytest.approx([1.0])


def test_sliders_start_at_the_design_and_on_a_step(pages):
    for name in DESIGNS:
        for s in pages(name)[1].sliders:
            assert s.low <= s.value <= s.high
            assert (s.value - s.low) / s.step == pytest.approx(round((s.value - s.low) / s.step), abs=1e-6)


def test_motion_is_a_whole_period(pages):
    """In two beats the wheel goes on by one tooth and the lever comes back to its banking."""
    movement, lesson, _ = pages("dinghy")
    m, e = lesson.motion, movement.escapement
    bank = 0.5 * (m.lock_deg + 2.0 * e.run_deg + e.pallet_lift_deg)
    assert np.abs(m.lever_deg).max(axis=(1, 2)) == pytest.approx(bank, abs=1e-9)
    assert m.wheel_deg[..., -1] == pytest.approx(np.full(m.swing_deg.shape, 360.0 / e.teeth), abs=1e-9)
    assert (np.diff(m.time, axis=-1) >= 0.0).all()
    assert m.time[..., -1] == pytest.approx(1.0)
    assert np.abs(m.balance[..., 0]) == pytest.approx(np.ones(m.swing_deg.shape), abs=0.03)
    # the end of the second phase: unlocking has turned the wheel back, by the draw
    recoil = -m.drawing["recoil"] * (m.lock_deg + e.run_deg)
    released = m.wheel_deg[..., 2 * SAMPLES - 1]
    assert released == pytest.approx(np.repeat(recoil[:, None], SWINGS, axis=1), abs=1e-9)


def test_the_moving_hairspring_is_the_engines(pages):
    """The page's curve between its angles against the coil computed there, within a hundredth of its radius."""
    lesson = pages("dockhand")[1]
    c = lesson.coil
    angles = np.radians([-310.0, -123.0, 45.0, 270.0])
    at = weights(np.degrees(angles), c.x.shape[1], *c.span_deg)
    turn = angles * (1.0 - np.linspace(0.0, 1.0, len(c.x))[:, None])
    drawn = ((c.y + 1j * c.x) @ at.T) * np.exp(1j * turn)
    spring = lesson.movement.hairspring or USUAL
    computed = coil_on_dial(spring, angles, len(c.x) // math.ceil(spring.turns))
    assert np.abs(drawn - computed).max() < 0.01 * c.radius_mm


def test_named_jewels_count_as_they_do(pages):
    """A design that names its holes stands at its own count with its own efficiency."""
    movement, lesson, _ = pages("dinghy")
    assert {s.key: s.value for s in lesson.sliders}["jewels"] == 17
    assert lesson.jewel_drive[17] == 1.0
    assert lesson.jewel_drive[7] < lesson.jewel_drive[9] < 1.0 < lesson.jewel_drive[19]
    fewer = oscsim.settle(movement.with_({"train.jewels": 7})).points
    own = oscsim.settle(movement).points
    torque = fewer.escape_torque_n_m.item() / own.escape_torque_n_m.item()
    assert torque == pytest.approx(lesson.jewel_drive[7])


def test_the_file_holds_inert_data_and_no_way_out(tmp_path):
    movement = oscsim.load("packet").with_({"name": HOSTILE, "story": HOSTILE})
    lesson = oscsim.page(movement)
    text = lesson.html()
    assert text.count("<script") == text.count("</script>") == 2
    assert 'onerror="window' not in text
    data = re.search(r'id="lesson-data">(.*?)</script>', text)[1]
    assert not set("<>&") & set(data)
    assert json.loads(data)["name"].startswith("</script>")
    drive = base64.b64decode(json.loads(data)["tables"]["drive"])
    assert len(drive) == 4 * lesson.tables.drive.size
    # nothing is loaded: no address but that of the SVG name space
    assert set(re.findall(r"https?://[^\s\"'`]+", text)) == {"http://www.w3.org/2000/svg"}
    assert "{{" not in re.sub(r'id="lesson-data">.*?</script>|<title>.*?</title>', "", text)


def test_progress_is_told(pages):
    seen = []
    oscsim.page(oscsim.load("dockhand"), progress=lambda what, share: seen.append((what, share)))
    shares = [share for _, share in seen]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert len(seen) > 5


def test_command(command, tmp_path):
    out = tmp_path / "lesson.html"
    code, text, err = command("page", "dockhand", "--regulate", "-o", out)
    assert (code, err) == (0, "")
    assert "Mainspring torque" in text
    assert f"{out}: 0." in text
    assert out.read_text("utf-8").startswith("<!doctype html>")
    assert "as the design file, regulated" in re.sub(r"\s+", " ", out.read_text("utf-8")).replace(
        "of the", "as the"
    )


def test_refusals(refusal, tmp_path):
    kept = tmp_path / "kept.html"
    kept.write_text("mine")
    assert "-o: missing" in refusal("page", "dockhand")
    assert ".html" in refusal("page", "dockhand", "-o", tmp_path / "lesson.txt")
    assert "no bundled design" in refusal("page", "dockhnd", "-o", kept)
    assert "cannot be written" in refusal("page", "dockhand", "-o", tmp_path / "none" / "lesson.html")
    stopped = tmp_path / "stopped.toml"
    oscsim.save(oscsim.load("dockhand").with_({"balance.viscous_q": 5, "mainspring.height_mm": 0.3}), stopped)
    assert "no range to teach from" in refusal("page", stopped, "-o", kept)
    assert kept.read_text() == "mine"


@pytest.mark.parametrize(
    ("error", "shown"), [(0.00123, 0.002), (0.03, 0.03), (0.0951, 0.1), (2.4, 3.0), (0.0, 0.0)]
)
def test_errors_are_rounded_up(error, shown):
    assert rounded_up(error) == pytest.approx(shown)
