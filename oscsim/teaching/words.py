"""The one table of words for the lesson page, each in every language of the page."""

from __future__ import annotations

from oscsim.teaching.words_works import CONTROLS, PARTS, PHASES, Row

LANGUAGES = ("en", "de", "fr")
_TABLE: dict[str, Row] = CONTROLS | PARTS | PHASES


def words(language: str) -> dict[str, str]:
    """Every text of the table in one language."""
    column = LANGUAGES.index(language)
    return {key: row[column] for key, row in _TABLE.items()}
