"""The verdict in one sentence, and what readings that nothing known fits commonly mean."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from oscsim.bench.adjustments import Adjusted
from oscsim.bench.causes import FAULTS, NAMES
from oscsim.bench.hypotheses import NEGLECTED
from oscsim.bench.likelihood import DAY_LATER, STANDS, at_rows
from oscsim.bench.weighing import Weighed
from oscsim.slips.readings import Reading, Readings
from oscsim.text.phrases import listed, share

#: Bounds of the chance of a loss: below the first it is called sound, above the second worth opening.
SOUND_BELOW, OPEN_ABOVE = 0.25, 0.75
#: Below this one that is called sound is surely so: nothing more need be read.
CERTAIN = 0.05
#: A cause is named from this chance on; others beside it from the second.
NAMED, ALSO = 0.5, 0.15
#: Flat within so much of the horn, deg, and so much faster than the vertical positions, or than the beat, s/day.
_NEAR_HORN, _MINUTES_FAST = 18.0, 60.0
#: All rates off alike by more than this, while they keep together within that, s/day.
_ALIKE, _TOGETHER = 150.0, 40.0
#: So many amplitudes off, and half of all, are no slips of the pen.
_MANY = 3


@dataclass(frozen=True)
class Pattern:
    """What readings look like and what that commonly means; explains: whether it says why nothing else fits."""

    name: str
    said: str
    explains: bool

    def to_dict(self) -> dict[str, Any]:
        return dict(vars(self))


def word(chance: float, fits: bool) -> str:
    """The verdict's word."""
    if not fits:
        return "nothing fits"
    return "sound" if chance < SOUND_BELOW else "worth opening" if chance > OPEN_ABOVE else "undecided"


def early_slip(w: Weighed, worth: float) -> float:
    """Chance that fully wound it shows what it should and ``worth`` less a day later, because the mainspring is
    stronger than drawn: its bridle slips at the same torque and so earlier."""
    t = w.table
    day = t.moments.index(DAY_LATER)
    swing = t.shown[:, 2, day] * t.lift_deg
    return w.share((t.size[:, NAMES.index("mainspring")] < 0.0) & (swing[t.healthy] - swing >= worth))


def neglect(w: Weighed) -> float:
    """Chance that old oil, dirt on the balance and drive lost in the train have come together."""
    faults = [NAMES.index(name) for name in NEGLECTED]
    return w.share(np.asarray((w.table.size[:, faults] > 0.0).all(axis=1)))


def odd_patterns(w: Weighed, also: Adjusted, readings: Readings, *, rare: bool) -> tuple[Pattern, ...]:
    """Patterns that no amount of wear shows, likeliest first."""
    found = []
    rates = {
        (r.position, r.hours): r.rate_s_per_day for r in readings.rows if math.isfinite(r.rate_s_per_day)
    }
    upright = [rate for (position, _), rate in rates.items() if position not in ("CH", "FH")]
    middle = float(np.median(upright)) if upright else 0.0
    horn = w.sound.horn * float(np.mean(w.values.told))
    for row in readings.rows:
        if row.position not in ("CH", "FH") or not math.isfinite(row.amplitude_deg):
            continue
        rate = rates.get((row.position, row.hours))
        if row.amplitude_deg > horn - _NEAR_HORN and rate is not None and rate - middle > _MINUTES_FAST:
            found.append(
                Pattern(
                    "knocks",
                    f"It knocks: flat the swing reaches the horn of the fork (about {horn:.0f} deg as shown) and it "
                    "gains minutes. The drive is too strong, or the lift angle is told too large; a weaker mainspring, "
                    "not a cleaning, is what helps.",
                    True,
                )
            )
            break
    values = np.array(list(rates.values()))
    if len(values) > 1 and abs(float(np.median(values))) > _ALIKE and float(np.ptp(values)) < _TOGETHER:
        fast = "fast" if np.median(values) > 0.0 else "slow"
        found.append(
            Pattern(
                "alike",
                f"All rates are off alike, {abs(float(np.median(values))):.0f} s/day {fast}: magnetism or coils that "
                "touch or stick. Demagnetise first, then look at the hairspring, then regulate.",
                True,
            )
        )
    if not any(pattern.explains for pattern in found):
        found += _off(w, readings)
    stood = [(row, _swings(w, row)) for row in readings.rows if row.stops]
    found += [_stood(row, middle) for row, middle in stood if middle > STANDS]
    if rare and also.misfit_p < 0.01 and not any(pattern.explains for pattern in found):
        found.append(Pattern(
            "no heavy point", "The rates follow no heavy point: look at the hairspring, its pinning, centring and "
            "flatness, and at the pivots, before anything else.", True,
        ))  # fmt: skip
    if rare and not any(pattern.explains for pattern in found):
        found.append(Pattern(
            "odd", "Check the lift angle that the instrument was told, that this is the right design, and the hours; "
            "read all positions again.", True,
        ))  # fmt: skip
    return tuple(found)


def _swings(w: Weighed, row: Reading) -> float:
    """What a movement with all other readings would swing where it stood, deg: the median."""
    return w.ends(at_rows(w.table.swing, w.table, [row])[:, 0])[1]


def _stood(row: Reading, middle: float) -> Pattern:
    return Pattern(
        "stood",
        f"It stood in {row.position} at {row.hours:g} h, where a movement with these readings would swing about "
        f"{10.0 * round(middle / 10.0):.0f} deg. Wind it fully and read once more, since it may have run down "
        "sooner; if it has not, look for what catches (dirt, a tooth, a coil or a balance that touches).",
        False,
    )


def _off(w: Weighed, readings: Readings) -> list[Pattern]:
    """Values that are given no weight: half of the amplitudes and more together, else one by one."""
    doubted = [w.values.names[n] for n in dict.fromkeys(w.doubted)]
    off = Counter(hours for _, kind, hours in doubted if kind != "rate_s_per_day")
    read = Counter(row.hours for row in readings.rows if math.isfinite(row.amplitude_deg))
    if off.total() >= max(_MANY, read.total() / 2.0):
        when = " and ".join(f"at {hours:g} h" for hours in sorted(off))
        return [Pattern(
            "many values off", f"{off.total()} of {read.total()} amplitudes ({when}) do not go with the others: check "
            "that this is the right design, the hours since full wind and the lift angle that the instrument was told; "
            "read them again.", True,
        )]  # fmt: skip
    whole = [hours for hours, count in off.items() if count > 1 and count == read[hours]]
    return [
        Pattern(
            "one hour off",
            f"No amplitude at {hours:g} h goes with those of the other hours, and they are given no weight: check that "
            "it was wound fully and stood so long. Where that is so, look at the mainspring, its bridle and the wall "
            "of the barrel.",
            False,
        )
        for hours in whole
    ] + [
        Pattern(
            "one value off",
            f"The {'rate' if kind == 'rate_s_per_day' else 'amplitude'} in {position} at {hours:g} h does not go with "
            "the others and is given no weight: read it again.",
            False,
        )
        for position, kind, hours in doubted
        if kind == "rate_s_per_day" or hours not in whole
    ]


def sentence(
    verdict: str,
    chance: float,
    worth: float,
    lost: Mapping[str, Any],
    causes: tuple[Any, ...],
    patterns: tuple[Pattern, ...],
    early: float,
    neglected: float,
    readings: Readings,
) -> str:
    """The verdict in words; a want of poise or a beat error is never the cause of a low amplitude, but no movement that
    has one is called sound without a word of it. What was not read flat or upright is told. ``early`` and
    ``neglected``: as of ``early_slip`` and ``neglect``."""
    if verdict == "nothing fits":
        first = next((p for p in patterns if p.explains), None)
        return f"Nothing known fits these readings. {first.said if first else ''}".strip()
    side = max(lost, key=lambda key: lost[key].middle)
    most = lost[side]
    about = f"chance {share(chance)} that it shows {worth:g} deg or more too little for what it is"
    beside = [c.short for c in causes if c.gain_deg is None and (c.chance or 0.0) >= NAMED]
    rest = "." + _unread(readings)
    if verdict == "sound":
        if beside:
            return f"Amplitude sound: {about}. Not in order beside it: {listed(beside)}{rest}"
        return f"Sound: {about}{rest}"
    begun = "Worth opening" if verdict == "worth opening" else "Undecided"
    if early > chance:
        return (
            f"{begun}: fully wound it shows what it should, but chance {share(early)} that a day later it shows "
            f"{worth:g} deg or more too little; the bridle slips too early, or the mainspring is too strong for it: "
            f"look at the bridle and at the barrel's wall, and measure the strip{rest}"
        )
    less = (
        f"{side} it shows {most.middle:.0f} deg ({max(most.low, 0.0):.0f} to {most.high:.0f}) less than it would in "
        "sound condition"
    )
    faults = [cause for cause in causes if cause.gain_deg is not None]
    said = {fault.name: fault.said for fault in FAULTS}
    first = faults[0]
    if neglected >= NAMED:
        name = (
            f"most likely neglected ({share(neglected)}): old oil throughout, dirt that drags on the balance and "
            "drive lost in the train together; clean and oil the whole movement, and read it again before anything "
            "else is judged"
        )
    elif first.chance >= NAMED:
        name = f"most likely {said[first.name]} ({share(first.chance)})"
        others = [f"{said[c.name]} ({share(c.chance)})" for c in faults[1:3] if c.chance >= ALSO]
        if others:  # the causes that go with it or stand for it are looked at before a stone is moved
            name += f", with it or in its place {listed(others, 'or')}"
    else:
        some = [f"{said[c.name]} ({share(c.chance)})" for c in faults[:3] if c.chance >= ALSO]
        name = (
            f"the readings leave open whether it is {listed(some, 'or')}"
            if some
            else "the readings name no cause"
        )
    if beside:
        rest = f". Not in order beside it, and taking no amplitude: {listed(beside)}{rest}"
    return f"{begun}: {about}; {less}; {name}{rest}"


def _unread(readings: Readings) -> str:
    """What was not read, where a fault may hide from all that was."""
    read = {row.position for row in readings.rows if row.stops or math.isfinite(row.amplitude_deg)}
    if not read & {"CH", "FH"}:
        return " Dial up and dial down were not read: what takes amplitude at a pivot's end stays open."
    if not read - {"CH", "FH"}:
        return " No vertical position was read: what takes amplitude at the pivots' sides stays open."
    return ""
