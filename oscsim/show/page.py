"""The teaching page: a lesson's tables, its scripts and its styles in one HTML file that loads nothing."""

from __future__ import annotations

import base64
import hashlib
import html
import json
import math
import re
from importlib import resources
from typing import TYPE_CHECKING, Any

import numpy as np

from oscsim.answers.budget import GROUPS
from oscsim.arrays import Array
from oscsim.errors import printable
from oscsim.output import plain
from oscsim.show.bench_words import aligned
from oscsim.show.style import headline
from oscsim.show.tables import sketch_sentence, wrapped
from oscsim.teaching.detent_motion import DetentMotion
from oscsim.teaching.page_motion import SWINGS
from oscsim.teaching.page_tables import CEILING, COARSE, FINE, FLOOR
from oscsim.teaching.words import words
from oscsim.text.sheet import Sheet, sheet
from oscsim.units import POSITIONS
from oscsim.version import __version__

if TYPE_CHECKING:
    from oscsim.teaching.page import Page

#: What a lesson's tables should hold, deg and s/day, and what is said where they do not.
_GOOD_DEG, _GOOD_RATE = 0.5, 0.3
ROUGH = (
    "That is more than a lesson should be off: the page is good for the shape of things, not for its figures. Ask "
    "oscsim settle for those."
)
SPRUNG = (
    "What the hairspring does by position, its weight and its side thrust, is added to first order: at other frictions "
    "than the design's a rate may be off by another second a day."
)
_SCRIPTS = (
    "words.js", "tables.js", "names.js", "coil.js", "escapement.js", "detent.js", "pair.js", "figures.js", "panels.js",
    "lesson.js",
)  # fmt: skip
#: Sliders by key, in words.
LABELS = {
    "torque": "Mainspring torque",
    "inertia": "Balance inertia",
    "lock": "Lock depth",
    "jewels": "Jewels",
    "friction": "Pivot friction",
    "unbalance": "Unbalance",
    "heavy": "Heavy point",
}
#: Questions to apprentices: key, title, what is asked; the answers are computed on the page.
QUESTIONS = (
    ("lock", "Deeper lock", "A stone has been moved out: the lock is a degree deeper. What amplitude does it cost?"),
    ("jewels", "Fewer jewels", "The same watch with the fewest jewels. Is it ill, or is it meant to be so?"),
    ("friction", "Dry balance pivots", "The pivots rub twice as much. In which positions do you see it?"),
    ("torque", "A tired mainspring", "Three tenths of the torque are gone. Which positions lose? Is the run shorter?"),
    ("node", "Where poise hides", "The balance is badly out of poise. Move the torque until all upright positions "
     "rate alike. At what amplitude is that?"),
    ("inertia", "A heavier balance", "The balance has two fifths more inertia. What does it cost, and why might a "
     "maker want it?"),
)  # fmt: skip


def page_html(lesson: Page) -> str:
    """The whole page as one HTML document."""
    folder = resources.files("oscsim.show") / "lesson_page"

    def part(name: str) -> str:
        return (folder / name).read_text("utf-8")

    style, script = part("page.css"), '"use strict";\n' + "\n".join(part(name) for name in _SCRIPTS)
    regulated = ", regulated" if lesson.movement.balance.regulation_s_per_day else " as built"
    filled = {
        "title": html.escape(headline(lesson.design)),
        "style": style,
        "style_hash": _hash(style),
        "script": script,
        "script_hash": _hash(script),
        "sliders": "".join(_SLIDER.format(key=key, label=label) for key, label in LABELS.items()),
        "questions": "".join(
            _QUESTION.format(key=key, title=title, asked=asked) for key, title, asked in QUESTIONS
        ),
        "regulated": regulated,
        "data": _inert(lesson_data(lesson)),
    }
    # in one pass, so that nothing filled in is itself searched for places to fill
    return re.sub(r"\{\{(\w+)\}\}", lambda place: filled[place[1]], part("page.html"))


_SLIDER = """\
      <div class="field" id="field-{key}">
        <label for="slider-{key}"><span>{label}</span> <output id="value-{key}" for="slider-{key}"></output></label>
        <input type="range" id="slider-{key}" aria-describedby="hint-{key}">
        <p class="hint" id="hint-{key}"></p>
      </div>
"""
_QUESTION = """\
    <li>
      <h3>{title}</h3>
      <p>{asked}</p>
      <div class="buttons">
        <button type="button" id="set-{key}">Set the sliders</button>
        <button type="button" id="show-{key}" aria-expanded="false" aria-controls="answer-{key}">Answer</button>
      </div>
      <p class="answer" id="answer-{key}" role="status" hidden></p>
    </li>
"""


def lesson_data(lesson: Page) -> dict[str, Any]:
    """What the page's script works with: plain numbers and text, tables packed as 32-bit numbers in base64."""
    t, m, movement = lesson.tables, lesson.motion, lesson.movement
    b = movement.balance
    story = [printable(line) for line in movement.story.split("\n")]
    if movement.filled:
        story = [*story, sketch_sentence(movement)] if movement.story else [sketch_sentence(movement)]
    return {
        "version": __version__,
        "design_hash": lesson.design_hash,
        "name": printable(movement.name),
        "story": "\n".join(story),
        "sketch": bool(movement.filled),
        "sliders": [vars(s) for s in lesson.sliders],
        "groups": list(GROUPS),
        "tables": {
            "fine": FINE,
            "coarse": COARSE,
            "spans": t.spans,
            "floor": FLOOR,
            "ceiling_deg": round(float(np.degrees(CEILING)), 6),
            "unbalance": t.unbalance_ug_cm,
            "drive": _packed(t.drive),
            "rate": _packed(t.rate),
            "heavy_drive": _packed(t.heavy_drive),
            "heavy_rate": _packed(t.heavy_rate),
            "taken": _packed(t.taken),
        },
        "watch": {
            "beats_per_hour": b.beats_per_hour,
            "positions": [
                {
                    "symbol": p.symbol,
                    "words": p.words,
                    "vertical": bool(np.sin(p.tilt) > 0.5),
                    "hour_up_deg": float(np.degrees(p.hour_up)),
                }
                for p in POSITIONS.values()
            ],
            "friction_radius_um": {"flat": b.end_friction_radius_um, "vertical": b.pivot_radius_mm * 1e3},
            "contact_deg": t.contact_deg,
            "contact_per_lock": t.contact_per_lock,
            "out_of_beat_deg": b.out_of_beat_deg,
            "horn_clearance_deg": movement.escapement.horn_clearance_deg,
            "rate_offset": t.rate_offset,
            "spring": _spring(lesson),
        },
        "mainspring": {
            "torque": _packed(lesson.torque_by_wind),
            "full_turns": lesson.full_turns,
            "hours_per_turn": lesson.hours_per_turn,
        },
        "panels": [panel.to_dict() for panel in lesson.panels],
        "jewels": lesson.jewel_drive,
        "train_efficiency": lesson.train_efficiency,
        "given_nj": lesson.given_j * 1e9,
        "motion": {
            "lock_deg": m.lock_deg,
            "swings": SWINGS,
            "swing_deg": _packed(m.swing_deg),
            "time": _packed(m.time),
            "balance": _packed(m.balance),
            "lever_deg": _packed(m.lever_deg),
            "wheel_deg": _packed(m.wheel_deg),
            "drawing": m.drawing,
        },
        "coil": {
            "angles": lesson.coil.x.shape[1],
            "span_deg": lesson.coil.span_deg,
            "inner_mm": lesson.coil.inner_mm,
            "radius_mm": lesson.coil.radius_mm,
            "x": _packed(lesson.coil.x),
            "y": _packed(lesson.coil.y),
        },
        "detent": _detent(lesson.detent),
        "words": words("en"),
        "error": {
            "points": t.compared,
            "amplitude_deg": rounded_up(t.amplitude_error_deg),
            "rate_s_per_day": rounded_up(t.rate_error_s_per_day),
            "remark": ROUGH if _rough(lesson) else "" if lesson.spring is None else SPRUNG,
        },
    }


def _spring(lesson: Page) -> dict[str, Any] | None:
    """By swing: what the hairspring's side thrust adds to the pivots' friction, a share, and its weight to the rate."""
    s = lesson.spring
    if s is None:
        return None
    return {
        "swing_deg": s.amplitude_deg,
        "added": {
            lie: np.nan_to_num(s.friction_added_percent[where]) / 100.0
            for lie, where in (("flat", "dial up"), ("vertical", "vertical"))
        },
        "rate": s.weight_rate_by_position,
    }


def _detent(m: DetentMotion) -> dict[str, Any]:
    """The detent's settled period, as the page moves it."""
    curves = {name: _packed(getattr(m, name)) for name in ("time", "balance_deg", "detent_deg", "wheel_deg")}
    told = {
        name: getattr(m, name) for name in ("name", "period_s", "swings_deg", "phases", "phase", "drawing")
    }
    return told | curves


def page_text(lesson: Page) -> Sheet:
    """What the sliders move and how good the tables are."""
    rows = [
        [LABELS[s.key], *(_on_design(s, value) for value in (s.low, s.high, s.value)), s.unit or "–"]
        for s in lesson.sliders
    ]
    t = lesson.tables
    held = (
        f"Held against the engine at {t.compared} random settings the tables are off by at most "
        f"{rounded_up(t.amplitude_error_deg):g} deg and {rounded_up(t.rate_error_s_per_day):g} s/day."
    )
    if _rough(lesson):
        held += f" {ROUGH}"
    return sheet(
        f"{headline(lesson.design)}: a lesson with {len(lesson.sliders)} sliders",
        aligned(["Slider", "from", "to", "design", "unit"], rows, left=(0, 4)),
        wrapped(held),
    )


def _rough(lesson: Page) -> bool:
    """Whether the tables are further off than a lesson should be."""
    t = lesson.tables
    return t.amplitude_error_deg > _GOOD_DEG or t.rate_error_s_per_day > _GOOD_RATE


def rounded_up(error: float) -> float:
    """An error to one digit, never made smaller."""
    if not error > 0.0:
        return error
    digit = 10.0 ** math.floor(math.log10(error))
    return round(math.ceil(error / digit) * digit, 12)


def _on_design(slider: Any, value: float) -> str:
    shown = {"per cent": slider.base * value / 100.0, "added": slider.base + value}.get(slider.kind, value)
    return f"{shown:.4g}"


def _packed(values: Array) -> str:
    return base64.b64encode(np.ascontiguousarray(values, "<f4").tobytes()).decode("ascii")


def _inert(values: dict[str, Any]) -> str:
    """JSON that cannot end its script element or begin another: no <, > or & stands in it."""
    text = json.dumps(plain(values), allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _hash(text: str) -> str:
    """What the page's own policy names its style or script by."""
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode("ascii")
