"""TOML files, read in one way everywhere: small, data only, and refused in one line that names the place."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from oscsim.errors import InputError, shown
from oscsim.whole import read_text

#: Dots in one line: a run of dotted keys this long is nothing a file needs, and the time to read it goes as its square.
_DOTS = 1000
_PLACE = re.compile(r"^(.*) \(at (?:line (\d+), column \d+|end of document)\)$", re.DOTALL)
#: What is often wrong with a line, told by how its value looks.
_OFTEN = (
    (re.compile(r"=\s*[+-]?\d+,\d+\s*(#|$)"), "a decimal comma, write a point"),
    (re.compile(r"=\s*[+-]?[\d.]+\s*[a-zA-Zµ°%]"), "a number with its unit, which belongs in the key alone"),
    (re.compile(r"=\s*(?!true|false|inf|nan)[^\W\d]"), "words stand in quotation marks"),
    (re.compile(r"=\s*(\"[^\"]*|'[^']*)$"), "a quotation mark is missing at the end"),
    (re.compile(r"=\s*(#|$)"), "no value after the ="),
    (re.compile(r"^[^=\[#]+$"), "a line is a key, = and a value"),
)


def tables_of(text: str) -> dict[str, Any]:
    """The tables in the text of a TOML file; raises InputError for what is none, or too deep to be of use."""
    lines = text.split("\n")
    try:
        if any(line.count(".") > _DOTS for line in lines):
            raise RecursionError
        return tomllib.loads(text)
    except RecursionError:
        raise InputError("nested too deeply to be of use") from None
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"not TOML: {_where(str(error), lines)}") from None
    except ValueError:  # of int(): tomllib lets it through
        raise InputError("a number has thousands of digits") from None


def read_tables(path: Path, kind: str) -> dict[str, Any]:
    """The tables in a TOML file; ``kind`` says in messages what it should be. Raises InputError, the path in front."""
    text = read_text(path, kind)
    try:
        return tables_of(text)
    except InputError as error:
        raise InputError(f"{path}: {error}") from None


def _where(said: str, lines: list[str]) -> str:
    """What tomllib says, with the line itself and what is often the matter with such a line."""
    found = _PLACE.match(said)
    if found is None or found[2] is None:
        return said
    line = lines[int(found[2]) - 1].strip()
    often = next((f"; {words}" for look, words in _OFTEN if look.search(line)), "")
    return f"{found[1]} in line {found[2]}, {shown(line)}{often}"
