"""The one table of words for the lesson page, each in every language of the page."""

from __future__ import annotations

import re

from oscsim.errors import InputError
from oscsim.teaching.words_page import PAGE, SLIDERS
from oscsim.teaching.words_panels import BREATHING, CHOICE, COIL, DAY, ESCAPEMENTS
from oscsim.teaching.words_questions import ASKED
from oscsim.teaching.words_results import RESULTS
from oscsim.teaching.words_works import CONTROLS, LANGUAGES, PARTS, PHASES, Row

TABLE: dict[str, Row] = (
    PAGE
    | SLIDERS
    | RESULTS
    | ASKED
    | CONTROLS
    | PARTS
    | PHASES
    | CHOICE
    | DAY
    | COIL
    | BREATHING
    | ESCAPEMENTS
)
#: Signs before which French leaves a space that does not break, narrow before all but the colon.
_COLON, _NARROW = (re.compile(rf"(?<=\w|»|\}}|°|\)) ?(?=[{signs}](?:\s|$))") for signs in (":", ";?!"))
#: A space between a number and its unit, which German and French do not break.
_UNIT = re.compile(r"(?<=[\d}]) (?=(?:%|s/d|s/j|s/day|nJ|h)(?!\w))")


class Words:
    """Every text of the page in one language; raises InputError for one that it has not."""

    def __init__(self, language: str = "en") -> None:
        if language not in LANGUAGES:
            raise InputError(f"language = {language!r}: must be one of {', '.join(LANGUAGES)}")
        self.language = language
        column = LANGUAGES.index(language)
        texts = {key: row[column] for key, row in TABLE.items()}
        if language != "en":
            texts = {key: _UNIT.sub("\u00a0", text) for key, text in texts.items()}
        if language == "fr":
            texts = {key: _spaced(text) for key, text in texts.items()}
        self.texts = texts

    def __call__(self, key: str, **values: object) -> str:
        """A text with values put where it has {names}; numbers come as ``number`` tells them."""
        return self.texts[key].format(**values)

    def number(self, told: str) -> str:
        """A number as it is written in this language."""
        return told.replace(".", self.texts["decimal"])


def _spaced(text: str) -> str:
    """A French text with the spaces that its signs ask for."""
    text = _NARROW.sub("\u202f", _COLON.sub("\u00a0", text))
    return text.replace("« ", "«\u00a0").replace(" »", "\u00a0»")
