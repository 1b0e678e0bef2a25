"""The table of the energy budget: where a beat's energy goes, and what each cause costs in amplitude."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from oscsim.answers.budget import PLACES
from oscsim.arrays import Array
from oscsim.escapements.kinds import kind_of
from oscsim.motion.states import State
from oscsim.show.labels import circumstances, point_columns, point_in_words
from oscsim.show.style import headline
from oscsim.show.tables import STATE_VERBS, amplitude, beyond, cells, grid, signed, wrapped
from oscsim.text.phrases import listed
from oscsim.text.sheet import Cell, Sheet, Words, sheet

if TYPE_CHECKING:
    from oscsim.answers.budget import Budget

#: Places in the balance; the others are lost on the way to it.
BALANCE = ("viscous", "quadratic", "dry", "side_thrust")
_OWN = {
    "viscous": "oil, slow air and the hairspring's inner friction",
    "quadratic": "the eddies of fast air",
    "dry": "its pivots",
    "side_thrust": "the hairspring that pushes its pivots aside",
}
#: How a state stands in a cell that has no number.
_WORD = {state.label: word for state, word in STATE_VERBS.items()} | {State.RUNNING.label: "runs"}


def energy_unit(joules: Array) -> tuple[float, str]:
    """Factor and unit in which energies of this size read well."""
    known = joules[np.isfinite(joules)]
    return (1e6, "µJ") if known.size and known.max() >= 1e-6 else (1e9, "nJ")


def shares(answer: Budget) -> dict[str, Array]:
    """Share of each place in per cent, each (points,); the side thrust's where the hairspring has a shape."""
    given = answer.given_j.reshape(-1)
    shaped = answer.movement.hairspring is not None
    return {
        place: 100.0 * taken.reshape(-1) / given
        for place, taken in answer.taken_j.items()
        if shaped or place != "side_thrust"
    }


def budget_table(answer: Budget) -> Sheet:
    """Energy given, shares by place, efficiencies and the degrees that each cause costs, by position and hour."""
    p, setting = answer.points, answer.setting
    columns, states = point_columns(setting, p.hours), p.state.reshape(-1)
    factor, unit = energy_unit(answer.given_j)

    def line(values: Array, decimals: int = 1) -> list[Words]:
        told = zip(values.reshape(-1), states, strict=True)
        return [f"{v:.{decimals}f}" if math.isfinite(v) else Cell("", _WORD[state]) for v, state in told]

    given = factor * answer.given_j
    largest = float(np.nanmax(given)) if np.isfinite(given).any() else 1.0
    summary: dict[str, list[Words]] = {
        "amplitude, deg": cells(p.shaped((1, -1)), p.amplitude_deg.reshape(1, -1), amplitude)[0],
        f"given to the escape wheel, {unit} per beat": line(given, 2 if largest < 10.0 else 1),
        "efficiency of the escapement, %": line(100.0 * answer.escapement_efficiency),
        "efficiency from barrel to balance, %": line(100.0 * answer.overall_efficiency),
    }
    part = shares(answer)
    places = {PLACES[place]: line(values) for place, values in part.items()}
    places["together"] = line(np.sum(list(part.values()), axis=0))
    costs = {
        cause: [
            _cost(value, str(then), str(state), bool(known))
            for value, then, state, known in zip(
                answer.cost_deg[cause].reshape(-1),
                answer.cost_state[cause].reshape(-1),
                states,
                np.isfinite(p.amplitude_deg).reshape(-1),
                strict=True,
            )
        ]
        for cause in answer.cost_deg
    }
    tables = [
        grid("Energy of a beat", columns, list(summary), list(summary.values())),
        grid(
            "Where it goes, % of what the escape wheel is given", columns, list(places), list(places.values())
        ),
        grid("What each cause costs, deg of amplitude", columns, list(costs), list(costs.values())),
    ]
    heading = f"{headline(answer.design)}: energy budget of a beat{circumstances(setting)}"
    note = (
        "A cost is the amplitude gained when that cause alone is taken away and the watch settles again; where it "
        f"would then swing too far ({kind_of(answer.movement.escapement).TOO_FAR}), '{beyond(answer.movement)}' stands "
        "there, alone above 400 deg. Costs do not add up: "
        "each is reckoned with all the others in place."
    )
    return sheet(wrapped(heading), *tables, wrapped(note), wrapped(budget_sentence(answer)))


def _cost(value: float, then: str, state: str, known: bool) -> str:
    """Degrees gained, and the state then where it is not simply running."""
    if state == State.UNSETTLED.label:
        return _WORD[state]
    if not known:
        return _WORD[then] if state == State.STOPS.label else _WORD[state]
    if not math.isfinite(value):
        return _WORD[then]
    return signed(value) + ("" if then == State.RUNNING.label else f" {_WORD[then]}")


def budget_sentence(answer: Budget) -> str:
    """What the budget means, at the first point that has one."""
    steady = np.flatnonzero(np.isfinite(answer.given_j.reshape(-1)))
    if not steady.size:
        return "What this means: it settles nowhere here, so there is no steady budget."
    n = int(steady[0])
    where = point_in_words(answer.setting, answer.points.hours, n)
    factor, unit = energy_unit(answer.given_j)
    part = {place: float(values[n]) for place, values in shares(answer).items()}
    lost = sorted((p for p in part if p not in BALANCE), key=lambda place: -part[place])[:2]
    own = max((place for place in BALANCE if place in part), key=lambda place: part[place])
    energy = factor * answer.given_j.reshape(-1)[n]
    reaches = 100.0 * answer.escapement_efficiency.reshape(-1)[n]
    overall = 100.0 * answer.overall_efficiency.reshape(-1)[n]
    ways = " and ".join(f"{PLACES[place]} ({part[place]:.0f} %)" for place in lost)
    said = (
        f"What this means: {where}, the escape wheel is given {energy:.3g} {unit} a beat. {reaches:.0f} % of it "
        f"reaches the balance, {overall:.0f} % of what the barrel gives. On the way most is lost to {ways}; at the "
        f"balance {_OWN[own]} take the most ({part[own]:.0f} %). All shares are of what the escape wheel is given."
    )
    gains = {
        cause: float(cost.reshape(-1)[n])
        for cause, cost in answer.cost_deg.items()
        if not cause.startswith("balance") and math.isfinite(cost.reshape(-1)[n])
    }
    far = beyond(answer.movement)
    without = [
        cause
        for cause, cost in answer.cost_deg.items()
        if not cause.startswith("balance")
        and not math.isfinite(cost.reshape(-1)[n])
        and str(answer.cost_state[cause].reshape(-1)[n]) == far
    ]
    if without:
        most = "cost" if len(without) > 1 else "costs"
        said += (
            f" Of what the escapement takes, {listed(without)} {most} the most amplitude: without it the balance would "
            "swing beyond 400 deg."
        )
    elif gains:
        best = max(gains, key=lambda cause: gains[cause])
        said += f" Of what the escapement takes, {best} costs the most amplitude, {gains[best]:.0f} deg."
    return said
