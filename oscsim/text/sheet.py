"""What a page of an answer is made of, and how a terminal and a notebook show it.

A `Sheet` holds parts: `Heading`, `Table`, `Prose`, `Items`, `Lines` and sheets again. Every part shows itself as
``plain()`` text, with colour for a terminal as ``ansi()``, and as ``html()``. Colour comes from what a part or a cell
means, never from the words in it.
"""

from __future__ import annotations

import textwrap
from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape
from typing import Literal, TypeAlias

#: Sentences are broken into lines of this width; lines of a broken table keep within the other.
_WIDTH, _WIDEST = 100, 118
#: Columns of a broken table in one block, at most.
_COLUMNS = 10
#: Captions up to this many letters are not broken in HTML.
_SHORT = 80

Meaning: TypeAlias = Literal["heading", "warning"]
Paint: TypeAlias = Callable[[str, Meaning], str]
_ANSI: dict[Meaning, str] = {"heading": "\033[1m", "warning": "\033[33m"}
_END = "\033[0m"


def _as_it_is(words: str, meaning: Meaning) -> str:
    return words


def _coloured(words: str, meaning: Meaning) -> str:
    return f"{_ANSI[meaning]}{words}{_END}" if words else words


def _wrapped(sentence: str, first: str = "", rest: str = "") -> list[str]:
    """Lines of a sentence; names with a hyphen, such as those of meshes, stay whole."""
    return textwrap.wrap(
        sentence, _WIDTH, break_on_hyphens=False, initial_indent=first, subsequent_indent=rest
    )


class Part(ABC):
    """A part of a page; ``str()`` of it is its plain text."""

    def plain(self) -> str:
        """Text without colour."""
        return self.text(_as_it_is)

    def ansi(self) -> str:
        """Text with ANSI colours: headings bold, remarks that warn yellow."""
        return self.text(_coloured)

    @abstractmethod
    def text(self, paint: Paint) -> str:
        """Text whose words with a meaning have gone through ``paint``."""

    @abstractmethod
    def html(self) -> str:
        """HTML, every word escaped."""

    def __str__(self) -> str:
        return self.plain()


@dataclass(frozen=True)
class Cell:
    """A cell of a table: a number (may be empty) and a remark behind it that says that something is not as it should
    be, such as a state: '251.0' and 'knocks'."""

    number: str
    remark: str

    def __str__(self) -> str:
        return f"{self.number} {self.remark}".strip()


#: What a cell may be given as: plain words mean nothing beyond themselves.
Words: TypeAlias = str | Cell


@dataclass(frozen=True)
class Heading(Part):
    """The heading of a whole page."""

    sentence: str

    def text(self, paint: Paint) -> str:
        return "\n".join(paint(line, "heading") for line in _wrapped(self.sentence))

    def html(self) -> str:
        return f"<p><strong>{escape(self.sentence)}</strong></p>"


@dataclass(frozen=True)
class Prose(Part):
    """Sentences, broken into lines where a page is narrow."""

    sentence: str

    def text(self, paint: Paint) -> str:
        return "\n".join(_wrapped(self.sentence))

    def html(self) -> str:
        return f"<p>{escape(self.sentence)}</p>"


@dataclass(frozen=True)
class Lines(Part):
    """Lines that stay as they are."""

    words: str

    def text(self, paint: Paint) -> str:
        return self.words

    def html(self) -> str:
        return f'<p><span class="lines">{escape(self.words)}</span></p>' if self.words else ""


@dataclass(frozen=True)
class Items(Part):
    """A list under a title; an empty title is left out."""

    title: str
    items: tuple[str, ...]

    def text(self, paint: Paint) -> str:
        told = ["\n".join(_wrapped(item, "- ", "  ")) for item in self.items]
        return "\n".join([self.title, *told] if self.title else told)

    def html(self) -> str:
        title = f"<p>{escape(self.title)}</p>\n" if self.title else ""
        return f"{title}<ul>{''.join(f'<li>{escape(item)}</li>' for item in self.items)}</ul>"


@dataclass(frozen=True)
class Table(Part):
    """Rows under heads, each row beginning with its own heading; ``left``: columns of words, set to the left, the
    others to the right. even: columns of one width, and too many of them broken into blocks one below the other."""

    caption: str
    heads: tuple[str, ...]
    lines: tuple[tuple[Words, ...], ...]
    left: tuple[int, ...] = (0,)
    even: bool = False

    def text(self, paint: Paint) -> str:
        blocks = [self._block(columns, paint) for columns in self._columns()]
        body = "\n\n".join(blocks)
        return f"{self.caption}\n{body}" if self.caption else body

    def _columns(self) -> list[list[int]]:
        """The columns of each block; the first column is repeated in all."""
        rest = list(range(1, len(self.heads)))
        if not self.even:
            return [[0, *rest]]
        first = max(len(str(line[0])) for line in self.lines)
        widest = max(len(str(line[j])) for line in (self.heads, *self.lines) for j in rest)
        most = max(1, min(_COLUMNS, (_WIDEST - first) // (widest + 2)))
        return [[0, *rest[start : start + most]] for start in range(0, len(rest), most)]

    def _block(self, columns: list[int], paint: Paint) -> str:
        every: list[Sequence[Words]] = [self.heads, *self.lines]
        widths = {j: max(len(str(line[j])) for line in every) for j in columns}
        if self.even:
            widths |= dict.fromkeys(columns[1:], max(widths[j] for j in columns[1:]))
        told = ("  ".join(self._padded(line[j], j, widths[j], paint) for j in columns) for line in every)
        return "\n".join(line.rstrip() for line in told)

    def _padded(self, cell: Words, j: int, width: int, paint: Paint) -> str:
        room = " " * (width - len(str(cell)))
        words = str(cell)
        if isinstance(cell, Cell):
            words = f"{cell.number} {paint(cell.remark, 'warning')}".strip()
        return words + room if j in self.left else room + words

    def html(self) -> str:
        # a short caption is not broken to the width of a narrow table
        looks = ' class="short"' if len(self.caption) <= _SHORT else ""
        caption = f"<caption{looks}>{escape(self.caption)}</caption>" if self.caption else ""
        heads = "".join(self._html_cell("th", head, j, ' scope="col"') for j, head in enumerate(self.heads))
        body = "\n".join(self._html_row(line) for line in self.lines)
        inner = f"<thead><tr>{heads}</tr></thead>\n<tbody>\n{body}\n</tbody>"
        return f'<div class="wide"><table>{caption}{inner}</table></div>'

    def _html_row(self, line: Sequence[Words]) -> str:
        first = self._html_cell("th", line[0], 0, ' scope="row"')
        return (
            f"<tr>{first}{''.join(self._html_cell('td', cell, j) for j, cell in enumerate(line[1:], 1))}</tr>"
        )

    def _html_cell(self, tag: str, cell: Words, j: int, more: str = "") -> str:
        words = ' class="words"' if j in self.left else ""
        return f"<{tag}{more}{words}>{escape(str(cell))}</{tag}>"


@dataclass(frozen=True)
class Sheet(Part):
    """Parts one below another; ``between`` stands between them in text: an empty line, or the end of a line."""

    parts: tuple[Part, ...]
    between: str = "\n\n"

    def text(self, paint: Paint) -> str:
        return self.between.join(part.text(paint) for part in self.parts)

    def html(self) -> str:
        return "\n".join(part.html() for part in self.parts)

    def followed_by(self, *parts: Part) -> Sheet:
        """The sheet with more parts at its end."""
        return Sheet((*self.parts, *parts), self.between)


def sheet(*parts: str | Part) -> Sheet:
    """Parts with an empty line between them; words or sentences that come first are the heading of the whole."""
    told = _parts(parts)
    if told and isinstance(told[0], Prose):
        told = (Heading(told[0].sentence), *told[1:])
    elif told and isinstance(told[0], Lines):
        told = (Heading(told[0].words), *told[1:])
    return Sheet(told)


def close(*parts: str | Part) -> Sheet:
    """Parts that follow each other line by line."""
    return Sheet(_parts(parts), "\n")


def items(title: str, words: Sequence[str]) -> Items:
    """A list under a title."""
    return Items(title, tuple(words))


def _parts(parts: Sequence[str | Part]) -> tuple[Part, ...]:
    return tuple(Lines(part) if isinstance(part, str) else part for part in parts)
