"""Text that remembers what it is made of, so that one layout serves the terminal and the notebook.

All three are plain text wherever text is wanted; ``oscsim.text.rich`` makes HTML of their parts.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

#: Sentences are broken into lines of this width.
_WIDTH = 100


class Table(str):
    """A table as text, with its caption (may be empty), the heads of all columns, and the lines, each beginning with
    the row's own heading; ``left``: columns of words, set to the left."""

    caption: str
    heads: tuple[str, ...]
    lines: tuple[tuple[str, ...], ...]
    left: tuple[int, ...]

    def __new__(
        cls,
        text: str,
        caption: str,
        heads: Sequence[str],
        lines: Sequence[Sequence[str]],
        left: Sequence[int] = (0,),
    ) -> Table:
        """``text`` is how it looks on a terminal."""
        self = super().__new__(cls, text)
        self.caption, self.heads, self.left = caption, tuple(heads), tuple(left)
        self.lines = tuple(tuple(line) for line in lines)
        return self


class Prose(str):
    """Sentences broken into lines; ``sentence`` has them unbroken."""

    sentence: str

    def __new__(cls, sentence: str) -> Prose:
        """The sentences as they come."""
        self = super().__new__(cls, "\n".join(textwrap.wrap(sentence, _WIDTH)))
        self.sentence = sentence
        return self


class Sheet(str):
    """Parts one below another, each text of any kind."""

    parts: tuple[str, ...]

    def __new__(cls, parts: Sequence[str], between: str = "\n\n") -> Sheet:
        """``between`` stands between the parts on a terminal: an empty line, or the end of a line."""
        self = super().__new__(cls, between.join(parts))
        self.parts = tuple(parts)
        return self


def sheet(*parts: str) -> Sheet:
    """Parts with an empty line between them; the first is the heading of the whole."""
    return Sheet(parts)


def close(*parts: str) -> Sheet:
    """Parts that follow each other line by line."""
    return Sheet(parts, "\n")
