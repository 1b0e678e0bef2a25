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
from oscsim.answers.hairspring import VERTICAL
from oscsim.arrays import Array
from oscsim.errors import printable
from oscsim.output import plain
from oscsim.show.bench_words import aligned
from oscsim.show.style import headline
from oscsim.show.tables import wrapped
from oscsim.teaching.detent_motion import DetentMotion
from oscsim.teaching.page_motion import SWINGS
from oscsim.teaching.page_tables import CEILING, COARSE, FINE, FLOOR
from oscsim.teaching.words import Words
from oscsim.teaching.words_questions import QUESTIONS
from oscsim.text.sheet import Sheet, sheet
from oscsim.units import POSITIONS
from oscsim.version import __version__

if TYPE_CHECKING:
    from oscsim.teaching.page import Page

#: What a lesson's tables should hold, deg and s/day.
_GOOD_DEG, _GOOD_RATE = 0.5, 0.3
_SCRIPTS = (
    "words.js", "tables.js", "names.js", "coil.js", "escapement.js", "detent.js", "clock.js", "pair.js", "figures.js",
    "panels.js", "lesson.js",
)  # fmt: skip


def page_html(lesson: Page) -> str:
    """The whole page as one HTML document."""
    folder = resources.files("oscsim.show") / "lesson_page"

    def part(name: str) -> str:
        return (folder / name).read_text("utf-8")

    style, script = part("page.css"), '"use strict";\n' + "\n".join(part(name) for name in _SCRIPTS)
    say = Words(lesson.language)
    regulated = say("regulated" if lesson.movement.balance.regulation_s_per_day else "as_built")
    own = {
        "title": say("title", name=headline(lesson.design)),
        "foot_drawn": say("foot_drawn", regulated=regulated),
    }
    texts = {key: html.escape(text) for key, text in (say.texts | own).items()}
    asked = {key: {"heading": texts[f"ask_{key}"], "asked": texts[f"ask_{key}_words"]} for key in QUESTIONS}
    filled = texts | {
        "style": style,
        "style_hash": _hash(style),
        "script": script,
        "script_hash": _hash(script),
        "sliders": "".join(_SLIDER.format(key=s.key, label=texts[f"slider_{s.key}"]) for s in lesson.sliders),
        "questions": "".join(_QUESTION.format(key=key, **words, **texts) for key, words in asked.items()),
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
      <h3>{heading}</h3>
      <p>{asked}</p>
      <div class="buttons">
        <button type="button" id="set-{key}">{set_sliders}</button>
        <button type="button" id="show-{key}" aria-expanded="false" aria-controls="answer-{key}">{answer}</button>
      </div>
      <p class="answer" id="answer-{key}" role="status" hidden></p>
    </li>
"""


def lesson_data(lesson: Page) -> dict[str, Any]:
    """What the page's script works with: plain numbers and text, tables packed as 32-bit numbers in base64."""
    t, m, movement = lesson.tables, lesson.motion, lesson.movement
    b = movement.balance
    say = Words(lesson.language)
    story = [printable(line) for line in movement.story.split("\n")] if movement.story else []
    if movement.filled:
        story.append(say("sketch", name=headline(movement.name), count=len(movement.filled)))
    return {
        "version": __version__,
        "design_hash": lesson.design_hash,
        "name": printable(movement.name),
        "story": "\n".join(story),
        "sketch": bool(movement.filled),
        "sliders": [vars(s) for s in lesson.sliders],
        "groups": [group.replace(" ", "_") for group in GROUPS],
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
                    "words": say(f"position_{p.symbol}"),
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
        "words": say.texts,
        "error": {
            "points": t.compared,
            "amplitude_deg": rounded_up(t.amplitude_error_deg),
            "rate_s_per_day": rounded_up(t.rate_error_s_per_day),
            "remark": say("rough") if _rough(lesson) else "" if lesson.spring is None else say("sprung"),
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
            lie: np.nan_to_num(np.mean([s.friction_added_percent[symbol] for symbol in symbols], axis=0))
            / 100.0
            for lie, symbols in (("flat", ("CH",)), ("vertical", VERTICAL))
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
    say = Words()  # a terminal is told in English
    rows = [
        [say(f"slider_{s.key}"), *(_on_design(s, value) for value in (s.low, s.high, s.value)), s.unit or "–"]
        for s in lesson.sliders
    ]
    t = lesson.tables
    held = (
        f"Held against the engine at {t.compared} random settings the tables are off by at most "
        f"{rounded_up(t.amplitude_error_deg):g} deg and {rounded_up(t.rate_error_s_per_day):g} s/day."
    )
    if _rough(lesson):
        held += f" {say('rough')}"
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
