"""The diagnosis as a page of text: verdict, what takes amplitude, what else shows, readings, next step, cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from oscsim.show.bench_words import CAUTIONS, READ_TITLES, aligned, amount, between, place, size
from oscsim.show.style import headline
from oscsim.show.tables import wrapped
from oscsim.slips.readings import READ
from oscsim.text.phrases import share
from oscsim.text.sheet import Cell, Part, Sheet, Words, close, items, sheet

if TYPE_CHECKING:
    from oscsim.bench.diagnose import Cause, Diagnose, Interval, Shown

FAULT_HEADS = (
    "What takes amplitude",
    "chance",
    "size if it is there, 90 %",
    "mended, flat, deg",
    "vertical, deg",
)
FAULT_NOTE = (
    "Sizes per cent are of the sound movement's own. Mended: what putting this alone right brings, if it is there, "
    "90 %."
)
SHOWN_HEADS = ("read", "a sound one, 90 %", "this one, 90 %", "")
#: Sizes of adjustments are said from this chance on; a step that moves a chance by less changes nothing.
_SAID, _LITTLE = 0.5, 0.01
#: A heavy point that may lie further to either side than this has no direction.
_OPEN_DEG = 90.0


def diagnose_table(answer: Diagnose) -> Sheet:
    """The whole page."""
    parts: list[str | Part] = [heading(answer), wrapped(answer.verdict)]
    parts += [wrapped(pattern.said) for pattern in answer.patterns if not pattern.explains]
    parts += [faults_text(answer), beside_text(answer), shown_text(answer), wrapped(next_sentence(answer))]
    parts.append(items("Cautions", CAUTIONS))
    return sheet(*parts)


def heading(answer: Diagnose) -> str:
    """What was judged by what."""
    told = answer.readings.lift_angle_deg
    lift = "the movement's own lift angle" if told is None else f"a lift angle of {told:g} deg"
    rows = len(answer.readings.rows)
    return f"{headline(answer.design)}: diagnosis from {rows} row{'s' * (rows > 1)} of readings, instrument told {lift}"


def fault_rows(answer: Diagnose) -> list[list[str]]:
    """What takes amplitude, as cells under ``FAULT_HEADS``."""
    rows = []
    for cause in answer.faults:
        assert cause.gain_deg is not None
        told = "–" if cause.size is None else f"{_range(cause.size, cause.unit)} {cause.unit}"
        rows.append(
            [
                cause.short,
                share(cause.chance),
                told,
                *(_range(cause.gain_deg[s], "whole") for s in ("flat", "vertical")),
            ]
        )
    return rows


def _range(ends: Interval, unit: str) -> str:
    return between(ends.low, ends.high, lambda value: size(unit, value))


def faults_text(answer: Diagnose) -> Part:
    """The loss, and the causes by chance; none are ranked where nothing known fits."""
    if not answer.swings_fit:
        return wrapped(
            "What it lacks of its amplitude is not told. Causes are not ranked, since nothing known fits."
        )
    lost = " ".join(
        f"{side.capitalize()} {round(one.middle)} deg ({_range(one, 'whole')})."
        for side, one in answer.loss_deg.items()
    )
    said = f"Less than in sound condition, fully wound, 90 %: {lost}"
    if not answer.fits:
        return wrapped(f"{said} Causes are not ranked, since nothing known fits.")
    return close(wrapped(said), aligned(FAULT_HEADS, fault_rows(answer), left=(0,)), wrapped(FAULT_NOTE))


def beside_text(answer: Diagnose) -> Part:
    """What else shows, a sentence each."""
    return items("What else shows (takes no amplitude)", beside(answer))


def beside(answer: Diagnose) -> list[str]:
    """Beat, poise, rate and isochronism, each with what to do."""
    by_name = {cause.name: cause for cause in answer.adjustments}
    if not answer.fits:
        return [_beside(by_name["out_of_beat"]), _NOT_APART]
    order = ("out_of_beat", "unbalance", "regulation", "isochronism", "hairspring")
    told = [_beside(by_name[name]) for name in order if name in by_name]
    if min(by_name[name].chance or 0.0 for name in ("unbalance", "hairspring")) >= _SAID:
        told.append(_ALIKE)
    return told


#: Where both show, the one may stand for the other.
_ALIKE = (
    "Want of poise and the hairspring's weight look alike here, and the one may stand for the other: read the "
    "verticals at 150 to 180 deg before either is touched; the heavy point to work by is that of oscsim poise."
)
#: Rates that no movement of the kind has say nothing of what moves them one by one.
_NOT_APART = "Poise, regulation and the hairspring: not told apart, since nothing known fits."


def _beside(cause: Cause) -> str:
    name = f"{cause.short[0].upper()}{cause.short[1:]}"
    if cause.chance is None or cause.size is None:
        return f"{name}: nothing was read of it."
    if cause.chance < _SAID:
        return f"{name}: no more than ordinary (chance {share(cause.chance)} that it is)."
    told = f"{size(cause.unit, cause.size.middle)} {cause.unit} ({_range(cause.size, cause.unit)}, 90 %)"
    where = ""
    if cause.direction_deg is not None and cause.direction_half_width_deg is not None:
        half = cause.direction_half_width_deg
        where = f", heavy point {cause.direction_deg:.0f} ± {half:.0f} deg clockwise from 12"
        if half > _OPEN_DEG:
            where = ", direction open"
    brings = ""
    if cause.gain_spread_s_per_day is not None and cause.gain_spread_s_per_day >= 1.0:
        brings = (
            f" That takes about {cause.gain_spread_s_per_day:.0f} s/day out of the spread of the verticals."
        )
    return f"{name}: {told}{where}, chance {share(cause.chance)} that it is more than ordinary; {cause.do}.{brings}"


def shown_rows(answer: Diagnose, kind: str) -> list[list[Words]]:
    """Place and cells under ``SHOWN_HEADS``, for one kind of reading."""

    def written(value: float) -> str:
        return amount(kind, value)

    if not answer.told(kind):
        return [
            [place(s.position, s.hours), written(s.value), "–", "–", ""]
            for s in answer.shown
            if s.read == kind
        ]
    return [
        [
            place(s.position, s.hours),
            written(s.value),
            between(s.sound.low, s.sound.high, written),
            between(s.this.low, s.this.high, written),
            _remark(s),
        ]
        for s in answer.shown
        if s.read == kind
    ]


def _remark(s: Shown) -> Words:
    if s.doubted:
        return Cell("", "read again")
    low, high = s.value < s.sound.low, s.value > s.sound.high
    return Cell("", "low" if low else "high") if low or high else ""


def shown_text(answer: Diagnose) -> Sheet:
    """Every kind of reading beside what a sound one and this one would show."""
    tables = [
        aligned([READ_TITLES[kind], *SHOWN_HEADS], rows, left=(0, 4))
        for kind in READ
        if (rows := shown_rows(answer, kind))
    ]
    return sheet(*tables)


def next_sentence(answer: Diagnose) -> str:
    """What to do next and why, in words."""
    if not answer.fits:
        return "Next: see to what is said above, then read again."
    best = answer.best
    if answer.verdict_word == "sound" and (best is None or best.change < _LITTLE):
        beside = any((one.chance or 0.0) >= _SAID for one in answer.adjustments)
        if beside:
            return (
                "Next: see to what is not in order beside it; no single reading or measurement would change that the "
                "amplitude is sound."
            )
        return "Next: nothing. It is sound, and no single reading or measurement would change that."
    if best is None or best.change < _LITTLE:
        return "Next: no single reading or measurement would change much; look, and decide by what you find."
    verb = "read the" if best.name == "reading" else "measure" if best.name != "sister" else "read"
    others = [f"{one.what} ({one.minutes:.0f} min)" for one in answer.following[1:3] if one.change >= _LITTLE]
    after = f" After that: {'; '.join(others)}." if others else ""
    return f"Next, {verb} {best.what}: {best.why} (about {best.minutes:.0f} min).{after}"
