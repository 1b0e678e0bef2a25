"""Design files: load, save, load is the identity; files are written whole or not at all."""

import errno
import os
import stat
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import oscsim
from oscsim import whole
from tests.movements import HEAVY, REFERENCE, design_text, movements

DESIGNS = sorted(REFERENCE.glob("*.toml"))
HARD_TEXT = "\"'\\ \t\r\n \x00\x1b\x7f\x85\u2028 Ωµ·² 🕰 #=[x] '''\"\"\" \\u0041"


@given(movements())
def test_round_trip_in_text(movement):
    text = oscsim.dumps(movement)
    again = oscsim.loads(text)
    assert again == movement
    assert repr(again) == repr(movement)  # also -0.0 and whole numbers
    assert oscsim.dumps(again) == text


@given(movements())
def test_written_text_is_what_tomllib_reads(movement):
    # Outside: tomllib of the standard library, an independent reader of TOML 1.0
    tables = tomllib.loads(oscsim.dumps(movement))
    assert (tables["name"], tables["story"] if movement.story else "") == (movement.name, movement.story)
    for table in ("balance", "escapement", "mainspring", "barrel"):
        part = getattr(movement, table)
        assert tables[table] == {
            k: v for k, v in vars(part).items() if v is not None and (k, v) != ("kind", "lever")
        }


@given(st.text(min_size=1).filter(str.strip), st.text())
def test_round_trip_of_any_text(name, story):
    movement = oscsim.loads(HEAVY).with_({"name": name, "story": story})
    assert oscsim.loads(oscsim.dumps(movement)) == movement


@pytest.mark.parametrize("name", oscsim.bundled())
def test_bundled_designs_round_trip(name, tmp_path):
    movement = oscsim.load(name)
    path = tmp_path / "mine.toml"
    oscsim.save(movement, path)
    assert oscsim.load(path) == oscsim.load(str(path)) == movement
    assert movement.story


@pytest.mark.parametrize("path", DESIGNS, ids=lambda path: path.stem)
def test_reference_designs_round_trip(path, tmp_path):
    movement = oscsim.load(path)
    oscsim.save(movement, tmp_path / "mine.toml")
    assert oscsim.load(tmp_path / "mine.toml") == movement
    assert movement == oscsim.loads(path.read_text("utf-8"))


def test_hard_text_survives_the_disk(tmp_path):
    movement = oscsim.loads(HEAVY).with_({"name": HARD_TEXT, "story": HARD_TEXT * 3})
    oscsim.save(movement, tmp_path / "µ ².toml")
    assert oscsim.load(tmp_path / "µ ².toml") == movement


def test_the_values_of_a_file_arrive():
    movement = oscsim.loads(design_text({"train.jewels": "{escape = 2, third = 1}"}))
    assert movement.balance.inertia_mg_cm2 == 20.0
    assert movement.balance.out_of_beat_deg == -1.2
    assert movement.escapement.teeth == 15
    assert movement.escapement.horn_clearance_deg == 8.0  # docs/physics.md §2: the default
    assert movement.mainspring.slip_torque_n_mm is None
    assert movement.train.jewels == oscsim.JewelledHoles(escape=2, third=1)


def test_own_radii_replace_the_standard_ones_key_by_key():
    movement = oscsim.loads(design_text({"train.arbors.third.pivot_radius_mm": "0.2"}))
    # docs/physics.md §3: third 0.14, 0.50, 2.9
    assert movement.train.arbors.third == oscsim.Arbor(
        pivot_radius_mm=0.2, pinion_radius_mm=0.50, wheel_radius_mm=2.9
    )
    assert movement.train.arbors.centre == oscsim.Arbors().centre
    assert "[train.arbors.third]" in oscsim.dumps(movement)
    assert "centre" not in oscsim.dumps(movement)


def test_a_radius_that_a_file_cannot_take_away_is_not_lost_in_silence():
    movement = oscsim.loads(HEAVY)
    bare = oscsim.Arbors(third=oscsim.Arbor(pivot_radius_mm=0.2, pinion_radius_mm=0.5))
    train = oscsim.Train(**(vars(movement.train) | {"arbors": bare}))
    odd = oscsim.Movement(**(vars(movement) | {"train": train}))
    with pytest.raises(oscsim.InputError, match=r"train\.arbors\.third\.wheel_radius_mm"):
        oscsim.dumps(odd)


def test_lift_angle_in_place_of_the_fork_ratio():
    changes, gone = {"escapement.lift_angle_deg": "50.0"}, ["escapement.fork_ratio"]
    movement = oscsim.loads(design_text(changes, without=gone))
    assert movement.escapement.fork_ratio is None
    # docs/physics.md §2: Λ = (B - ϱ - σ)/g, B = ℓ + 2ϱ + L; here (2.6 + 0.4 + 8.0 - 0.3)/g
    from oscsim.parts.escapement import geometry

    assert geometry(movement.escapement).fork_ratio == pytest.approx(10.7 / 50.0, rel=1e-15)
    assert "fork_ratio" not in oscsim.dumps(movement)
    assert oscsim.loads(oscsim.dumps(movement)) == movement


def test_numbers_of_numpy_are_written_as_numbers():
    movement = oscsim.loads(HEAVY).with_(
        {"escapement.teeth": np.int64(15), "balance.mass_mg": np.float64(85.5)}
    )
    assert oscsim.loads(oscsim.dumps(movement)) == movement


def test_windows_line_ends_and_byte_order_mark(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_bytes(b"\xef\xbb\xbf" + HEAVY.replace("\n", "\r\n").encode())
    assert oscsim.load(path) == oscsim.loads(HEAVY)


def test_a_file_comes_before_a_bundled_name(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    name = oscsim.bundled()[0]
    Path(name).write_text(HEAVY, "utf-8")
    assert oscsim.load(name).name == "heavy balance, deep lock"


class Failing:
    """Stands in for a call of the operating system that fails."""

    def __init__(self, error):
        self.error = error

    def __call__(self, *_, **__):
        raise self.error


@pytest.mark.parametrize("step", ["fsync", "chmod", "replace"])
@pytest.mark.parametrize("error", [OSError(errno.ENOSPC, "No space left on device"), KeyboardInterrupt()])
def test_a_failing_write_leaves_the_old_file_and_nothing_else(step, error, tmp_path, monkeypatch):
    path = tmp_path / "mine.toml"
    path.write_text("old", "utf-8")
    with monkeypatch.context() as patched:
        patched.setattr(whole.os, step, Failing(error))
        with pytest.raises(oscsim.InputError if isinstance(error, OSError) else KeyboardInterrupt):
            oscsim.save(oscsim.loads(HEAVY), path)
    assert path.read_text("utf-8") == "old"
    assert os.listdir(tmp_path) == ["mine.toml"]


def test_a_full_disk_leaves_the_old_file_and_nothing_else(tmp_path):
    # the operating system itself refuses after 100 bytes
    resource = pytest.importorskip("resource")
    path = tmp_path / "mine.toml"
    path.write_text("old", "utf-8")
    movement, limits = oscsim.loads(HEAVY), resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100, limits[1]))
    try:
        with pytest.raises(oscsim.InputError, match="cannot be written"):
            oscsim.save(movement, path)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
    assert path.read_text("utf-8") == "old"
    assert os.listdir(tmp_path) == ["mine.toml"]


def test_where_a_file_cannot_be_written(tmp_path):
    movement = oscsim.loads(HEAVY)
    with pytest.raises(oscsim.InputError, match="a directory"):
        oscsim.save(movement, tmp_path)
    with pytest.raises(oscsim.InputError, match=r"nowhere.*cannot be written: No such file"):
        oscsim.save(movement, tmp_path / "nowhere" / "mine.toml")
    with pytest.raises(oscsim.InputError, match="cannot be written"):
        oscsim.save(movement, tmp_path / "a\0b.toml")
    with pytest.raises(oscsim.InputError, match="is no character"):
        oscsim.save(movement.with_({"name": "half a pair \ud800"}), tmp_path / "mine.toml")
    with pytest.raises(oscsim.InputError, match="too large"):
        oscsim.save(movement.with_({"story": "long " * 50_000}), tmp_path / "mine.toml")
    assert os.listdir(tmp_path) == []


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_what_is_not_a_file_is_not_replaced(tmp_path):
    os.mkfifo(tmp_path / "pipe.toml")
    with pytest.raises(oscsim.InputError, match="not a regular file"):
        oscsim.save(oscsim.loads(HEAVY), tmp_path / "pipe.toml")
    assert stat.S_ISFIFO((tmp_path / "pipe.toml").stat().st_mode)


def test_links_are_followed_and_permissions_are_the_usual_ones(tmp_path):
    (tmp_path / "real.toml").write_text("old", "utf-8")
    try:
        (tmp_path / "link.toml").symlink_to("real.toml")
    except OSError:
        pytest.skip("no links here")
    oscsim.save(oscsim.loads(HEAVY), tmp_path / "link.toml")
    assert (tmp_path / "link.toml").is_symlink()
    assert oscsim.load(tmp_path / "real.toml") == oscsim.loads(HEAVY)
    (tmp_path / "plain").write_text("", "utf-8")
    assert (tmp_path / "real.toml").stat().st_mode == (tmp_path / "plain").stat().st_mode
