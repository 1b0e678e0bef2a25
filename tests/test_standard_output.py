"""When standard output cannot take the answer: one line, no traceback."""

import os
import subprocess
import sys

import pytest

from tests.movements import HEAVY

DESIGNS = [sys.executable, "-m", "oscsim", "designs", "dockhand"]


def test_full_disk():
    if not os.path.exists("/dev/full"):
        pytest.skip("no /dev/full here")
    with open("/dev/full", "w") as full:
        found = subprocess.run(DESIGNS, stdout=full, stderr=subprocess.PIPE, encoding="utf-8", timeout=60)
    assert found.returncode == 2
    assert found.stderr == "oscsim: standard output: cannot be written: No space left on device\n"


def test_reader_that_has_seen_enough():
    read, write = os.pipe()
    os.close(read)
    found = subprocess.run(DESIGNS, stdout=write, stderr=subprocess.PIPE, encoding="utf-8", timeout=60)
    os.close(write)
    assert (found.returncode, found.stderr) == (0, "")


def test_terminal_that_lacks_a_letter(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(HEAVY.replace("heavy balance", "Hafenmöwe"), "utf-8")
    run = [*DESIGNS[:3], "settle", str(path)]
    ascii_only = os.environ | {"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    found = subprocess.run(run, capture_output=True, encoding="utf-8", timeout=60, env=ascii_only)
    assert (found.returncode, found.stdout) == (2, "")
    assert (
        found.stderr == "oscsim: standard output: cannot show '\\xf6' in ascii; set PYTHONIOENCODING=utf-8\n"
    )
