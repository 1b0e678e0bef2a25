"""Ctrl-C, full and read-only disks, met by real processes: one line, the old file as it was, nothing left lying."""

import os
import shutil
import signal
import subprocess
import sys
import time

import pytest

import oscsim
from oscsim.motion.sweep import _load

posix = pytest.mark.skipif(os.name != "posix", reason="signals and mounts of POSIX")
OSCSIM = [sys.executable, "-m", "oscsim"]
#: Twenty blocks of examples; the tests break off after the first.
LONG = ["tolerance", "dockhand", "--examples", "80000", "--no-sobol"]
WAIT = 120.0


def _as_in_a_terminal():
    """A shell's background job, as a test run may be one, ignores Ctrl-C; so would all that it starts."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def _started(command, **more):
    return subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        encoding="utf-8",
        start_new_session=True,
        preexec_fn=_as_in_a_terminal,
        **more,
    )


def _until(condition, process):
    end = time.monotonic() + WAIT
    while not condition():
        assert process.poll() is None, process.communicate()
        assert time.monotonic() < end, "it did not begin"
        time.sleep(0.02)


def _break_off(process):
    """Ctrl-C as a terminal sends it: to the whole group."""
    os.killpg(process.pid, signal.SIGINT)
    out, said = process.communicate(timeout=WAIT)
    assert (process.returncode, out, said) == (130, "", "oscsim: interrupted\n")
    end = time.monotonic() + WAIT
    while True:  # no worker outlives it; the interpreter's own helper takes a moment
        try:
            os.killpg(process.pid, 0)
        except ProcessLookupError:
            return
        assert time.monotonic() < end, "a process is left"
        time.sleep(0.02)


@posix
@pytest.mark.parametrize("workers", ["1", "2"])
def test_ctrl_c_in_the_middle_of_a_long_answer(workers, tmp_path):
    store, picture = tmp_path / "store", tmp_path / "band.png"
    picture.write_text("old", "utf-8")
    run = [*OSCSIM, *LONG, "--workers", workers, "--store", str(store), "--plot", str(picture)]
    process = _started(run)
    _until(lambda: any(store.glob("block-*")), process)
    _break_off(process)
    assert picture.read_text("utf-8") == "old"
    assert sorted(os.listdir(tmp_path)) == ["band.png", "store"]
    blocks = sorted(store.iterdir())
    assert all(block.name.startswith("block-") for block in blocks)
    assert all(_load(block, 4096) is not None for block in blocks)


#: The disk takes a minute over the last step of writing, and says when it has begun.
SLOW_DISK = """
import sys, time
from oscsim import cli, whole

def slow(handle):
    print("writing", flush=True, file=sys.__stdout__)
    time.sleep(60.0)

whole.os.fsync = slow
sys.exit(cli.main(sys.argv[1:]))
"""


@posix
def test_ctrl_c_while_the_file_is_written(tmp_path):
    picture = tmp_path / "down.svg"
    picture.write_text("old", "utf-8")
    process = _started(
        [sys.executable, "-c", SLOW_DISK, "rundown", "dockhand", "--step", "10", "--plot", str(picture)]
    )
    assert process.stdout.readline() == "writing\n"
    assert len(os.listdir(tmp_path)) == 2
    _break_off(process)
    assert os.listdir(tmp_path) == ["down.svg"]
    assert picture.read_text("utf-8") == "old"


def _mounted(options, script, folder):
    """The outcome of a shell script whose folder $1 is a small file system of its own, seen by nobody else."""
    if shutil.which("unshare") is None:
        pytest.skip("no unshare here")
    mount = f'mount -t tmpfs -o {options} none "$1"'
    tried = subprocess.run(
        ["unshare", "-m", "sh", "-c", mount, "sh", str(folder)], capture_output=True, timeout=WAIT
    )
    if tried.returncode:
        pytest.skip("mounting is not allowed here")
    whole = f'{mount} && cd "$1" && {script}'
    return subprocess.run(
        ["unshare", "-m", "sh", "-c", whole, "sh", str(folder), *OSCSIM],
        capture_output=True,
        encoding="utf-8",
        timeout=WAIT,
        env=os.environ | {"PYTHONPATH": os.path.dirname(os.path.dirname(oscsim.__file__))},
    )


@posix
def test_full_disk(tmp_path):
    script = (
        'shift; echo old > down.png; "$@" rundown dockhand --step 10 --plot down.png; '
        "echo $? $(cat down.png) $(ls -A)"
    )
    found = _mounted("size=16k", script, tmp_path)
    assert found.stderr == "oscsim: down.png: cannot be written: No space left on device\n"
    assert found.stdout.split() == ["2", "old", "down.png"]


@posix
def test_read_only_disk(tmp_path):
    script = (
        'shift; echo old > down.png; mount -o remount,ro "$PWD"; '
        '"$@" rundown dockhand --step 10 --plot down.png; echo $? $(cat down.png) $(ls -A); '
        '"$@" tolerance dockhand --examples 10 --no-sobol --store kept; echo $?'
    )
    found = _mounted("size=1m", script, tmp_path)
    assert found.stderr.splitlines() == [
        "oscsim: down.png: cannot be written: Read-only file system",
        "oscsim: kept: cannot be used to keep results: Read-only file system",
    ]
    assert found.stdout.split() == ["2", "old", "down.png", "2"]


@pytest.mark.parametrize("where", ["missing/down.png", "file/down.png"])
def test_no_such_folder(where, tmp_path, capsys):
    from oscsim.cli import main

    (tmp_path / "file").write_text("old", "utf-8")
    assert main(["rundown", "dockhand", "--step", "20", "--plot", str(tmp_path / where)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith(f"oscsim: {tmp_path / where}: cannot be written: ")
    assert said.err.count("\n") == 1
    assert os.listdir(tmp_path) == ["file"]


@posix
def test_writing_leaves_rights_and_umask_alone(tmp_path):
    """A new file has the rights that any program's would have; one that was there keeps its own."""
    movement, new, old = oscsim.load("dockhand"), tmp_path / "new.toml", tmp_path / "old.toml"
    usual = tmp_path / "usual"
    usual.touch()
    old.touch()
    old.chmod(0o640)
    for path in (new, old):
        oscsim.save(movement, path)
    assert new.stat().st_mode == usual.stat().st_mode
    assert old.stat().st_mode & 0o777 == 0o640
