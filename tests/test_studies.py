"""Every study runs at small size on a clean machine, prints a table and draws its picture; docs/node.md holds."""

import math
import os
import re
import runpy
import struct
import subprocess
import sys
from pathlib import Path

import pytest
from scipy.optimize import brentq
from scipy.special import j1, jn

import oscsim
from oscsim.answers.ratemap import ratemap

ROOT = Path(__file__).parents[1]
STUDIES = sorted(path for path in (ROOT / "studies").glob("*.py") if not path.name.startswith("_"))

#: A study of little work, which is started as a person starts it.
LIGHT = ROOT / "studies" / "node_for_apprentices.py"


def _run(script, *arguments, where):
    """A study in a process of its own, as a person starts it."""
    words = [sys.executable, str(script), *map(str, arguments)]
    environment = os.environ | {
        "PYTHONPATH": str(ROOT),
        "PYTHONWARNINGS": "error",
        "PYTHONIOENCODING": "utf-8",
    }
    return subprocess.run(
        words, cwd=where, env=environment, capture_output=True, encoding="utf-8", timeout=120
    )


@pytest.fixture
def here(monkeypatch, capfd, tmp_path):
    """Runs a study in this process, which has loaded what they all load; a warning is an error here too."""

    def run(script, *arguments):
        monkeypatch.chdir(tmp_path)
        monkeypatch.syspath_prepend(script.parent)
        monkeypatch.setattr(sys, "argv", [str(script), *map(str, arguments)])
        runpy.run_path(str(script), run_name="__main__")
        return capfd.readouterr()

    return run


@pytest.mark.parametrize("study", STUDIES, ids=lambda path: path.stem)
def test_study(study, here, tmp_path):
    pictures = tmp_path / "pictures"
    out, err = here(study, "--small", "--out", pictures)
    assert err == ""
    told = out.rsplit("picture: ", 1)[0]
    assert (
        len(re.findall(r"(?<!\S)[+-]?\d+(?:\.\d+)?(?!\S)", told)) > 10
    )  # cells of a table: degrees are whole
    assert max(len(line) for line in out.splitlines()) <= 120 + len(str(tmp_path))
    assert [path.name for path in tmp_path.iterdir()] == ["pictures"]
    (picture,) = pictures.iterdir()
    assert picture.name == f"{study.stem}.png"
    data = picture.read_bytes()
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = struct.unpack(">II", data[16:24])
    assert width > 1000
    assert height > 700


def test_studies_say_what_they_are_for(here, capfd, tmp_path):
    assert len(STUDIES) >= 5
    with pytest.raises(SystemExit) as asked:
        here(STUDIES[0], "--help")
    assert asked.value.code == 0
    said = capfd.readouterr().out
    assert "--small" in said
    assert "--out DIR" in said
    with pytest.raises(SystemExit) as wrong:
        here(STUDIES[0], "--smal1")
    assert wrong.value.code == 2
    alone = _run(LIGHT, "--small", where=tmp_path)
    assert (alone.returncode, alone.stderr) == (0, "")
    assert [path.name for path in tmp_path.iterdir()] == [f"{LIGHT.stem}.png"]


# --------------------------------------------------------------------------------------- docs/node.md

NODE = (ROOT / "docs" / "node.md").read_text("utf-8")


def _rows(pattern):
    found = re.findall(pattern, NODE, re.MULTILINE)
    assert found
    return found


def test_the_page_names_the_zeros_of_the_bessel_functions():
    """scipy: first zeros of J1 and J2."""
    node, worst = brentq(j1, 3.0, 4.5), brentq(lambda a: jn(2, a), 4.5, 6.0)
    assert f"{node:.4f} rad, or {math.degrees(node):.2f}°" in NODE
    assert f"{worst:.4f} rad, or {math.degrees(worst):.2f}°" in NODE


def test_the_page_s_rates():
    """I = 10 mg·cm², 4 Hz, 1 µg·cm: k = I (2πf)²; the rate 86400 (G/k) J1(A)/A."""
    stiffness = 10e-10 * (2.0 * math.pi * 4.0) ** 2
    pull = 1e-11 * 9.80665
    for degrees, rate in _rows(r"^\| (\d+)° \| ([+−-]\d+\.\d+) \|"):
        a = math.radians(float(degrees))
        want = 86400.0 * pull / stiffness * j1(a) / a
        assert float(rate.replace("−", "-")) == pytest.approx(want, abs=0.00051)


def test_the_page_s_nodes():
    """The engine's node of every bundled design."""
    found = dict(_rows(r"^\| ([A-Z][a-z]+) \| (\d+\.\d+)° \|"))
    movements = [oscsim.load(name) for name in oscsim.bundled()]
    assert set(found) == {movement.name for movement in movements}
    for movement in movements:
        node = ratemap(movement, amplitudes_deg=[200.0], heavy_points_deg=[0.0]).node_deg
        assert float(found[movement.name]) == pytest.approx(node, abs=0.0051)
