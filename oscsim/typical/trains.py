"""Usual trains: the teeth that a movement of its beat most likely has, where nobody has counted them."""

from __future__ import annotations

import math

from oscsim.movement import Movement

#: Centre to third and third to fourth of nearly every train whose centre turns once an hour and whose fourth once a
#: minute (common practice without source), and the leaves of the escape pinion.
_MIDDLE, _ESCAPE_LEAVES = ((80, 10), (75, 10)), 7
_WHEELS, _CENTRE_LEAVES, _FOURTH = range(60, 101), range(10, 16), range(50, 121)
#: How far the product may lie from the ratio that is known.
_NEAR = 0.01


def usual_teeth(
    ratio: float, beats_per_hour: float, escape_teeth: int
) -> tuple[tuple[int, ...], tuple[int, ...]] | None:
    """Teeth of the wheels and leaves of the pinions of the usual train with about this ratio: the centre turns once an
    hour, the fourth once a minute. None where there is none within a hundredth."""
    hourly = beats_per_hour / (2.0 * escape_teeth)
    fourth = hourly / 60.0 * _ESCAPE_LEAVES
    if abs(fourth - round(fourth)) > 1e-9 or round(fourth) not in _FOURTH:
        return None
    pairs = [(teeth, leaves) for leaves in _CENTRE_LEAVES for teeth in _WHEELS]

    def off(pair: tuple[int, int]) -> float:
        return abs(math.log(pair[0] / pair[1] * hourly / ratio))

    # of those that do equally well the one with the most usual pinion of twelve
    barrel = min(pairs, key=lambda pair: (round(off(pair), 4), abs(pair[1] - 12)))
    if off(barrel) > _NEAR:
        return None
    wheels, pinions = zip(barrel, *_MIDDLE, (round(fourth), _ESCAPE_LEAVES), strict=True)
    return wheels, pinions


def with_usual_teeth(movement: Movement) -> Movement:
    """A sketch whose ratio nobody measured, with the usual train's teeth; any other design, and one for which there is
    no usual train, as it is."""
    train = movement.train
    if train.wheel_teeth is not None or "train.ratio" not in movement.filled:
        return movement
    teeth = usual_teeth(train.ratio, movement.balance.beats_per_hour, int(movement.escapement.teeth))
    if teeth is None:
        return movement
    return movement.with_({"train.wheel_teeth": teeth[0], "train.pinion_leaves": teeth[1]})
