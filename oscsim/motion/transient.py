"""The watch in time, beat after beat from a given swing: start-up, dying away, knocks with rebounds.

Events (pin contact, release, catch, drop, turning point, knock) lie at known angles and are located exactly.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from oscsim.motion.arcs import free_arc
from oscsim.motion.balance import Balance
from oscsim.motion.coefficients import Beats, Oscillators
from oscsim.motion.path import RULE, Path, arc_path, joined, lift_path, turning_point


@dataclass(frozen=True)
class Swing:
    """One beat in time (1/ω): when it began and ended, the side it went to (+1 or -1), the swing reached, rad, whether
    the pin struck the horn there, whether an impulse was lost, and whether the balance failed to go on."""

    begins: float
    ends: float
    side: int
    swing: float
    knocked: bool
    lost: bool
    failed: bool
    path: Path | None


def swings(
    osc: Oscillators,
    swing: float,
    knock: float,
    restitution: float,
    *,
    wheel_pitch: float = math.nan,
    samples: int = 0,
) -> Iterator[Swing]:
    """Beats of the one point of ``osc`` from ``swing``, rad, to the left, until one fails.

    A swing beyond ``knock`` is a shock: the balance starts at the horn, rebounding from the speed that would have
    carried it so far, keeping ``restitution`` of it. With ``samples`` every beat carries its path in the frame of
    the watch (x turned back to θ); ``wheel_pitch`` is half a tooth space in the wheel's unit of ``Path``.
    """
    side, now = 1, 0.0
    # where one beat of a period alone moves the wheel, it goes on by a whole space in that
    goes = {1: wheel_pitch, -1: wheel_pitch} if osc.right.alike else {1: 2.0 * wheel_pitch, -1: 0.0}
    knocked = swing > knock
    speed = _speed_at(osc.beats(-1), swing, knock) if knocked else 0.0
    wheel = 0.0
    while True:
        frame, reach = osc.beats(side), float((osc.reach_right if side == 1 else osc.reach_left)[0])
        with np.errstate(all="ignore"):
            beat, turn = _beat(
                frame, reach, min(swing, knock), restitution * speed if knocked else 0.0, knock, samples
            )
        knocked, speed = turn.knocked, turn.speed
        path = None
        if beat is not None:
            path = replace(beat, time=beat.time + now, x=side * beat.x, speed=side * beat.speed,
                           lever=side * beat.lever, wheel=wheel + beat.wheel, torque=side * beat.torque)  # fmt: skip
            out = path.phase == len(frame.escapement.phases) - 1
            path.wheel[out] = wheel + goes[side]
        ends = now + turn.time
        yield Swing(now, ends, side, turn.swing, knocked, turn.lost, turn.failed, path)
        if turn.failed:
            return
        wheel += goes[side]
        now, side, swing = ends, -side, turn.swing


@dataclass(frozen=True)
class _Turn:
    swing: float
    speed: float
    time: float
    knocked: bool
    lost: bool
    failed: bool


def _speed_at(balance: Balance, turn: float, x: float) -> float:
    """Speed outward at ``x`` on the way to the turning point ``turn``."""
    arc = free_arc(balance, np.array([turn]), np.array([x]), RULE, backwards=True)
    return math.sqrt(max(float(arc.speed_squared[0]), 0.0))


def _beat(
    one: Beats, reach: float, swing: float, speed: float, knock: float, samples: int
) -> tuple[Path | None, _Turn]:
    """One beat in its frame from -swing, where the balance moves inward at ``speed`` (0: at rest).

    ``reach``: the least swing from which the next beat goes on.
    """
    inward = turning_point(one, -swing, speed, backwards=False) if speed > 0.0 else swing
    contact = one.escapement.pin_contact
    arc = free_arc(one, np.array([inward]), contact, RULE)
    skipped = 0.0
    if inward > swing:
        skipped = float(free_arc(one, np.array([inward]), np.array([-swing]), RULE).time[0])
    parts: list[Path] = []
    arrives = math.sqrt(float(arc.speed_squared[0])) if arc.speed_squared[0] > 0.0 else math.nan
    coming = float(arc.time[0]) - skipped
    if samples:
        far = float(contact[0]) if math.isfinite(arrives) else -swing
        stretch = arc_path(one, inward, -swing, far, samples, outward=False)
        parts.append(replace(stretch, time=stretch.time - skipped))
    failed = _Turn(math.nan, 0.0, math.nan, False, False, True)
    if not math.isfinite(arrives) or swing <= -float(contact[0]):
        return (joined(parts) if parts else None), failed
    lifts = one.escapement.lift(one, np.array([arrives**2]), RULE)
    if samples:
        stretch = lift_path(one, arrives, samples)
        parts.append(replace(stretch, time=stretch.time + coming))
    if not lifts.speed_squared[0] > 0.0:
        return (joined(parts) if parts else None), failed
    drop, spent = float(lifts.drop[0]), coming + float(lifts.time[0])
    turn = turning_point(one, drop, math.sqrt(float(lifts.speed_squared[0])), backwards=True)
    whole = float(free_arc(one, np.array([turn]), np.array([drop]), RULE, backwards=True).time[0])
    end, strikes, cut = turn, 0.0, 0.0
    if turn > knock:
        struck = free_arc(one, np.array([turn]), np.array([knock]), RULE, backwards=True)
        end, strikes, cut = knock, math.sqrt(float(struck.speed_squared[0])), float(struck.time[0])
    if samples:
        stretch = arc_path(one, turn, end, drop, samples, outward=True)
        parts.append(replace(stretch, time=stretch.time + spent + whole))
    reaches = end > reach
    time = spent + whole - cut
    turned = _Turn(end, strikes, time, turn > knock, bool(lifts.lost[0]), not reaches)
    return (joined(parts) if parts else None), turned
