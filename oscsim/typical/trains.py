"""Usual trains: the teeth that a movement of its beat most likely has, where nobody has counted them."""

from __future__ import annotations

import math

#: Centre to third and third to fourth of nearly every train whose centre turns once an hour and whose fourth once a
#: minute (common practice without source), and the leaves of the escape pinion, the most usual first.
_MIDDLE, _ESCAPE_LEAVES = ((80, 10), (75, 10)), (7, 8, 10, 6, 9, 12)
_WHEELS, _CENTRE_LEAVES, _FOURTH = range(60, 101), range(10, 16), range(50, 121)
#: How far the product may lie from the ratio that is known.
_NEAR = 0.01


def usual_teeth(
    ratio: float, beats_per_hour: float, escape_teeth: int, *, near: float = _NEAR
) -> tuple[tuple[int, ...], tuple[int, ...]] | None:
    """Teeth of the wheels and leaves of the pinions of the usual train with about this ratio: the centre turns once an
    hour, the fourth once a minute. None where there is none as ``near``."""
    hourly = beats_per_hour / (2.0 * escape_teeth)
    last = next((leaves for leaves in _ESCAPE_LEAVES if _whole(hourly / 60.0 * leaves)), None)
    if last is None:
        return None
    pairs = [(teeth, leaves) for leaves in _CENTRE_LEAVES for teeth in _WHEELS]

    def off(pair: tuple[int, int]) -> float:
        return abs(math.log(pair[0] / pair[1] * hourly / ratio))

    # of those that do equally well the one with the most usual pinion of twelve
    barrel = min(pairs, key=lambda pair: (round(off(pair), 4), abs(pair[1] - 12)))
    if off(barrel) > near:
        return None
    wheels, pinions = zip(barrel, *_MIDDLE, (round(hourly / 60.0 * last), last), strict=True)
    return wheels, pinions


def _whole(teeth: float) -> bool:
    """Whether so many teeth make a fourth wheel."""
    return abs(teeth - round(teeth)) < 1e-9 and round(teeth) in _FOURTH
