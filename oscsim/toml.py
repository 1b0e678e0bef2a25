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
_PLACE = re.compile(r"^(.*) \(at (?:line (\d+), column (\d+)|end of document)\)$", re.DOTALL)
#: What opens a list, a table in a line or a string of several lines; a line of its own inside a list that is none.
_OPENS = re.compile(r"=\s*(\[|\{|\"{3}|'{3})")
_STATEMENT = re.compile(r"^\s*([^\s=\[\]{},\"'#]+|\"[^\"]*\"|'[^']*')\s*=|^\s*\[[^\],]*[^\W\d][^\],]*\]+\s*$")
#: The next thing in a line, to name it.
_NEXT = re.compile(r"\"[^\"]*\"|'[^']*'|[^\s,\]}#]+")
#: What is often wrong with a line, told by how its value looks.
_OFTEN = (
    (re.compile(r"=\s*[+-]?\d+,\d+\s*(#|$)"), "a decimal comma, write a point"),
    (re.compile(r"=\s*[+-]?[\d.]+\s*[a-zA-Zµ°%]"), "a number with its unit, which belongs in the key alone"),
    (re.compile(r"=\s*(?!true|false|inf|nan)[^\W\d]"), "words stand in quotation marks"),
    (re.compile(r"=\s*(\"[^\"]*|'[^']*)$"), "a quotation mark is missing at the end"),
    (re.compile(r"=\s*\{[^}]*$"), "what is in { } stands in one line"),
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
    if found is None:
        return said
    if found[2] is None:
        return f"{found[1]} at the end of the file{_left_open(lines)}"
    number, column = int(found[2]) - 1, int(found[3]) - 1
    line = lines[number].strip()
    told = f"{found[1]} in line {found[2]}, {shown(line)}"
    if found[1] in ("Unclosed array", "Unclosed inline table"):
        return told + _between(lines, number, column)
    often = next((f"; {words}" for look, words in _OFTEN if look.search(line)), "")
    return told + often


def _between(lines: list[str], number: int, column: int) -> str:
    """What is missing where a list goes on without a comma, or a line of its own begins inside it."""
    rest = lines[number][column:]
    if not lines[number][:column].strip() and _STATEMENT.match(rest):
        return f"; the line is no part of a list{_left_open(lines[:number])}"
    following = _NEXT.match(rest)
    if following is None:
        return f"; a closing bracket is missing{_left_open(lines[: number + 1])}"
    if following[0].startswith(";"):
        return "; values are parted by commas, not by ;"
    return f"; a comma is missing before {shown(following[0])}"


def _left_open(lines: list[str]) -> str:
    """The last line that opens what is to be closed."""
    for number in range(len(lines) - 1, -1, -1):
        if found := _OPENS.search(lines[number]):
            close = {"[": "]", "{": "}"}.get(found[1], found[1])
            return f"; perhaps {close} is missing after line {number + 1}, {shown(lines[number].strip())}"
    return ""
