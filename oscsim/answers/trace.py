"""What happens within a beat, and how does the watch start or die away? Motion in time."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice, pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oscsim.answers.points import settled_points
from oscsim.answers.result import InSetting
from oscsim.arrays import Array
from oscsim.errors import InputError
from oscsim.escapements.kinds import kind_of
from oscsim.fields import Quantity
from oscsim.files import takes_design
from oscsim.motion.path import joined
from oscsim.motion.settle import settle
from oscsim.motion.states import STATES, Failure, State
from oscsim.motion.transient import Swing, swings
from oscsim.movement import Movement
from oscsim.operating import OperatingPoints, operating_points
from oscsim.parts.balance import inertia
from oscsim.setting import Setting

BEATS = Quantity("", "", "beats to be followed", 1, 200, whole=True)
SWING = Quantity("deg", "", "swing at the start; beyond the knock limit a shock", 0, 1000)
SAMPLES = Quantity("", "", "samples of each phase", 2, 2000, whole=True)
DURATION = Quantity("s", "", "time to be followed", 0.01, 3600)


#: Beats after which a watch that knocks does so evenly, whatever it started from a little beyond the horn, deg.
_BEFORE, _BEYOND_DEG = 48, 5.0


@dataclass(frozen=True, repr=False, kw_only=True)
class Trace(InSetting):
    """Motion through some beats, each array (samples,): see the keys of ``columns``; ``state`` of the whole.

    Torques on the balance are positive clockwise, as the angles are. Energies are the balance's, stored ones from
    the dead point; ``beat`` counts from 1. knock_deg: the swing that is too far for the escapement; failure: where it
    stops the word for why, else None; lever_deg: the lever's or the detent's angle.
    """

    swing_deg: float
    state: str
    failure: str | None
    residual_rad: float
    knock_deg: float
    rebound: float | None
    beat: NDArray[np.int_]
    phase: NDArray[np.str_]
    columns: dict[str, Array]

    @property
    def energy_j(self) -> Array:
        """Kinetic energy of the balance with what hairspring and heavy point store, J, (samples,)."""
        kept = ("kinetic_energy_j", "hairspring_energy_j", "poise_energy_j")
        return np.asarray(sum(self.columns[name] for name in kept))

    def stretches(self) -> list[slice]:
        """The samples of each phase, phase after phase."""
        change = (self.phase[1:] != self.phase[:-1]) | (self.beat[1:] != self.beat[:-1])
        edges = [0, *(int(i) + 1 for i in np.flatnonzero(change)), len(self.phase)]
        return [slice(*ends) for ends in pairwise(edges)]

    def phases(self) -> list[dict[str, Any]]:
        """One dictionary a phase: beat, phase, from_deg, to_deg, duration_s, speeds in and out, what lever and wheel
        turned, friction_j lost to friction and air, escapement_j given to the balance (less than 0: taken from it).

        The last two are the balance's own account: its energy changes by nothing else. A blow between pin and fork
        counts with the phase that it begins.
        """
        c, energy, found = self.columns, self.energy_j, list[dict[str, Any]]()
        for part in self.stretches():
            first, last = part.start, part.stop - 1
            before = first - 1 if first and self.beat[first - 1] == self.beat[first] else first
            friction = energy[last] - energy[before]
            if not str(self.phase[first]).startswith("free arc"):
                friction = _work(c["time_s"][part], (c["friction_torque_n_m"] * c["speed_rad_per_s"])[part])
            found.append(
                {
                    "beat": int(self.beat[first]),
                    "phase": str(self.phase[first]),
                    "from_deg": c["angle_deg"][first],
                    "to_deg": c["angle_deg"][last],
                    "duration_s": c["time_s"][last] - c["time_s"][first],
                    "speed_in_rad_per_s": c["speed_rad_per_s"][first],
                    "speed_out_rad_per_s": c["speed_rad_per_s"][last],
                    "lever_deg": c["lever_deg"][last] - c["lever_deg"][before],
                    "wheel_deg": c["wheel_deg"][last] - c["wheel_deg"][before],
                    "friction_j": -friction,
                    "escapement_j": energy[last] - energy[before] - friction,
                }
            )
        return found

    def knocks(self) -> list[dict[str, Any]]:
        """What each knock takes from the balance, energy_j, by the beat after which it comes; that of a shock at the
        start comes after beat 0.

        A free arc that ends at the horn is still in motion there, and the rebound keeps the share ``rebound`` of the
        speed; what starts at the horn in motion has just rebounded. None where there is no horn.
        """
        if self.rebound is None:
            return []
        kinetic = self.columns["kinetic_energy_j"]
        kept = self.rebound**2
        found = [
            {
                "after_beat": int(self.beat[part.start]),
                "energy_j": float(kinetic[part.stop - 1]) * (1.0 - kept),
            }
            for part in self.stretches()
            if self.phase[part.start] == "free arc out" and kinetic[part.stop - 1] > 0.0
        ]
        if self.phase[0] == "free arc in" and kinetic[0] > 0.0 and kept > 0.0:
            found.insert(0, {"after_beat": 0, "energy_j": float(kinetic[0]) * (1.0 / kept - 1.0)})
        return found

    def rows(self) -> list[dict[str, Any]]:
        count = len(self.phase)
        return [
            {"beat": int(self.beat[i]), "phase": str(self.phase[i])}
            | {name: values[i] for name, values in self.columns.items()}
            for i in range(count)
        ]

    def body(self) -> dict[str, Any]:
        return {
            "swing_deg": self.swing_deg,
            "state": self.state,
            "failure": self.failure,
            "residual_rad": self.residual_rad,
            "knock_deg": self.knock_deg,
            "phases": self.phases(),
            "knocks": self.knocks(),
            "beat": self.beat,
            "phase": self.phase,
            **self.columns,
        }


@takes_design
def trace(
    movement: Movement,
    setting: Setting | None = None,
    *,
    beats: int = 2,
    swing_deg: float | None = None,
    samples: int = 60,
) -> Trace:
    """The motion through ``beats`` beats, from the engine's own solution: settled, or starting from ``swing_deg``.

    ``setting`` names one position and one hour (default: dial up, fully wound). A watch that knocks is followed from
    the horn, once its knocks are alike; a swing given beyond the knock limit is a shock, with rebounds. Raises
    InputError for values out of range and where there is no settled state to show and no swing is given.
    """
    BEATS.check("beats", beats)
    SAMPLES.check("samples", samples)
    setting, points = _one_point(movement, setting)
    state, residual, before = State.RUNNING, math.nan, 0
    knock_deg = math.degrees(float(points.knock_angle[0]))
    rebounds = kind_of(movement.escapement).hands(movement.escapement).rebound is not None
    if swing_deg is None:
        settled = settle(points.oscillators, points.knock_angle)
        state, residual = STATES[int(settled.state[0])], float(settled.cycle.residual[0])
        swing_deg = math.degrees(float(settled.cycle.left[0]))
        if state is State.KNOCKS and rebounds:  # as it knocks once it has settled to that
            before, swing_deg = _BEFORE, knock_deg + _BEYOND_DEG
        if state is State.STOPS or not math.isfinite(swing_deg):
            what = "die away" if state is State.STOPS else "swing too far"
            where = f"{setting.positions[0]}, {float(points.hours[0]):g} h"
            raise InputError(
                f"{where}: {state.value}; give a swing to start from (swing_deg) to see it {what}"
            )
    else:
        SWING.check("swing_deg", swing_deg)
    found = list(islice(_beats(movement, points, swing_deg, samples), before, before + beats))
    if found[-1].failed:
        state = State.STOPS
    elif swing_deg > knock_deg or any(beat.knocked or math.degrees(beat.swing) > knock_deg for beat in found):
        state = points.oscillators.right.beyond
    path = joined([beat.path for beat in found if beat.path is not None])
    if before:
        swing_deg = min(abs(math.degrees(float(path.x[0]))), knock_deg)
        path = replace(path, time=path.time - path.time[0], wheel=path.wheel - path.wheel[0])
    omega, stiffness = float(points.omega[0]), float(points.stiffness[0])
    osc = points.oscillators
    hands = kind_of(movement.escapement).hands(movement.escapement)
    speed = np.abs(path.speed)
    drag = -np.sign(path.speed) * osc.friction(path.x, speed)
    kinetic = 0.5 * float(inertia(movement.balance)) * (path.speed * omega) ** 2
    columns = {
        "time_s": np.maximum.accumulate(path.time) / omega,
        "angle_deg": np.degrees(path.x),
        "speed_rad_per_s": path.speed * omega,
        "lever_deg": np.degrees(path.lever * hands.lever),
        "wheel_deg": np.degrees(path.wheel * hands.wheel),
        "hairspring_torque_n_m": osc.spring_torque(path.x) * stiffness,
        "escapement_torque_n_m": path.torque * stiffness,
        "friction_torque_n_m": drag * stiffness,
        "poise_torque_n_m": osc.gravity_torque(path.x) * stiffness,
        "kinetic_energy_j": kinetic,
        "hairspring_energy_j": osc.spring_energy(path.x) * stiffness,
        # from the dead point, so that all that is stored is zero there
        "poise_energy_j": osc.gravity_energy(path.x) * stiffness,
    }
    columns = {name: values + 0.0 for name, values in columns.items()}  # no zero with a minus sign
    beat = np.repeat(np.arange(len(found)) + 1, [len(one.path.time) if one.path else 0 for one in found])
    phase = np.array(osc.right.phases)[path.phase.astype(int)]
    return Trace(
        movement=movement,
        setting=setting,
        swing_deg=float(swing_deg),
        state=state.label,
        failure=_failure(movement, points, swing_deg, found),
        residual_rad=residual,
        knock_deg=knock_deg,
        rebound=hands.rebound,
        beat=beat,
        phase=phase,
        columns=columns,
    )


def _failure(movement: Movement, points: OperatingPoints, swing_deg: float, found: list[Swing]) -> str | None:
    """The word for why the last of the beats fails, or gets no impulse; None where all is well."""
    late = any(beat.lost for beat in found[-3:])
    if not found[-1].failed:
        return str(Failure.NOT_CAUGHT.value) if late else None
    if not points.escape_torque[0] > 0.0:
        return str(Failure.LET_DOWN.value)
    if Failure.SETS in kind_of(movement.escapement).FAILURES and (
        math.radians(swing_deg) <= points.oscillators.reach_left[0]
    ):
        return str(Failure.SETS.value)
    why = Failure.NOT_CAUGHT if late else Failure.NOT_UNLOCKED
    return str(why.value)


def _work(time: Array, power: Array) -> float:
    """Work over samples of one phase; a phase without length does none."""
    if len(time) < 2 or not time[-1] > time[0]:
        return 0.0
    from scipy.interpolate import CubicSpline  # slow to load, and needed here alone

    return float(CubicSpline(time, power).integrate(time[0], time[-1]))


def _one_point(movement: Movement, setting: Setting | None) -> tuple[Setting, OperatingPoints]:
    setting = setting or Setting()
    setting.refuse("a trace is of the balance itself", "lift_angle_deg")
    points = operating_points(movement, setting)
    if points.oscillators.size != 1:
        raise InputError("positions, hours: give one position and one hour to follow the motion in time")
    return setting, points


def _beats(movement: Movement, points: OperatingPoints, swing_deg: float, samples: int) -> Iterator[Swing]:
    hands = kind_of(movement.escapement).hands(movement.escapement)
    # the wheel goes on by half a tooth space, unless there is nothing to drive it
    half_tooth = hands.half_tooth if points.escape_torque[0] > 0.0 else 0.0
    return swings(
        points.oscillators,
        math.radians(swing_deg),
        math.inf if hands.rebound is None else float(points.knock_angle[0]),
        hands.rebound or 0.0,
        wheel_pitch=half_tooth / hands.wheel,
        samples=samples,
    )


@dataclass(frozen=True, repr=False, kw_only=True)
class Transient(InSetting):
    """Swing after swing in time, each array (1 + beats,), the start first: time_s of the turning point, swing_deg,
    side (+1 clockwise), knocked (too far: at the horn, or beyond where a detent trips), lost (no impulse on the way
    there); ``state`` at the end, ``failure``: where it stops the word for why, else None; ``residual_rad``: what the
    last period changed the swing by; ``settled_deg``: where it settles, NaN where it does not."""

    start_deg: float
    state: str
    failure: str | None
    residual_rad: float
    time_s: Array
    swing_deg: Array
    side: NDArray[np.int_]
    knocked: NDArray[np.bool_]
    lost: NDArray[np.bool_]
    settled_deg: float

    def rows(self) -> list[dict[str, Any]]:
        names = ("time_s", "swing_deg", "side", "knocked", "lost")
        return [{name: getattr(self, name)[i] for name in names} for i in range(len(self.time_s))]

    def body(self) -> dict[str, Any]:
        return {
            "start_deg": self.start_deg,
            "state": self.state,
            "failure": self.failure,
            "residual_rad": self.residual_rad,
            "settled_deg": self.settled_deg,
            "swings": self.rows(),
        }


@takes_design
def transient(
    movement: Movement, setting: Setting | None = None, *, swing_deg: float, duration_s: float = 60.0
) -> Transient:
    """The watch in time from ``swing_deg``, for ``duration_s`` or until it stops; knocks rebound.

    One position and one hour, as in ``trace``. From rest (0 deg) no balance starts here: state stops. Where a detent
    trips, the second impulse of the swing is not followed.
    Raises InputError for values out of range.
    """
    SWING.check("swing_deg", swing_deg)
    DURATION.check("duration_s", duration_s)
    setting, points = _one_point(movement, setting)
    omega = float(points.omega[0])
    found: list[Swing] = []
    for beat in _beats(movement, points, swing_deg, 0):
        found.append(beat)
        if beat.failed or beat.ends / omega >= duration_s:
            break
    going = [beat for beat in found if not math.isnan(beat.swing)]
    knock = math.degrees(float(points.knock_angle[0]))
    horn = kind_of(movement.escapement).hands(movement.escapement).rebound is not None
    swing = np.array(
        [min(swing_deg, knock) if horn else swing_deg, *np.degrees([beat.swing for beat in going])]
    )
    change = abs(math.radians(swing[-1] - swing[-3])) if len(swing) > 2 else math.nan
    knocked = np.array([swing_deg > knock, *(beat.knocked for beat in going)], bool) | (swing > knock)
    if found[-1].failed:
        state = State.STOPS.label
    elif knocked[-2:].any():
        state = points.oscillators.right.beyond.label
    else:
        state = State.UNSETTLED.label if any(beat.lost for beat in found[-2:]) else State.RUNNING.label
    settled = settled_points(points).amplitude_deg
    return Transient(
        movement=movement,
        setting=setting,
        start_deg=float(swing_deg),
        state=state,
        failure=_failure(movement, points, swing_deg, found),
        residual_rad=change,
        time_s=np.array([0.0, *(beat.ends for beat in going)]) / omega,
        swing_deg=swing,
        side=np.array([-1, *(beat.side for beat in going)], int),
        knocked=knocked,
        lost=np.array([False, *(beat.lost for beat in going)], bool),
        settled_deg=float(settled.flat[0]),
    )
