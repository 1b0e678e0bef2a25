"""The poising aid as a page of text: where the heavy point is, what to do, and what the rates will be."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from oscsim.bench.spring_effect import is_drawn
from oscsim.show.bench_words import CAUTIONS, aligned, as_sure, place
from oscsim.show.style import headline
from oscsim.show.tables import signed, wrapped
from oscsim.text.sheet import Part, Sheet, close, items, sheet

if TYPE_CHECKING:
    from oscsim.bench.poise import Poise


#: Rates of four places lie so many of their uncertainties apart in one case of twenty (the studentised range).
_APART = 3.6


def poise_table(answer: Poise) -> Sheet:
    """The whole page."""
    told = answer.readings.lift_angle_deg
    lift = "the design's own lift angle" if told is None else f"a lift angle of {told:g} deg"
    parts: list[str | Part] = [
        f"{headline(answer.design)}: want of poise from vertical rates, instrument told {lift}"
    ]
    parts += [wrapped(sentence) for sentence in (heavy_sentence(answer), work_sentence(answer)) if sentence]
    parts += [wrapped(caution) for caution in answer.cautions]
    parts += [rates_text(answer), wrapped(shared_sentence(answer)), wrapped(spring_sentence(answer))]
    parts.append(wrapped(node_sentence(answer)))
    parts.append(items("Cautions", CAUTIONS[:1] + CAUTIONS[3:]))
    return sheet(*parts)


def clock(direction_deg: float) -> str:
    """A direction as the nearest half hour of the dial."""
    halves = round(direction_deg / 15.0) % 24
    hour = halves // 2 or 12
    return f"{hour} o'clock" if halves % 2 == 0 else f"half past {hour}"


def heavy_sentence(answer: Poise) -> str:
    """Where the heavy point is and how much it weighs."""
    if not answer.told:
        if answer.silent:
            return "Nothing can be told about the heavy point from these readings."
        return (
            f"No want of poise can be told from these readings: it is at most {answer.most_ug_cm:.1f} µg·cm (90 %), "
            "and its direction is open."
        )
    half = 0.5 * (answer.high_ug_cm - answer.low_ug_cm)
    heavy, low, high = (
        as_sure(value, half) for value in (answer.moment_ug_cm, answer.low_ug_cm, answer.high_ug_cm)
    )
    return (
        f"The heavy point: {heavy} µg·cm ({low} to {high}, 90 %), "
        f"{answer.direction_deg:.0f} ± {answer.direction_half_width_deg:.0f} deg clockwise from 12, towards "
        f"{clock(answer.direction_deg)}, with the balance at rest and seen from the dial side. Seen from the balance's "
        f"side the angle runs the other way. It hangs lowest with {clock(answer.direction_deg + 180.0)} up."
    )


def work_sentence(answer: Poise) -> str:
    """What to take away or to add, and the hole."""
    work = answer.work
    if work is None:
        return ""
    if not answer.helps:
        now, then = (max(ends) for ends in zip(*answer.spreads.values(), strict=True))
        return (
            f"Leave it: the verticals lie at most {now:.1f} s/day apart as read, and without this heavy point they "
            f"would lie {then:.1f} apart. It makes up for what the hairspring's weight does, or is no more than the "
            "readings' own uncertainty."
        )
    return (
        f"Take away {as_sure(work.mass_ug, work.half_width_ug)} ± {as_sure(work.half_width_ug, work.half_width_ug)} µg "
        f"at the heavy point, {work.radius_mm:.1f} mm from "
        f"the axis, or add as much opposite, towards {clock(answer.direction_deg + 180.0)}. That is a hole of "
        f"{work.drill_mm:g} mm diameter and {work.depth_mm:.2f} mm depth in metal of {work.density_g_cm3:g} g/cm³. "
        "Take less than half of it, read again, and approach."
    )


def rates_text(answer: Poise) -> Sheet:
    """Rates read, by the model, and as they will be."""
    heads = ["Rate, s/day", "amplitude shown, deg", "read", "model", "after the work"]
    rows = [
        [
            place(v.position, v.hours),
            f"{v.shown_deg:.0f}",
            signed(v.rate_s_per_day),
            signed(v.model_s_per_day),
            f"{signed(v.after_s_per_day)} ± {v.after_half_width_s_per_day:.1f}" if answer.told else "–",
        ]
        for v in answer.verticals
    ]
    lines: list[str | Part] = [aligned(heads, rows)]
    if answer.told:
        lines += [_spread_text(answer, hours) for hours in answer.spreads]
    return close(*lines)


def _spread_text(answer: Poise, hours: float) -> str:
    """The spread of the vertical rates now and after the work, the latter no finer than it is known: where the heavy
    point is heavier than told, opposite positions part by both their ranges."""
    at = [v for v in answer.verticals if v.hours == hours]
    now, then = answer.spreads[hours]
    most = max(
        a.after_s_per_day - b.after_s_per_day + a.after_half_width_s_per_day + b.after_half_width_s_per_day
        for a in at
        for b in at
        if a is not b
    )
    sure = max(most - then, 1.0)  # rates are read to a tenth
    return (
        f"Spread of the vertical rates at {hours:g} h: {now:.1f} s/day, after the work about "
        f"{as_sure(then, sure)}, at most {as_sure(most, sure)}."
    )


def shared_sentence(answer: Poise) -> str:
    """The part that poising will not touch."""
    parts = [
        f"{signed(o.rate_s_per_day)} ± {o.half_width_s_per_day:.1f} s/day at {o.hours:g} h "
        f"({o.amplitude_deg:.0f} deg true)"
        for o in answer.offsets
    ]
    tail = " How it differs between the hours is isochronism, not poise." if len(answer.offsets) > 1 else ""
    return (
        f"All vertical positions share {'; '.join(parts)}: regulation and isochronism, which poising leaves as they "
        f"are.{tail}"
    )


def spring_sentence(answer: Poise) -> str:
    """What poising cannot take away: the hairspring's weight, where want of poise is silent."""
    if answer.silent:
        apart = max(now for now, _ in answer.spreads.values())
        lie = f"Read where a heavy point is silent, the verticals lie {apart:.0f} s/day apart"
        if apart < _APART * max(row.rate_s_per_day_uncertainty for row in answer.readings.rows):
            return f"{lie}: no more than the readings are unsure."
        return (
            f"{lie}: what parts them there is the hairspring's weight or another fault, and no poising takes it away. "
            "oscsim diagnose weighs them."
        )
    told = answer.spring_s_per_day
    rates = ", ".join(f"{symbol} {signed(rate)} ± {half:.1f}" for symbol, (rate, half) in told.items())
    known = "as drawn, give or take" if is_drawn(answer.movement) else "not told by the design"
    said = (
        f"At 220 deg, where a heavy point is silent, the hairspring's weight ({known}) makes {rates} s/day: what parts "
        "the positions there is the spring's, and no poising takes it away"
    )
    fast = max(told, key=lambda symbol: told[symbol][0])
    rate, half = told[fast]
    further = answer.further_s_per_day
    if rate > half and further:
        most = max(further, key=lambda symbol: further[symbol])
        turns = (
            "would turn from fast to slow" if further[fast] < 0.0 else f"would go to {signed(further[fast])}"
        )
        said += (
            f". Pinned half a coil further at the collet, {fast} {turns}, and about {2.0 * further[most]:.0f} s/day "
            "between opposite positions would be left: it moves and does not go"
        )
    return f"{said}."


def node_sentence(answer: Poise) -> str:
    """Where the effect turns over, and on which side the readings lie."""
    if not math.isfinite(answer.node_deg):
        return "The effect of a heavy point does not turn over between 150 and 290 deg in this design."
    sides = [o.amplitude_deg - answer.node_deg for o in answer.offsets]
    where = (
        "These readings lie below it."
        if max(sides) < 0.0
        else "These readings lie above it."
        if min(sides) > 0.0
        else "These readings lie on both sides of it."
    )
    return (
        f"The node is at {answer.node_deg:.1f} deg true, {answer.node_shown_deg:.0f} deg as this instrument shows it: "
        f"below it a heavy point that hangs low gains, above it the same point loses. {where}"
    )
