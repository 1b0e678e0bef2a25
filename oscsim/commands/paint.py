"""Colour on a terminal: emphasis only, never the sole bearer of a meaning, and none where NO_COLOR is set."""

from __future__ import annotations

import os
import re
from typing import TextIO

_BOLD, _WARN, _WRONG, _PLAIN = "\033[1m", "\033[33m", "\033[1;31m", "\033[0m"
#: The heading of an answer: the first line, and the first after a rule.
_HEADING = re.compile(r"(\A|\n-{79}\n\n)([^\n]+)")
#: Words in tables that say that something is not as it should be.
_CELLS = re.compile(
    r"(?:(?<=  )|(?<=\d ))(stops|knocks|wanders|unusual|outside|(?:low|high) by \d+ \S+)(?=  | ?$)",
    re.MULTILINE,
)


def wanted(stream: TextIO) -> bool:
    """Whether the stream is a terminal that shows colour, and nobody has set NO_COLOR (to anything but nothing)."""
    return stream.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def painted(text: str) -> str:
    """The text with its headings in bold and the words that warn in yellow."""
    text = _HEADING.sub(rf"\1{_BOLD}\2{_PLAIN}", text)
    return _CELLS.sub(rf"{_WARN}\1{_PLAIN}", text)


def complaint(stream: TextIO) -> str:
    """What a line of complaint begins with."""
    return f"{_WRONG}oscsim:{_PLAIN}" if wanted(stream) else "oscsim:"
