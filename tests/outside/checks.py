"""The outside checks by number: under which topic of the page each stands, and what it is called there."""

from __future__ import annotations

#: Numbers 1 to 30 are the list the library was begun with; what was found later follows.
TOPICS: dict[str, dict[int, str]] = {
    "Poise": {
        1: "rate of an unpoised balance over the amplitude",
        2: "the four verticals together",
        3: "what the adjuster finds with the heavy side down",
        4: "what practitioners quote of the node",
        31: "rate cards before and after the work",
    },
    "Escapement and isochronism": {
        5: "a torque over an arc of the swing",
        6: "how the escapement's loss goes with the amplitude",
        7: "drag alone, and its rate",
        8: "share of a half-swing inside the lift",
        9: "a published drawing of the lever escapement",
    },
    "Hairspring": {
        10: "cubic term, and index pins with play",
        11: "a flat hairspring clamped at both ends",
        12: "Phillips' outer curve",
        13: "a hairspring that leaves its collet upward",
        32: "a hairspring with a strong cubic term, by elliptic integral",
        33: "circular error of a pendulum, as a cubic term",
        51: "a hairspring's shape by shooting along the strip",
        52: "the point of pinning moved by half a coil",
        53: "a hairspring off its centre",
    },
    "Damping and energy": {
        14: "free decay",
        15: "a clock with dry friction and a fixed energy each half-swing",
        16: "Q, losses and efficiencies",
    },
    "Pivots and oil": {
        17: "friction of a pivot on its side and on its end",
        18: "friction of slow pivots, dry and oiled",
        19: "oil over the temperature",
    },
    "Mainspring and train": {
        20: "most turns of a barrel",
        21: "torque by height, thickness and length",
        22: "torque of a strip, wound and let down",
        34: "hours to a turn of the barrel",
        39: "what a mesh of cycloidal teeth passes on, and its ripple",
        40: "the amplitude under a torque that swings",
    },
    "Standards, definitions and sounds": {
        23: "ISO 3159: limits of a chronometer (print disagrees about the sign of D)",
        24: "ISO 3158: symbols of the positions",
        25: "sounds: amplitude from the time between them, beat error",
        35: "standard acceleration of free fall",
    },
    "Temperature": {
        26: "rate by temperature of balance and hairspring",
        36: "an uncompensated watch in the heat",
    },
    "Whole movements": {
        27: "three quarters of a turn, and the knock",
        28: "a fast-beat, many-jewelled movement",
        29: "a robust design",
        30: "what costs amplitude, and vertical against flat",
        41: "a published model with impulse and unlocking alone",
        42: "real watches of 1920, as signs and sizes",
    },
    "The equations solved again": {
        37: "reference numbers: an independent integration in time",
        38: "a second integrator kept with the tests",
    },
}
TITLES = {number: title for checks in TOPICS.values() for number, title in checks.items()}
