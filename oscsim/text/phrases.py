"""Phrases that sentences of any answer are made of."""

from __future__ import annotations

from collections.abc import Sequence


def listed(words: Sequence[str], joint: str = "and") -> str:
    """Words in a row: a, b and c."""
    return f" {joint} ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)


def share(chance: float | None) -> str:
    """A chance in per cent, never 0 or 100; a dash where nothing was read of it."""
    if chance is None:
        return "–"
    return "under 1 %" if chance < 0.01 else "over 99 %" if chance > 0.99 else f"{100.0 * chance:.0f} %"
