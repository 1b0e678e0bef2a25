"""What a series shows of the train as text: what the record cannot show first, then period by period."""

from __future__ import annotations

from typing import TYPE_CHECKING

from oscsim.bench.ripple import duration
from oscsim.show.bench_words import aligned
from oscsim.show.style import headline
from oscsim.show.tables import around, signed, wrapped
from oscsim.text.sheet import Cell, Prose, Sheet, sheet

if TYPE_CHECKING:
    from oscsim.answers.breathing import Breathing
    from oscsim.bench.ripple import Period, Ripple
    from oscsim.movement import Movement

#: What to look at, by kind of part.
_LOOK = {
    "arbor": "its pivots (bent?), and whether wheel and pinion run true in the turns",
    "mesh": "a tooth or a leaf bent, worn or dirty, and the depth",
}
_HANDS = {
    "second hand": "the second hand touches the minute hand, the dial or the glass",
    "hour hand": "the minute hand touches the hour hand, or the motion work binds",
    "calendar": "the calendar work takes torque while it switches",
}
_DOWN = (
    "Let the mainspring down before a wheel or the balance is lifted. Old luminous hands and dials may hold radium: do "
    "not scrape or bend them, and keep their dust off skin and out of the lungs."
)


def ripple_table(answer: Ripple) -> Sheet:
    """The whole page."""
    heading = (
        f"{headline(answer.design)}: {len(answer.series.time_s)} readings, one every {duration(answer.spacing_s)} for "
        f"{duration(answer.duration_s)}, mean {answer.mean_deg:.0f} deg{around(answer.setting)}"
    )
    said = [wrapped(heading), *guessed(answer.movement), wrapped(unseen_sentence(answer))]
    rows = [
        [
            one.name,
            duration(one.period_s),
            f"± {one.swing_deg:.1f} deg",
            f"± {one.middle_percent:.1f} %",
            f"{one.low_percent:.1f} to {one.high_percent:.1f} %",
            f"± {one.usual_percent:g} %" if one.usual_percent else "none",
            chance(one.chance_of_false_alarm),
            Cell("", "out of the usual") if one.unusual else "as usual" if one.taken else "nothing shows",
        ]
        for one in answer.periods
    ]
    heads = ["turns or meshes", "period", "amplitude", "torque", "90 % interval", "usual", "false alarm", ""]
    return sheet(*said, aligned(heads, rows, left=(0, 7)), wrapped(ripple_sentence(answer)))


def guessed(movement: Movement) -> list[Prose]:
    """That nobody counted the teeth, where nobody did."""
    train = movement.train
    if "train.wheel_teeth" not in movement.filled or train.wheel_teeth is None or train.pinion_leaves is None:
        return []
    counts = " ".join(f"{z}:{p}" for z, p in zip(train.wheel_teeth, train.pinion_leaves, strict=True))
    return [
        wrapped(f"Nobody counted the teeth: a usual train of its beat is taken, {counts}. Count them first.")
    ]


def chance(value: float) -> str:
    """A chance in per cent, as far as anybody cares."""
    if value < 1e-4:
        return "< 0.01 %"
    return f"{100.0 * value:.2g} %" if value < 0.095 else f"{100.0 * value:.0f} %"


def unseen_sentence(answer: Ripple) -> str:
    """What the record cannot show, and how to read on."""
    if not answer.unseen:
        return "The record shows every period of the train."
    told = "; ".join(f"{name} {why}" for name, why in answer.unseen.items())
    return f"The record cannot show: {told}."


def ripple_sentence(answer: Ripple) -> str:
    """What is out of the usual, what to look at, and what no wheel explains."""
    said = []
    unusual = [one for one in answer.periods if one.unusual]
    for one in unusual:
        said.append(_told(one))
    if not unusual:
        said.append("Nothing that the record can show is out of the usual.")
    if answer.unexplained:
        periods = ", ".join(f"{duration(period)} (± {swing:.1f} deg)" for period, swing in answer.unexplained)
        said.append(
            f"No wheel and no hand explains {periods}: look for what repeats itself outside the movement (the stand, a "
            "lamp, traffic), or count the teeth again."
        )
    if answer.winds_itself:
        said.append(
            f"The amplitude rises by {answer.slope_deg_per_hour:.1f} deg an hour: the watch winds itself or warms up. "
            "That is taken as a trend."
        )
    else:
        said.append(f"The trend is {signed(answer.slope_deg_per_hour)} deg an hour.")
    good = f"± {answer.noise_deg:.1f}" if answer.noise_deg >= 0.05 else "better than ± 0.1"
    said.append(f"One reading is good to {good} deg.")
    if unusual:
        said.append(_DOWN)
    return " ".join(said)


def _told(one: Period) -> str:
    what = _HANDS.get(one.name) or f"look at {_LOOK.get(one.kind, '')}"
    name = f"{one.name[0].upper()}{one.name[1:]}"
    kind = {"arbor": " arbor", "mesh": " mesh", "hand": ""}[one.kind]
    said = (
        f"{name}{kind}, every {duration(one.period_s)}: the torque goes up and down by ± {one.middle_percent:.1f} % "
        f"({one.low_percent:.1f} to {one.high_percent:.1f}), the amplitude by ± {one.swing_deg:.1f} deg: {what}."
    )
    if one.instead:
        said += f" Read longer: {' or '.join(one.instead)} would explain it nearly as well."
    return said


def breathing_table(answer: Breathing) -> Sheet:
    """What breathes, and by how much."""
    rows = [
        [
            part.name,
            duration(part.period_s),
            f"± {part.torque_percent:.1f}",
            f"± {part.swing_deg:.2f}",
            "given as a fault" if part.fault else "sound teeth" if part.kind == "mesh" else "",
        ]
        for part in answer.parts
        if part.torque_percent > 0.0
    ]
    f = answer.follows
    low, high = float(answer.clean_deg.min()), float(answer.clean_deg.max())
    return sheet(
        wrapped(
            f"{headline(answer.design)}: the amplitude for {duration(float(answer.time_s[-1]))}, "
            f"{answer.setting.positions[0]}{around(answer.setting)}"
        ),
        *guessed(answer.movement),
        aligned(["turns or meshes", "period", "torque, %", "amplitude, deg", ""], rows, left=(0, 4)),
        wrapped(
            f"It breathes between {low:.1f} and {high:.1f} deg. One per cent of torque is {f.sensitivity:.2f} % of "
            f"amplitude, {f.relaxation_s:.1f} s late; what is faster than a minute is followed less and less."
        ),
    )
