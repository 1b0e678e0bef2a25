"""Checked arguments of the theory's functions: finite, in range, or one clear line of refusal."""

import numpy as np
from numpy.typing import ArrayLike

from oscsim.arrays import Array, Flags


def real(
    name: str,
    value: ArrayLike,
    unit: str,
    *,
    above: float | None = None,
    least: float | None = None,
    below: float | None = None,
) -> Array:
    """The value as a float64 array of the same shape.

    Parameters
    ----------
    name, unit : for the message.
    value : real number or array, any shape.
    above, least, below : bounds: value > above, value >= least, value < below.

    Raises
    ------
    ValueError
        Names the first value that is not finite or out of range, its unit and the range.
    """
    array: Array = np.asarray(value, dtype=np.float64)
    good = np.isfinite(array)
    wanted = ["finite"]
    if above is not None:
        good &= array > above
        wanted.append(f"above {above:g} {unit}".rstrip())
    if least is not None:
        good &= array >= least
        wanted.append(f"at least {least:g} {unit}".rstrip())
    if below is not None:
        good &= array < below
        wanted.append(f"below {below:g} {unit}".rstrip())
    if not np.all(good):
        where = tuple(int(i) for i in np.argwhere(~good)[0])
        index = str(list(where)) if where else ""
        told = f"{name}{index} = {float(array[where]):g} {unit}".rstrip()
        raise ValueError(f"{told}: must be {' and '.join(wanted)}")
    return array


def require(good: bool | Flags, rule: str, **values: Array) -> None:
    """Refuse points at which the values do not go together.

    Raises
    ------
    ValueError
        Gives the values of the first such point and the rule.
    """
    if not np.all(good):
        flags, *arrays = np.broadcast_arrays(np.asarray(good), *values.values())
        where = tuple(np.argwhere(~flags)[0])
        told = ", ".join(f"{name} = {float(a[where]):g}" for name, a in zip(values, arrays, strict=True))
        raise ValueError(f"{told}: needs {rule}")
