"""The one exception for input that cannot be used: a single clear line."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

#: No message is longer than about this, whatever the input.
LONGEST = 800
#: Letters from which a beginning is taken for a name cut short.
_FEWEST = 3


class InputError(ValueError):
    """Input that cannot be used; the message is one line fit to be shown to the user."""

    def __init__(self, message: str) -> None:
        line = printable(message)
        super().__init__(
            line if len(line) <= LONGEST else f"{line[: LONGEST // 2]} … {line[-LONGEST // 2 :]}"
        )


def printable(text: str) -> str:
    """The text on one line; what a terminal would obey instead of showing is written out."""
    line = " ".join(text.split())
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in line)


#: Of more names than this a message shows so many.
_MANY, _SHOWN = 40, 12


def nearest(word: str, known: Iterable[str]) -> str:
    """The clause that helps with a misspelt word: the nearest known spelling, or all of them."""
    names = list(known)
    more = f" and {len(names) - _SHOWN} more" if len(names) > _MANY else ""
    shown_names = names[:_SHOWN] if more else names
    return hint(word, names).removeprefix("; ") or f"known: {', '.join(shown_names)}{more}"


def hint(word: str, known: Iterable[str]) -> str:
    """What follows a list of what is known: the nearest spelling, or nothing."""
    folded = {name.lower(): name for name in known}
    close = _meant(word.lower(), list(folded)) or get_close_matches(
        word.lower(), list(folded), n=1, cutoff=0.6
    )
    return f"; did you mean '{folded[close[0]]}'?" if close else ""


def _meant(word: str, names: list[str]) -> list[str]:
    """The one dotted name that ends in the word, the shortest whose last part begins with it, or the shortest name
    that does: what was cut short."""
    ends = [name for name in names if name.endswith(f".{word}")]
    if len(ends) == 1:
        return ends
    if inside := [name for name in names if f".{word}_" in name]:
        return sorted(inside, key=len)[:1]
    begins = [name for name in names if name.startswith(word)] if len(word.strip("-")) >= _FEWEST else []
    return sorted(begins, key=len)[:1]


def shown(value: object, limit: int = 60) -> str:
    """A value as it appears in a message: on one line, printable, not longer than ``limit``."""
    try:
        text = repr(value)
    except (RecursionError, ValueError):  # nested too deeply, or an integer of thousands of digits
        text = f"({type(value).__name__} too large to show)"
    return clipped(text, limit)


def clipped(text: str, limit: int = 60) -> str:
    """The text, cut off where it is longer than ``limit``."""
    return text if len(text) <= limit else text[: limit - 1] + "…"
