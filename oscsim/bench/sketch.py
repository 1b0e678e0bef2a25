"""A plausible complete design from what a bench knows: laws fill the gaps, amplitudes read narrow what they filled.

The sketch is the middle of the designs that slip and readings leave possible (``oscsim.answers.joint``), and its
bands are theirs.
"""

from __future__ import annotations

import math
import os
from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np

from oscsim.answers.joint import PLACES, Joint, joint, points_read, stacked, strip_for
from oscsim.answers.points import settled_points
from oscsim.answers.whatif import sensitivities
from oscsim.arrays import Array
from oscsim.bench.sketched import Expected, Held, Number, Sketch, unusual
from oscsim.condition import AsItIs
from oscsim.errors import InputError
from oscsim.motion.sustain import sustain
from oscsim.movement import Movement, movement_from
from oscsim.operating import operating_points
from oscsim.parts.hairspring_table import Hairspring, in_numbers
from oscsim.parts.train import Arbors, radii
from oscsim.setting import Setting
from oscsim.slips.readings import Readings
from oscsim.slips.slip import Slip, load_slip, slip_tables
from oscsim.stack import put_unchecked, stack_of, unchecked
from oscsim.tables import put, unit_of, value_at
from oscsim.tolerances import NORMAL_95, Spread
from oscsim.typical.families import FAMILIES
from oscsim.typical.hairsprings import usual_spring
from oscsim.typical.laws import Filled, fill, spreads
from oscsim.typical.trains import usual_teeth

_SIZES = (
    "balance_diameter_mm", "movement_diameter_mm", "balance.inertia_mg_cm2", "balance.mass_mg",
    "barrel.inner_diameter_mm", "mainspring.height_mm",
)  # fmt: skip
_BEATS, _LIFT, _FORK = "balance.beats_per_hour", "escapement.lift_angle_deg", "escapement.fork_ratio"
_COILS, _MESH, _SLIPS = "mainspring.coil_efficiency", "train.mesh_efficiency", "mainspring.slip_torque_n_mm"
_CHOSEN = "chosen so that the wound amplitude is the usual one of its family"
_ROUND, _STRIP_MASS = "balance.heavy_point_deg", "hairspring.strip_mass_mg"
#: How near a usual train must come to a ratio that was counted, and to one that was filled.
_COUNTED, _NEARLY = 1e-4, 0.01
#: Designs drawn for the bands.
_DESIGNS = 600
#: A number moved by less than this share of its range has stayed.
_STAYED = 0.1
#: Digits of a filled number; its range has two.
_DIGITS = 4
#: Families less probable than this are not named.
_SELDOM = 0.05


def sketch(slip: Slip | str | os.PathLike[str], *, rng: np.random.Generator | int = 0) -> Sketch:
    """The design that the slip, or its file, and its family's laws make, and what it should show.

    Amplitudes read are taken for those of a movement in order: designs are weighed by them. Where the strip was not
    measured, it is as strong as gives the family's usual amplitude, or what was read. Of the movement's own lift
    angle and
    the instrument's, one given alone is taken for both. Raises InputError when the slip has neither beat nor size, when
    no design with its numbers runs as a sound one does, and for readings without an amplitude.
    """
    slip = slip if isinstance(slip, Slip) else load_slip(slip)
    try:
        return _sketch(slip, np.random.default_rng(rng))
    except InputError as error:
        if odd := unusual(slip):
            raise InputError(f"{error}; unusual among what was given: {'; '.join(odd)}") from None
        raise


def _sketch(slip: Slip, rng: np.random.Generator) -> Sketch:
    if slip.given.get(_BEATS) is None:
        raise InputError(
            f"{_BEATS}: missing (option --beats); a sketch begins from the beat, count it or look it up"
        )
    if not any(slip.given.get(name) is not None or slip.facts.get(name) is not None for name in _SIZES):
        others = ", ".join(_SIZES[2:])
        raise InputError("size: missing; a sketch needs --balance-diameter or --movement-diameter (in a slip "
                         f"[bench] balance_diameter_mm, movement_diameter_mm) or one of {others}")  # fmt: skip
    slip, lift_said = _one_lift(slip)
    readings = _amplitudes(slip.readings) if slip.readings is not None else None
    seed = int(rng.integers(2**32))
    before = joint(slip, designs=_DESIGNS, rng=seed)
    after = before if readings is None else joint(slip, readings, designs=_DESIGNS, rng=seed)
    family = next(iter(after.families))
    name = slip.name.strip()
    if not name.endswith("(sketch)") and not name.startswith("Sketch ("):
        name = f"{name} (sketch)" if name else f"Sketch ({family})"
    slip = slip.with_(name=name)
    filled = _filled(slip, family, before, after)
    movement = _movement(slip, filled, FAMILIES[family].kind)
    return Sketch(
        movement=movement,
        slip=slip,
        family=FAMILIES[family],
        families=after.families,
        why=_why(slip, after.families),
        lift_said=lift_said,
        numbers=_numbers(slip, movement, filled),
        usual_deg=FAMILIES[family].usual_deg if after.solved else None,
        expected=_expected(movement, before, after),
        held=() if readings is None else _held(readings, movement, before, rng),
    )


def _one_lift(slip: Slip) -> tuple[Slip, str]:
    """The slip with the movement's own lift angle and the instrument's, one taken for both where one is given."""
    own, readings = slip.given.get(_LIFT), slip.readings
    if slip.given.get(_FORK) is not None or readings is None:
        return slip, ""
    told = readings.lift_angle_deg
    if own is None and told is not None:
        said = (
            f"The instrument's lift angle, {told:g} deg, is taken for the movement's own too; give "
            "escapement.lift_angle_deg if that is known."
        )
        return slip.with_(given={_LIFT: told}), said
    if told is None and own is not None:
        said = (
            f"The movement's own lift angle, {own:g} deg, is taken for what the instrument was told; give "
            "lift_angle_deg with the readings if it was another."
        )
        return slip.with_(readings=replace(readings, lift_angle_deg=own)), said
    if told is None:
        return slip, "No lift angle is given: the instrument is taken to know the movement's own."
    return slip, ""


def _amplitudes(readings: Readings) -> Readings:
    """The readings' amplitudes and stops alone; raises InputError when there is no amplitude."""
    rows = tuple(
        replace(row, rate_s_per_day=math.nan, beat_error_ms=math.nan)
        for row in readings.rows
        if row.stops or math.isfinite(row.amplitude_deg)
    )
    if not any(math.isfinite(row.amplitude_deg) for row in rows):
        raise InputError(f"{readings.source}: no amplitude was read, and a sketch uses nothing else")
    return replace(readings, rows=rows)


def _why(slip: Slip, families: dict[str, float]) -> str:
    if slip.family is not None:
        return "as told"
    named = [f"{name} {100.0 * share:.0f} %" for name, share in families.items() if share >= _SELDOM]
    return f"by what is known of it: {', '.join(named)}"


def _filled(slip: Slip, family: str, before: Joint, after: Joint) -> tuple[Filled, ...]:
    """What was not given: the middle of the designs of the family, and their range."""
    kin, first = after.family == family, before.family == family
    if not first.any():
        first = np.ones(len(before.family), bool)
    laws = fill({**slip.given}, FAMILIES[family], slip.facts, slip.winding)
    middle: dict[str, float] = {}
    half: dict[str, float] = {}
    for one in laws:
        values = after.values[one.name][kin]
        if one.spread is None or one.name == _ROUND:
            middle[one.name] = one.value
            continue
        middle[one.name] = float(np.median(values))
        half[one.name] = NORMAL_95 * float(np.std(values))
    beside = _beside(slip, middle)
    middle = _on_target(slip, middle, after, float(np.median(after.amplitude_deg[kin, 0, 0])), beside)
    found = []
    for one in laws:
        if one.spread is None or one.name == _ROUND:
            found.append(one)
            continue
        value = _rounded(middle[one.name], _DIGITS)
        was = float(np.median(before.values[one.name][first])) if after is not before else value
        width = max(_rounded(half[one.name], 2), 1e-9)
        moved = abs(was - value) > _STAYED * width
        spread = Spread(one.name, plus_minus=width)
        reason = _CHOSEN if one.name == after.solved else one.reason
        found.append(Filled(one.name, value, spread, reason, _rounded(was, _DIGITS) if moved else None))
    return (*found, *beside)


def _beside(slip: Slip, middle: dict[str, float]) -> tuple[Filled, ...]:
    """What is filled beside the numbers that are drawn, for it moves an amplitude by a few degrees at most and all
    alike: the teeth of the usual train, with its ratio put into ``middle``, and a usual flat hairspring."""
    known = {name: value for name, value in slip.given.items() if value is not None}
    values = {**middle, **known}
    found = []
    counted = "train.ratio" in known
    teeth = None
    if values.get("train.meshes") == 4 and not any(name.startswith("train.arbors.") for name in known):
        teeth = usual_teeth(values["train.ratio"], values[_BEATS], int(values["escapement.teeth"]),
                            near=_COUNTED if counted else _NEARLY)  # fmt: skip
    if teeth is not None:
        if not counted:
            middle["train.ratio"] = math.prod(teeth[0]) / math.prod(teeth[1])
        for name, counts in zip(("train.wheel_teeth", "train.pinion_leaves"), teeth, strict=True):
            found.append(Filled(name, counts, None, "a usual train of this beat and ratio; count them"))
    if not values.get("balance.cubic_stiffness"):
        spring = usual_spring(values["balance.inertia_mg_cm2"], values["balance.mass_mg"], values[_BEATS])
        found += [
            Filled(name, value, spread, reason)
            for name, value, spread, reason in spring
            if name not in known and not (name == _STRIP_MASS and "hairspring.strip_height_mm" in known)
        ]
    return tuple(found)


def _furnished(base: Movement, known: Mapping[str, Any], beside: Sequence[Filled]) -> Movement:
    """The stack of one that drawn numbers are put on, with the hairspring and the wheels' radii that were filled."""
    filled = {one.name: one.value for one in beside}
    told = [*known.items(), *filled.items()]
    shape = {name.partition(".")[2]: value for name, value in told if name.startswith("hairspring.")}
    if shape:
        base = put_unchecked(base, "hairspring", in_numbers(Hairspring(**shape)))
    if "train.wheel_teeth" in filled:
        keys = ("wheel_teeth", "pinion_leaves")
        counted = unchecked(
            base.train, {"arbors": Arbors(), "layout": None} | {k: filled[f"train.{k}"] for k in keys}
        )
        turning = radii(counted)
        for f in fields(Arbors):
            if turning[f.name].wheel_radius_mm is not None:
                base = put_unchecked(
                    base, f"train.arbors.{f.name}.wheel_radius_mm", turning[f.name].wheel_radius_mm
                )
    return base


def _on_target(
    slip: Slip, middle: dict[str, float], joint_: Joint, wanted_deg: float, beside: Sequence[Filled]
) -> dict[str, float]:
    """The middle numbers with a strip, or a loss nobody measured, that makes the middle amplitude: the middle of each
    number by itself need not give it."""
    values = {name: np.array([value], float) for name, value in slip.given.items() if value is not None}
    values |= {name: np.array([value]) for name, value in middle.items()}
    values = {name: value for name, value in values.items() if not name.startswith("hairspring.")}
    base = _furnished(joint_.base, slip.given, beside)
    goal = np.array([wanted_deg])
    if joint_.solved:
        keep = slip.given.get("mainspring.length_mm") is not None
        values, _ = strip_for(base, values, goal, joint_.solved, keep_length=keep)
        return {name: float(values[name][0]) for name in middle}
    points = operating_points(stacked(base, values), Setting())
    factor = float(sustain(points.oscillators, np.radians(goal)).factor[0])
    if not math.isfinite(factor):
        return middle
    if _COILS in middle:
        middle[_COILS] = min(middle[_COILS] * factor, 1.0)
        if _SLIPS in middle:
            middle[_SLIPS] *= factor
    elif _MESH in middle:
        middle[_MESH] = min(middle[_MESH] * factor ** (1.0 / middle.get("train.meshes", 4)), 1.0)
    return middle


def _movement(slip: Slip, filled: Sequence[Filled], kind: str) -> Movement:
    """The complete design; spreads the slip states go before those of the laws."""
    tables: dict[str, Any] = {"name": slip.name, "story": slip.story, "filled": [one.name for one in filled]}
    for name, value in (*slip.given.items(), *((one.name, one.value) for one in filled)):
        put(tables, name, value)
    if kind != "lever":
        put(tables, "escapement.kind", kind)
    for spread in (*spreads(slip.given, tuple(filled)), *slip.own):
        put(tables, f"tolerance.{spread.name}", spread.to_table())
    return movement_from(tables | slip_tables(slip))


def _shown(movement: Movement, readings: Readings) -> Array:
    """Amplitude that each design would show at each row, (designs, rows)."""
    points = settled_points(points_read(AsItIs(movement), readings.rows), readings.lift_angle_deg)
    return points.apparent_amplitude_deg[:, 0, :]


def _held(
    readings: Readings, movement: Movement, before: Joint, rng: np.random.Generator
) -> tuple[Held, ...]:
    """Each amplitude, what the family alone gave (90 % of such movements, as read), and what the sketch gives."""
    rows = tuple(row for row in readings.rows if not row.stops)
    kept = replace(readings, rows=rows)
    shown, own = _shown(before.movement, kept), _shown(stack_of([movement]), kept)[0]
    noise = np.array([row.amplitude_deg_uncertainty for row in rows])
    low, high = _ends(shown + noise * rng.standard_normal(shown.shape))
    return tuple(
        Held(row.position, row.hours, row.amplitude_deg, float(low[n]), float(high[n]), float(own[n]))
        for n, row in enumerate(rows)
    )


def _ends(values: Array) -> tuple[Array, Array]:
    """Ends of the band of 90 % over the first axis; what has no number counts as -inf, it hardly runs."""
    low, high = np.percentile(
        np.where(np.isfinite(values), values, -np.inf), (5.0, 95.0), axis=0, method="closest_observation"
    )
    return np.asarray(low), np.asarray(high)


def _expected(movement: Movement, before: Joint, after: Joint) -> tuple[Expected, ...]:
    point = settled_points(operating_points(movement, PLACES))
    state, hours = point.state, np.ravel(PLACES.hours)
    low, high = _ends(after.amplitude_deg)
    first_low, first_high = _ends(before.amplitude_deg)
    return tuple(
        Expected(
            position=symbol,
            hours=float(hours[j]),
            state=str(state[i, j]),
            amplitude_deg=float(point.amplitude_deg[i, j]),
            low_deg=float(low[i, j]),
            high_deg=float(high[i, j]),
            family_low_deg=float(first_low[i, j]),
            family_high_deg=float(first_high[i, j]),
            residual_rad=float(point.residual_rad[i, j]),
        )
        for i, symbol in enumerate(PLACES.positions)
        for j in range(len(hours))
    )


def _numbers(slip: Slip, movement: Movement, filled: Sequence[Filled]) -> tuple[Number, ...]:
    """Every number given or filled, with what its range moves, most first among the filled."""
    wide = {
        spread.name: spread.half_width(float(value_at(movement, spread.name)))
        for spread in movement.tolerance
    }
    flat: dict[str, float] = {}
    side: dict[str, float] = {}
    able = [name for name in wide if name != _ROUND and not name.startswith("hairspring.")]
    slopes = sensitivities(movement, able, replace(PLACES, hours=(0.0,)))
    for n, name in enumerate(slopes.names):
        flat[name], side[name] = (
            abs(float(slopes.amplitude_deg_per_unit[n, i, 0])) * wide[name] for i in (0, 1)
        )

    def number(name: str, value: Any, source: str, reason: str, before: float | None = None) -> Number:
        half = wide.get(name, math.nan)
        return Number(
            name=name,
            unit=unit_of(Movement, name),
            value=value,
            source=source,
            low=_rounded(value - half, _DIGITS) if math.isfinite(half) else math.nan,
            high=_rounded(value + half, _DIGITS) if math.isfinite(half) else math.nan,
            before=before,
            moves_flat_deg=flat.get(name, math.nan),
            moves_vertical_deg=side.get(name, math.nan),
            reason=reason,
        )

    given = [number(name, value, "given", "") for name, value in slip.given.items()]
    made = [number(one.name, one.value, "filled", one.reason, one.before) for one in filled]
    made.sort(key=lambda n: -n.moves_flat_deg if math.isfinite(n.moves_flat_deg) else 0.0)
    return (*given, *made)


def _rounded(value: float, digits: int) -> float:
    return float(f"{value:.{digits}g}")
