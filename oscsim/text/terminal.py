"""Colour on a terminal: emphasis only, never the sole bearer of a meaning, and none where NO_COLOR is set."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING, TextIO

if TYPE_CHECKING:
    from oscsim.text.sheet import Part

_WRONG, _PLAIN = "\033[1;31m", "\033[0m"


def coloured(stream: TextIO) -> bool:
    """Whether the stream is a terminal that shows colour, and nobody has set NO_COLOR (to anything but nothing)."""
    return stream.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def printed(part: Part) -> str:
    """The text as standard output shows it."""
    return part.ansi() if coloured(sys.stdout) else part.plain()


def complaint(stream: TextIO) -> str:
    """What a line of complaint begins with."""
    return f"{_WRONG}oscsim:{_PLAIN}" if coloured(stream) else "oscsim:"
