"""Large batches in blocks: every way of computing them gives the same bits; what is finished is kept.

Source: the serial run, and ``settle`` of each block by itself; bits are compared as bytes, NaN included.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import oscsim
from oscsim.errors import InputError
from oscsim.motion import sweep as module
from oscsim.motion.cycle import Cycle
from oscsim.motion.settle import SettledBatch, settle
from oscsim.motion.sweep import sweep
from oscsim.operating import OperatingPoints, operating_points
from oscsim.stack import varied

BLOCK = 70


@pytest.fixture(autouse=True, scope="module")
def small_blocks() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "BLOCK", BLOCK)
        yield


@pytest.fixture(scope="module")
def points() -> OperatingPoints:
    """480 points: some run, some knock (with and without a number), some have stopped."""
    heights = np.exp(np.linspace(np.log(0.3), np.log(8.0), 80))
    stack = varied(oscsim.load("ferryman"), {"mainspring.height_mm": heights})
    return operating_points(stack, oscsim.Setting(positions=["CH", "12H"], hours=[0, 20, 60]))


@pytest.fixture(scope="module")
def serial(points: OperatingPoints) -> bytes:
    return bits(sweep(points.oscillators, points.knock_angle))


def bits(batch: SettledBatch) -> bytes:
    arrays = [batch.state, batch.low, batch.high, *(getattr(batch.cycle, f.name) for f in fields(Cycle))]
    return b"".join(np.ascontiguousarray(array).tobytes() for array in arrays)


def test_serial_is_settle_block_by_block(points: OperatingPoints, serial: bytes) -> None:
    whole = sweep(points.oscillators, points.knock_angle)
    assert bits(whole) == serial
    assert len({*whole.state.tolist()}) == 3
    assert np.isnan(whole.cycle.left).any()
    for start in range(0, 480, BLOCK):
        block = slice(start, min(start + BLOCK, 480))
        alone = settle(points.oscillators.take(block), points.knock_angle[block])
        assert whole.state[block].tobytes() == alone.state.tobytes()
        for f in fields(Cycle):
            part = np.ascontiguousarray(getattr(whole.cycle, f.name)[..., block])
            assert part.tobytes() == getattr(alone.cycle, f.name).tobytes(), f.name


@pytest.mark.parametrize("workers", [1, 2, 5])
def test_threads(points: OperatingPoints, serial: bytes, workers: int) -> None:
    with ThreadPoolExecutor(workers) as pool:
        assert bits(sweep(points.oscillators, points.knock_angle, executor=pool)) == serial


def test_processes_started_afresh(points: OperatingPoints, serial: bytes) -> None:
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as pool:
        assert bits(sweep(points.oscillators, points.knock_angle, executor=pool)) == serial


@pytest.mark.filterwarnings("ignore")  # the cluster's own, when it starts and ends
def test_a_cluster(points: OperatingPoints, serial: bytes, tmp_path: Path) -> None:
    """A scheduler and two workers of dask.distributed, each a process of its own, by their network addresses."""
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(
            n_workers=2,
            threads_per_worker=1,
            processes=True,
            dashboard_address=None,
            local_directory=str(tmp_path / "scratch"),
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        assert len(client.scheduler_info()["workers"]) == 2
        found = sweep(
            points.oscillators, points.knock_angle, executor=client.get_executor(), store=tmp_path / "kept"
        )
    assert bits(found) == serial
    assert bits(sweep(points.oscillators, points.knock_angle, store=tmp_path / "kept")) == serial


class Backwards(Executor):
    """Runs what it is given when asked for it, last things first: an order of its own."""

    def submit(self, call: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        waiting = self.__dict__.setdefault("waiting", [])
        future: Future[Any] = Future()
        waiting.append((future, call, args))
        future.result = lambda timeout=None: self._run(future)  # type: ignore[method-assign]
        return future

    def _run(self, wanted: Future[Any]) -> Any:
        while self.waiting:
            future, call, args = self.waiting.pop()
            future.set_result(call(*args))
        return Future.result(wanted)


def test_any_executor_in_any_order(points: OperatingPoints, serial: bytes) -> None:
    assert bits(sweep(points.oscillators, points.knock_angle, executor=Backwards())) == serial


def test_a_failing_worker_is_heard_of(points: OperatingPoints) -> None:
    class Broken(ThreadPoolExecutor):
        def submit(self, call: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
            future: Future[Any] = Future()
            future.set_exception(RuntimeError("worker lost"))
            return future

    with Broken(1) as pool, pytest.raises(RuntimeError, match="worker lost"):
        sweep(points.oscillators, points.knock_angle, executor=pool)


# ---------------------------------------------------------------------------------- kept on disk


class Stop(Exception):
    """The hand that interrupts."""


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Sizes of the blocks that are computed."""
    calls: list[int] = []

    def counting(osc: Any, knock: Any, **kwargs: Any) -> SettledBatch:
        calls.append(osc.size)
        return settle(osc, knock, **kwargs)

    monkeypatch.setattr(module, "settle", counting)
    return calls


@pytest.mark.parametrize("threaded", [False, True])
def test_interrupted_and_resumed(
    points: OperatingPoints, serial: bytes, tmp_path: Path, counted: list[int], threaded: bool
) -> None:
    seen: list[int] = []

    def interrupt(done: int, whole: int) -> None:
        assert whole == 480
        seen.append(done)
        if done == 3 * BLOCK:
            raise Stop

    with pytest.raises(Stop):
        sweep(points.oscillators, points.knock_angle, store=tmp_path, progress=interrupt)
    assert seen == [BLOCK, 2 * BLOCK, 3 * BLOCK]
    kept = {path: path.read_bytes() for path in tmp_path.glob("block-*.npz")}
    assert len(kept) == 3
    counted.clear()
    with ThreadPoolExecutor(2) as pool:
        executor = pool if threaded else None
        found = sweep(points.oscillators, points.knock_angle, store=tmp_path, executor=executor)
    assert sorted(counted) == [60, BLOCK, BLOCK, BLOCK]  # four of seven were left
    assert bits(found) == serial
    assert {path: path.read_bytes() for path in kept} == kept
    counted.clear()
    assert bits(sweep(points.oscillators, points.knock_angle, store=tmp_path)) == serial
    assert counted == []
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]  # no half-written file


def test_an_interrupted_executor_keeps_what_is_finished_and_gives_up_the_rest(
    points: OperatingPoints, tmp_path: Path
) -> None:
    futures: list[Future[Any]] = []

    class Waiting(ThreadPoolExecutor):
        def submit(self, call: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
            future: Future[Any] = Future()
            if len(futures) in (0, 4):
                future.set_result(call(*args))
            futures.append(future)
            return future

    def interrupt(done: int, whole: int) -> None:
        raise Stop

    with pytest.raises(Stop):
        sweep(points.oscillators, points.knock_angle, executor=Waiting(1), store=tmp_path, progress=interrupt)
    assert [n for n, future in enumerate(futures) if not future.cancelled()] == [0, 4]
    assert len(list(tmp_path.glob("block-*.npz"))) == 2


NPY = (
    b"\x93NUMPY\x01\x00v\x00{'descr': '<f8', 'fortran_order': False, 'shape': (1,), }".ljust(128) + b"\0" * 8
)


def damages(whole: bytes, other: bytes) -> dict[str, bytes]:
    middle = len(whole) // 2
    return {
        "empty": b"",
        "torn": whole[:middle],
        "a bit changed": whole[:middle] + bytes([whole[middle] ^ 1]) + whole[middle + 1 :],
        "text": b"not a block",
        "block of another size": other,
        "an array alone": NPY,
    }


@pytest.mark.parametrize("damage", damages(b"..", b""))
def test_a_damaged_block_is_computed_again(
    points: OperatingPoints, serial: bytes, tmp_path: Path, counted: list[int], damage: str
) -> None:
    sweep(points.oscillators, points.knock_angle, store=tmp_path)
    by_size = sorted(tmp_path.glob("block-*.npz"), key=lambda path: path.stat().st_size)
    short, victim = by_size[0], by_size[-1]  # 60 points and 70
    good = victim.read_bytes()
    victim.write_bytes(damages(good, short.read_bytes())[damage])
    counted.clear()
    assert bits(sweep(points.oscillators, points.knock_angle, store=tmp_path)) == serial
    assert counted == [BLOCK]
    counted.clear()
    assert bits(sweep(points.oscillators, points.knock_angle, store=tmp_path)) == serial  # mended on disk too
    assert counted == []


class Trap:
    """Would run when unpickled."""

    def __reduce__(self) -> tuple[Any, tuple[str]]:
        return (pytest.fail, ("a pickle was opened",))


def test_no_pickle_is_read_or_written(points: OperatingPoints, serial: bytes, tmp_path: Path) -> None:
    sweep(points.oscillators, points.knock_angle, store=tmp_path)
    first, second, *_ = sorted(tmp_path.glob("block-*.npz"))
    with np.load(first, allow_pickle=False) as kept:
        assert {array.dtype.kind for array in kept.values()} <= {"f", "i", "b"}
        arrays = dict(kept)
    np.savez(first, **(arrays | {"left": np.array([Trap()], object)}))
    second.write_bytes(b"\x80\x04N.")  # a pickle of None
    assert bits(sweep(points.oscillators, points.knock_angle, store=tmp_path)) == serial


def test_other_watches_have_other_blocks(points: OperatingPoints, tmp_path: Path, counted: list[int]) -> None:
    part, knock = points.oscillators.take(slice(0, BLOCK)), points.knock_angle[:BLOCK]
    sweep(part, knock, store=tmp_path)
    sweep(part.each(lambda values: np.nextafter(values, np.inf)), knock, store=tmp_path)
    sweep(part, np.nextafter(knock, 0.0), store=tmp_path)
    assert len(counted) == 3
    sweep(part, knock, store=tmp_path)
    assert len(counted) == 3


def test_a_folder_that_cannot_be_used(points: OperatingPoints, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="cannot be used to keep results"):
        sweep(points.oscillators, points.knock_angle, store=tmp_path / "file" / "folder")
