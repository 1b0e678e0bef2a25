"""A result as HTML for a notebook: the same tables and sentences as its text, every word escaped."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from html import escape
from typing import Any

from oscsim.text.sheet import Prose, Sheet, Table

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
_ITEM = "- "
_SHORT = 80
_ROW = ' scope="row"'


def html_of(text: str, origin: Mapping[str, Any]) -> str:
    """HTML of a result's text, with its origin folded away at the end."""
    head, *parts = text.parts if isinstance(text, Sheet) else (text,)
    heading = head.sentence if isinstance(head, Prose) else head
    title = f"<strong>{escape(heading)}</strong>" if parts else _lines(heading)
    body = "\n".join(_blocks(parts))
    return f'<div class="oscsim">{_STYLE}\n<p>{title}</p>\n{body}\n{_origin(origin)}\n</div>'


def _blocks(parts: Sequence[str]) -> Iterator[str]:
    """HTML of each part; sentences that are items of a list become one list."""
    items: list[str] = []
    for part in parts:
        if isinstance(part, Prose) and part.sentence.startswith(_ITEM):
            items.append(f"<li>{escape(part.sentence.removeprefix(_ITEM))}</li>")
            continue
        if items:
            yield f"<ul>{''.join(items)}</ul>"
            items = []
        if isinstance(part, Sheet):
            yield from _blocks(part.parts)
        elif isinstance(part, Table):
            yield _table(part)
        elif isinstance(part, Prose):
            yield f"<p>{escape(part.sentence)}</p>"
        elif part:
            yield f"<p>{_lines(part)}</p>"
    if items:
        yield f"<ul>{''.join(items)}</ul>"


def _lines(text: str) -> str:
    return f'<span class="lines">{escape(text)}</span>'


def _table(table: Table) -> str:
    looks = (
        ' class="short"' if len(table.caption) <= _SHORT else ""
    )  # not broken to the width of a narrow table
    caption = f"<caption{looks}>{escape(table.caption)}</caption>" if table.caption else ""
    heads = "".join(_cell("th", head, j in table.left, ' scope="col"') for j, head in enumerate(table.heads))
    body = "\n".join(_row(line, table.left) for line in table.lines)
    inner = f"<thead><tr>{heads}</tr></thead>\n<tbody>\n{body}\n</tbody>"
    return f'<div class="wide"><table>{caption}{inner}</table></div>'


def _row(line: Sequence[str], left: Sequence[int]) -> str:
    first, *cells = line
    told = "".join(_cell("td", text, j in left) for j, text in enumerate(cells, 1))
    return f"<tr>{_cell('th', first, 0 in left, _ROW)}{told}</tr>"


def _cell(tag: str, text: str, left: bool, more: str = "") -> str:
    """Numbers and states to the right, words to the left."""
    words = ' class="words"' if left else ""
    return f"<{tag}{more}{words}>{escape(text)}</{tag}>"


def _origin(origin: Mapping[str, Any]) -> str:
    said = f"oscsim {origin['version']}, design {origin['design_hash']}"
    settings = json.dumps(origin["settings"], ensure_ascii=False)
    return (
        f"<details><summary>{escape(said)}, settings</summary>"
        f'<code class="lines">{escape(settings)}</code></details>'
    )
