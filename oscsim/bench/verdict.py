"""The verdict in one sentence, and the causes in plain words."""

from __future__ import annotations

from oscsim.bench.findings import Cause
from oscsim.bench.model import ADJUSTMENTS
from oscsim.bench.posterior import NINETY
from oscsim.errors import clipped, printable
from oscsim.movement import Movement

#: A cause in plain words, and where its estimate lies on the other side of the design's, the opposite.
SAID = {
    "drive": "drive lost between barrel and escape wheel",
    "mainspring": "a tired or wrong mainspring",
    "pivot_vertical": "friction at the sides of the balance pivots",
    "pivot_flat": "friction at the ends of the balance pivots",
    "drag": "too much drag on the balance (oil, dirt, hairspring)",
    "lock": "a lock deeper than drawn",
    "unbalance": "want of poise",
    "out_of_beat": "out of beat",
    "regulation": "regulation",
    "isochronism": "the hairspring's isochronism",
}
_OPPOSITE = {
    "drive": "more drive than the design's",
    "mainspring": "a stronger mainspring than the design's",
    "pivot_vertical": "less friction at the sides of the balance pivots than the design's",
    "pivot_flat": "less friction at the ends of the balance pivots than the design's",
    "drag": "less drag on the balance than the design's",
    "lock": "a lock shallower than drawn",
}
#: Sound examples are seldom this far above the design, in standard deviations (1 %); below it one in twenty counts.
HIGH = 2.326347874040841


def said(cause: Cause) -> str:
    """The cause in plain words, the way its estimate points."""
    neutral = 0.0 if cause.unit else 1.0
    opposite = cause.estimate > neutral if cause.name in ("drive", "mainspring") else cause.estimate < neutral
    return _OPPOSITE.get(cause.name, SAID[cause.name]) if opposite else SAID[cause.name]


def verdict(movement: Movement, inside: bool, deficit: float, sd: float, causes: tuple[Cause, ...]) -> str:
    """One sentence: whether the amplitudes lie among those of sound examples, or of what a sketch leaves open, and what
    shows; deficit and its standard deviation in deg."""
    name, sketch = clipped(printable(movement.name)), bool(movement.filled)
    found = [cause for cause in causes if cause.found and cause.name != "regulation"]
    about = f"{deficit:+.0f} ± {NINETY * sd:.0f} deg against the design"
    if inside:
        if sketch:
            shows = f"; what shows is {said(found[0])}" if found else ""
            within = f"Amplitudes lie within what the sketch leaves open ({about}){shows}."
            return f"{within} Whether that is healthy it cannot say."
        if not found:
            return f"Healthy for a {name}: amplitudes {about} lie among those of sound examples."
        return f"Amplitudes are healthy for a {name} ({about}); what shows is {said(found[0])}."
    begun = "Outside what the sketch leaves open" if sketch else f"Not healthy for a {name}"
    if deficit > HIGH * sd:
        begun = begun if sketch else f"Not as a {name} should be"
        return (
            f"{begun}: amplitudes are high, {about}; first check the lift angle that the instrument "
            "was told, then the mainspring and that this is the right design."
        )
    low = "low" if deficit < -NINETY * sd else "uneven"
    if not found:
        return f"{begun}: amplitudes are {low}, {about}, and the readings do not single out a cause."
    first = found[0]
    alike = [SAID[other] for other in first.indistinguishable_from if other not in ADJUSTMENTS]
    # the evidence for it is that it alone explains the low readings; beside the others its estimate may point elsewhere
    name_it = SAID[first.name] if low == "low" else said(first)
    doubt = f"; these readings cannot tell it from {' or '.join(alike)}" if alike else ""
    return f"{begun}: amplitudes are {low}, {about}; most likely {name_it}{doubt}."
