"""Would it pass the trial of fifteen days? The criteria of ISO 3159 from settled rates, and the chance of each."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from oscsim.answers.points import settled_points
from oscsim.answers.regulate import TARGET
from oscsim.answers.result import OneMovement
from oscsim.answers.tolerance import draw, spreads_of
from oscsim.arrays import Array
from oscsim.condition import AS_DESIGNED, AsItIs, Condition
from oscsim.errors import InputError
from oscsim.fields import Quantity
from oscsim.files import takes_design
from oscsim.motion.states import BEST_FIRST, CODE, STATES, TOO_FAR, State
from oscsim.movement import Movement
from oscsim.operating import Moments, points_of, turns_left
from oscsim.stack import varied
from oscsim.units import POSITIONS
from oscsim.use.judging import CATEGORIES, CRITERIA, DAYS, SEVEN, Limit
from oscsim.use.stretches import NOISE

EXAMPLES = Quantity("", "", "examples to be drawn", 0, 100_000, whole=True)
#: Lobatto's nodes over the 24 hours of a day, both ends among them, and of each drawn example.
_NODES, _FEWER = 12, 4
#: The kinds of day, each once.
_KINDS = tuple(dict.fromkeys(DAYS))
_OF_DAY = np.array([_KINDS.index(day) for day in DAYS])
#: Trials with noise that the chances are taken from, at least.
_ROUNDS = 20_000
#: What day-to-day noise of 1 alone makes of V, the mean of |x - y|, and of Vmax, the greatest of five.
_EXPECTED = {"V": 2.0 / math.sqrt(math.pi), "Vmax": 2.2201}


@dataclass(frozen=True, kw_only=True)
class Criterion:
    """One criterion: value without day-to-day noise, but V and Vmax, which noise alone makes, as expected with it;
    margin to the nearer limit (negative beyond it); chance of passing over examples and noise. NaN: no value."""

    name: str
    value: float
    low: float | None
    high: float | None
    margin: float
    chance: float


@dataclass(frozen=True, repr=False, kw_only=True)
class Trial(OneMovement):
    """The trial of one design; states: by kind of day, the worst state over its 24 h; rates (15,): daily rates without
    noise, s/day; residual_rad: the largest of the settled points; all_seven: chance of passing all (NaN: no trial)."""

    category: int
    noise_s_per_day: float
    regulated_s_per_day: float | None
    condition: Condition
    examples: int
    seed: int | None
    criteria: tuple[Criterion, ...]
    all_seven: float
    states: tuple[State, ...]
    rates_s_per_day: Array
    residual_rad: float

    @property
    def state(self) -> State:
        """The trial's own: what keeps it from being held, or running."""
        for state in (State.STOPS, *TOO_FAR, State.UNSETTLED):
            if state in self.states:
                return state
        return State.RUNNING

    @property
    def decides(self) -> Criterion | None:
        """The criterion that fails first; None without a trial."""
        ranked = [one for one in self.criteria if one.name in SEVEN and math.isfinite(one.margin)]
        return min(ranked, key=lambda one: (one.chance, one.margin)) if ranked else None

    def settings(self) -> dict[str, Any]:
        return {
            "category": self.category,
            "noise_s_per_day": self.noise_s_per_day,
            "regulated_s_per_day": self.regulated_s_per_day,
            "condition": self.condition.__dict__,
            "examples": self.examples,
            "seed": self.seed,
        }

    def rows(self) -> list[dict[str, Any]]:
        return [
            {
                "name": one.name,
                "value": one.value,
                "limit_low": one.low,
                "limit_high": one.high,
                "margin": one.margin,
                "chance": one.chance,
            }
            for one in self.criteria
        ]

    def body(self) -> dict[str, Any]:
        days = [
            {
                "position": where,
                "temperature_c": warmth,
                "rate_s_per_day": rate,
                "state": self.states[kind].label,
            }
            for (where, warmth), rate, kind in zip(DAYS, self.rates_s_per_day, _OF_DAY, strict=True)
        ]
        decides = self.decides
        return {
            "category": self.category,
            "state": self.state.label,
            "criteria": self.rows(),
            "all_seven": self.all_seven,
            "decides": decides.name if decides else None,
            "residual_rad": self.residual_rad,
            "days": days,
        }


@takes_design
def trial(
    movement: Movement,
    *,
    category: int = 1,
    noise_s_per_day: float = 1.0,
    regulate_s_per_day: float | None = None,
    examples: int = 0,
    rng: np.random.Generator | int | None = 0,
    condition: Condition | None = None,
) -> Trial:
    """The seven criteria of ISO 3159 (in_use in the manual), every day from full wind for 24 h.

    category: 1 (over 20 mm) or 2; noise_s_per_day: σ of a day's rate, 1 is common practice without source; examples:
    how many to draw from the design's tolerances, 0 the design alone; regulate_s_per_day: before the trial the design
    and every example are regulated to this M (None: as built). Raises InputError for values out of range.
    """
    condition = condition or AS_DESIGNED
    if category not in CATEGORIES:
        raise InputError(f"category = {category}: must be 1 (over 20 mm) or 2")
    NOISE.check("noise_s_per_day", noise_s_per_day)
    EXAMPLES.check("examples", examples)
    if regulate_s_per_day is not None:
        TARGET.check("regulate_s_per_day", regulate_s_per_day)
    generator = rng if isinstance(rng, np.random.Generator) else np.random.default_rng(rng)
    worn = condition.applied_to(movement)
    rate, state, residual = _daily(worn, _NODES)
    states = tuple(STATES[code] for code in state[0])
    held = all(one not in (State.STOPS, *TOO_FAR) for one in states)
    days = np.where(held, rate[0], math.nan)[_OF_DAY]
    drawn = rate[:1] if held else np.empty((0, len(_KINDS)))
    if examples and held:
        stack = condition.applied_to(
            varied(movement, draw(movement, spreads_of(movement), examples, generator))
        )
        drawn, codes, _ = _daily(stack, _FEWER)
        bad = np.isin(codes, [CODE[State.STOPS], *(CODE[one] for one in TOO_FAR)]).any(axis=1)
        drawn = np.where(np.asarray(bad)[:, None], math.nan, drawn)
    if regulate_s_per_day is not None:  # the hairspring moves all rates alike
        days = days + regulate_s_per_day - criteria_of(days)["M"]
        drawn = drawn + regulate_s_per_day - criteria_of(drawn[:, _OF_DAY])["M"][:, None]
    # the criteria are linear in the noise of fifteen days but for V, Vmax and P: drawn, example by example
    noisy = np.repeat(drawn, max(1, -(-_ROUNDS // max(len(drawn), 1))), axis=0)[:, _OF_DAY]
    noisy = noisy + noise_s_per_day * generator.standard_normal(noisy.shape)
    found, shown = criteria_of(days), criteria_of(noisy)
    found |= {name: found[name] + factor * noise_s_per_day for name, factor in _EXPECTED.items()}
    limits = CATEGORIES[category]
    passed = {name: _within(shown[name], limits[name]) for name in CRITERIA}
    said = tuple(
        _criterion(name, float(found[name]), limits[name], float(passed[name].mean()) if held else math.nan)
        for name in CRITERIA
    )
    together = np.logical_and.reduce([passed[name] for name in SEVEN])
    return Trial(
        movement=movement,
        category=category,
        noise_s_per_day=float(noise_s_per_day),
        regulated_s_per_day=regulate_s_per_day,
        condition=condition,
        examples=examples,
        seed=rng if isinstance(rng, int) else None,
        criteria=said,
        all_seven=float(together.mean()) if held else math.nan,
        states=states,
        rates_s_per_day=days,
        residual_rad=residual,
    )


def criteria_of(days: Array) -> dict[str, Array]:
    """The criteria of daily rates (…, 15), s/day; each (…)."""
    first = days[..., :10]
    pairs = np.abs(first[..., 1::2] - first[..., ::2])
    mean = first.mean(axis=-1)
    hanging, lying = first[..., :2].mean(axis=-1), first[..., 8:].mean(axis=-1)
    return {
        "M": mean,
        "V": pairs.mean(axis=-1),
        "Vmax": pairs.max(axis=-1),
        "D": hanging - lying,
        "P": np.abs(first - mean[..., None]).max(axis=-1),
        "C": (days[..., 12] - days[..., 10]) / 30.0,
        "R": days[..., 14] - hanging,
        "D_other": lying - hanging,
    }


def _within(values: Array, limit: Limit) -> NDArray[np.bool_]:
    """Where the values lie within; what has no value does not."""
    low = -math.inf if limit.low is None else limit.low
    high = math.inf if limit.high is None else limit.high
    return np.asarray((values >= low) & (values <= high))


def _criterion(name: str, value: float, limit: Limit, chance: float) -> Criterion:
    sides = [value - limit.low] if limit.low is not None else []
    sides += [limit.high - value] if limit.high is not None else []
    return Criterion(name=name, value=value, low=limit.low, high=limit.high, margin=min(sides), chance=chance)


def _daily(as_is: AsItIs, nodes: int) -> tuple[Array, Array, float]:
    """Mean rate over 24 h from full wind by kind of day, (movements, kinds), the worst state's code, and the largest
    residual: Gauss-Lobatto over the hours, which meets full wind and the day's end."""
    x, weights = lobatto(nodes)
    lay = [POSITIONS[symbol] for symbol, _ in _KINDS]
    at = Moments(
        np.array([place.tilt for place in lay])[:, None],
        np.array([place.hour_up for place in lay])[:, None],
        turns_left(as_is, 12.0 * (x + 1.0)),
        np.array([warmth for _, warmth in _KINDS])[:, None],
    )
    points = settled_points(points_of(as_is, at))
    shape = (-1, len(_KINDS), nodes)
    rates, code = points.rate_s_per_day.reshape(shape), points.code.reshape(shape)
    rank = np.array([BEST_FIRST.index(state) for state in STATES])
    worst = np.argsort(rank)[rank[code].max(axis=-1)]
    residual = points.residual_rad[np.isfinite(points.residual_rad)]
    return rates @ (weights / 2.0), worst, float(residual.max()) if residual.size else math.nan


def lobatto(nodes: int) -> tuple[Array, Array]:
    """Nodes and weights of Gauss-Lobatto's rule on -1 to 1: the ends and the zeros of P'(n-1), 2/(n(n-1) P(n-1)²)
    (M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 1964, 25.4.32)."""
    last = np.polynomial.Legendre.basis(nodes - 1)
    x = np.concatenate([[-1.0], np.sort(last.deriv().roots().real), [1.0]])
    return x, 2.0 / (nodes * (nodes - 1.0) * last(x) ** 2)
