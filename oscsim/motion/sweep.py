"""Large batches in blocks: serial, on any executor, and kept on disk as they are finished.

Blocks depend on the batch alone, never on the workers, so that every way of computing them gives the same bits.
"""

from __future__ import annotations

import hashlib
import io
import os
from collections.abc import Callable
from concurrent.futures import Executor, Future
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np

from oscsim.arrays import Array
from oscsim.errors import InputError
from oscsim.motion.batch import joined
from oscsim.motion.coefficients import Oscillators
from oscsim.motion.cycle import Cycle
from oscsim.motion.settle import SettledBatch, settle
from oscsim.version import __version__
from oscsim.whole import write_whole

#: Points of a block: some tenths of a second of work, so that sending it off costs little beside.
BLOCK = 4096


def sweep(
    osc: Oscillators,
    knock_angle: Array,
    *,
    executor: Executor | None = None,
    store: str | os.PathLike[str] | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> SettledBatch:
    """Settle a batch of any size; the same as ``settle`` block by block.

    executor: anything with the interface of concurrent.futures, an engine for several machines included; store: a
    folder in which finished blocks are kept and found again after an interruption; progress: called with points
    done and points in all. Raises InputError when the folder cannot be used.
    """
    starts = range(0, osc.size, BLOCK)
    blocks = [slice(start, min(start + BLOCK, osc.size)) for start in starts]
    found: list[SettledBatch | None] = [None] * len(blocks)
    waiting: dict[int, Future[SettledBatch]] = {}
    folder = None if store is None else _folder(Path(store))
    done = 0
    names = [""] * len(blocks)
    for number, block in enumerate(blocks):
        part, knock = osc.take(block), knock_angle[block]
        if folder is not None:
            names[number] = _name(part, knock)
            found[number] = _load(folder / names[number], part.size)
        if found[number] is None and executor is not None:
            waiting[number] = executor.submit(settle, part, knock)
    try:
        for number, block in enumerate(blocks):
            result = found[number]
            if result is None:
                later = waiting.get(number)
                result = later.result() if later else settle(osc.take(block), knock_angle[block])
                if folder is not None:
                    _save(folder / names[number], result)
            found[number] = result
            done += block.stop - block.start
            if progress is not None:
                progress(done, osc.size)
    except BaseException:
        for number, later in waiting.items():
            ended = not later.cancel() and later.done()
            if ended and folder is not None and found[number] is None and later.exception() is None:
                _save(folder / names[number], later.result())
        raise
    return _joined([result for result in found if result is not None])


def _joined(parts: list[SettledBatch]) -> SettledBatch:
    cycle = joined([part.cycle for part in parts])
    return SettledBatch(
        np.concatenate([part.state for part in parts]),
        np.concatenate([part.low for part in parts]),
        np.concatenate([part.high for part in parts]),
        cycle,
    )


def _folder(path: Path) -> Path:
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"{path}: cannot be used to keep results: {error.strerror or error}") from None
    return path


def _name(osc: Oscillators, knock: Array) -> str:
    """A name that belongs to this block's input and this version alone."""
    told = hashlib.sha256(__version__.encode())
    for values in osc.arrays():
        told.update(np.ascontiguousarray(values).tobytes())
    told.update(np.ascontiguousarray(knock).tobytes())
    return f"block-{told.hexdigest()[:32]}.npz"


def _save(path: Path, batch: SettledBatch) -> None:
    arrays = {f.name: getattr(batch.cycle, f.name) for f in fields(Cycle)}
    arrays |= {"state": batch.state, "low": batch.low, "high": batch.high}
    out = io.BytesIO()
    np.savez(out, **arrays)
    write_whole(path, out.getvalue())


def _load(path: Path, points: int) -> SettledBatch | None:
    """A block kept earlier; None when it is absent or damaged, so that it is computed again."""
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as kept:
            columns: dict[str, Any] = {f.name: kept[f.name] for f in fields(Cycle)}
            cycle = Cycle(**columns)
            batch = SettledBatch(kept["state"], kept["low"], kept["high"], cycle)
    except Exception:  # a torn or foreign file makes numpy and zipfile raise almost anything
        return None
    whole = batch.state.shape == cycle.left.shape == (points,)
    return batch if whole else None
