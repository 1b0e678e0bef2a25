"""A sheet as a notebook shows it: its HTML with a look of its own, and where the numbers come from folded away."""

from __future__ import annotations

import json
from collections.abc import Mapping
from html import escape
from typing import Any

from oscsim.text.sheet import Sheet

#: No colour of its own but a grey that stands on light and dark alike; the rest is the page's.
_STYLE = """<style>
.oscsim { max-width: 60em; }
.oscsim table { border-collapse: collapse; margin: 0.4em 0 1em; font-variant-numeric: tabular-nums; }
.oscsim caption { text-align: left; font-weight: 600; padding: 0.2em 0; color: inherit; caption-side: top; }
.oscsim th, .oscsim td { padding: 0.15em 0.7em; text-align: right; border-bottom: 1px solid #8886; }
.oscsim th, .oscsim td { white-space: nowrap; }
.oscsim caption.short { white-space: nowrap; }
.oscsim tbody th { font-weight: normal; }
.oscsim th.words, .oscsim td.words { text-align: left; }
.oscsim thead th { border-bottom: 2px solid #888a; font-weight: 600; }
.oscsim .wide { overflow-x: auto; }
.oscsim .lines { white-space: pre-wrap; }
.oscsim details { font-size: 85%; }
</style>"""


def notebook_html(sheet: Sheet, origin: Mapping[str, Any]) -> str:
    """HTML of a page of an answer, with its origin folded away at the end."""
    return f'<div class="oscsim">{_STYLE}\n{sheet.html()}\n{_origin(origin)}\n</div>'


def _origin(origin: Mapping[str, Any]) -> str:
    said = f"oscsim {origin['version']}, design {origin['design_hash']}"
    settings = json.dumps(origin["settings"], ensure_ascii=False)
    return (
        f"<details><summary>{escape(said)}, settings</summary>"
        f'<code class="lines">{escape(settings)}</code></details>'
    )
