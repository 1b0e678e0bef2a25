"""What is known of a movement, as a stack of sound ones: examples of a design that is drawn, or all that a slip
allows."""

from __future__ import annotations

import math
import os
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np

from oscsim.answers.gaps import gaps_of
from oscsim.answers.joint import joint
from oscsim.answers.points import settled_points
from oscsim.answers.tolerance import draw, spreads_of
from oscsim.arrays import Array
from oscsim.bench.how_sure import ripple_deg
from oscsim.bench.hypotheses import Moment, Table, points_at, table
from oscsim.condition import AsItIs
from oscsim.errors import InputError
from oscsim.escapements.kinds import needs_lever
from oscsim.files import load
from oscsim.movement import Movement, movement_from
from oscsim.slips.slip import Slip, load_slip, slip_of
from oscsim.stack import put_unchecked, varied
from oscsim.tables import put
from oscsim.tolerances import NORMAL_95, Spread
from oscsim.toml import read_tables
from oscsim.units import POSITIONS

#: What is known of a movement: a design or a slip, or where one is kept.
What: TypeAlias = Movement | Slip | str | os.PathLike[str]
#: Movements that are drawn, of a design and of a slip.
EXAMPLES, DESIGNS = 400, 600
#: Share of the examples' spread that is taken into the covariance, not drawn: each stands for those around it.
SMOOTHED = 0.4
#: Tables that are kept.
_KEPT = 6
#: Tables that only a slip has.
_SLIPS = ("bench", "filled", "reading", "looked", "swing", "sister")


@dataclass(frozen=True)
class Sound:
    """Sound movements that may be the one on the bench: a stack (movements, 1, 1), log weights, numbers that differ by
    dotted name and families, (movements,) each; nominal_lift_deg: what an instrument is told unless somebody says so,
    None where each movement's own; drawn: whether the design is known; first: a plain one of them; ripple_deg: what the
    train's breathing gives a reading, None where nobody knows."""

    stack: Movement
    log_weight: Array
    values: dict[str, Array]
    family: tuple[str, ...]
    nominal_lift_deg: float | None
    drawn: bool
    first: Movement
    ripple_deg: float | None = None

    @property
    def horn(self) -> float:
        """Swing at which the pin meets the horn, deg on average, as shown for each degree of lift told."""
        escapement = self.stack.escapement
        return float(np.mean(escapement.knock_angle()) / np.mean(escapement.lift_angle()))


def known(what: What) -> Movement | Slip:
    """The design, or the slip: of a sketch the slip that it was made from; by path, or a design by its name.

    Raises InputError.
    """
    if isinstance(what, Movement):
        return slip_of(what) or what
    if isinstance(what, Slip):
        return what
    path = Path(what)
    if path.exists():
        tables = read_tables(path, "a design or a slip")
        if any(key in tables for key in _SLIPS) or gaps_of(tables).missing:
            return load_slip(path)
    return known(load(what))


def sound_of(what: Movement | Slip) -> Sound:
    """The sound movements of a design or of a slip. Raises InputError where there are none."""
    return _examples(what) if isinstance(what, Movement) else _designs(what)


def _examples(movement: Movement) -> Sound:
    """Sound examples of a design; numbers that were fitted lie as far apart again as they are uncertain."""
    needs_lever(movement.escapement, "a diagnosis")
    spreads = {s.name: s for s in spreads_of(movement) if s.name != "balance.out_of_beat_deg"}
    values = draw(movement, list(spreads.values()), EXAMPLES, np.random.default_rng(0))
    for name, one in values.items():
        values[name] = one.mean() + math.sqrt(1.0 - SMOOTHED) * (one - one.mean())
    if movement.fitted:
        more = [Spread(name, plus_minus=NORMAL_95 * sd) for name, sd in movement.fitted]
        for name, drawn in draw(movement, more, EXAMPLES, np.random.default_rng(1)).items():
            own = values.get(name)
            values[name] = drawn if own is None else drawn + own - own.mean()
    for one in values.values():
        one[0] = one.mean()
    stack = varied(movement, values)
    told = math.degrees(float(movement.escapement.lift_angle()))
    return Sound(
        stack, np.full(EXAMPLES, -math.log(EXAMPLES)), values, (), told, True, movement, ripple_deg(movement)
    )


def _designs(slip: Slip) -> Sound:
    found = joint(slip, designs=DESIGNS)
    lift = slip.given.get("escapement.lift_angle_deg")
    first = {name: float(values[0]) for name, values in found.values.items() if math.isfinite(values[0])}
    tables: dict[str, Any] = {"name": slip.name.strip() or "Slip"}
    for name, value in first.items():
        put(tables, name, int(value) if value.is_integer() else value)
    tables["filled"] = [name for name in first if slip.given.get(name) is None]
    return Sound(
        found.movement, np.log(found.weight), found.values, tuple(found.family.tolist()), lift, False,
        movement_from(tables),
    )  # fmt: skip


_TABLES: dict[tuple[str, tuple[Moment, ...]], tuple[Sound, Table]] = {}


def table_of(what: Movement | Slip, moments: tuple[Moment, ...]) -> tuple[Sound, Table]:
    """The sound movements and their table; the last few are kept. Raises InputError where none runs."""
    key = (repr(what), moments)
    found = _TABLES.pop(key, None)
    if found is None:
        sound = sound_of(what)
        whole = _table(sound, moments)
        if not whole.swing[whole.healthy].any():
            raise InputError(
                f"{sound.first.name}: sound examples of it do not run, so no reading can be held against them; "
                "oscsim settle tells why"
            )
        found = sound, whole
    _TABLES[key] = found  # the latest stands last
    if len(_TABLES) > _KEPT:
        del _TABLES[next(iter(_TABLES))]
    return found


def _table(sound: Sound, moments: tuple[Moment, ...]) -> Table:
    """The rows; a hairspring's shape moves rates and hardly amplitudes: it counts as it does in the sound design."""
    if sound.first.hairspring is None:
        return table(sound.stack, sound.log_weight, moments)
    found = table(put_unchecked(sound.stack, "hairspring", None), sound.log_weight, moments)
    rates = [
        settled_points(
            points_at(AsItIs(put_unchecked(one, "balance.unbalance_ug_cm", 0.0)), POSITIONS, moments)
        ).rate_s_per_day
        for one in (sound.first, put_unchecked(sound.first, "hairspring", None))
    ]
    apart = np.nan_to_num(rates[0] - rates[1])
    return replace(found, rate=found.rate + np.vstack([apart[:2], apart[2:].mean(axis=0)]))
