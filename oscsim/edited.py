"""A design file with some numbers changed and all else left as it stands: comments, order, blank lines, sources."""

from __future__ import annotations

import re
from collections.abc import Mapping

from oscsim.errors import InputError
from oscsim.files import dumps, loads
from oscsim.movement import Movement

_KEY = re.compile(r"^(\s*)([A-Za-z0-9_]+)(\s*=\s*)([^#\n]*?)(\s*(?:#.*)?)$")
_TABLE = re.compile(r"^\s*\[([A-Za-z0-9_.]+)\]\s*(?:#.*)?$")


def edited(text: str, movement: Movement, names: list[str]) -> str:
    """The text of a design file with the numbers ``names`` as ``movement`` has them, its ``filled`` and ``[fitted]``
    too.

    What the text's layout does not allow (inline or dotted tables) is written anew, without its comments. Raises
    InputError for a text that is no design file.
    """
    loads(text)
    try:
        changed = _changed(text, movement, names)
        if loads(changed) == movement:
            return changed
    except InputError:
        pass
    return dumps(movement)


def _changed(text: str, movement: Movement, names: list[str]) -> str:
    tables = movement.tables()
    wanted = {name: _at(tables, name) for name in names}
    kept: list[str] = []
    table, in_filled, skipping = "", False, False
    ends: dict[str, int] = {}
    for line in text.rstrip("\n").split("\n"):
        if header := _TABLE.match(line):
            table = header[1]
            skipping = table == "fitted" or table.startswith("fitted.")
        if skipping:
            continue
        if in_filled or re.match(r"^\s*filled\s*=", line):
            in_filled = "]" not in line
            line = _filled(line, movement)
            if not line.strip():
                continue
        elif (found := _KEY.match(line)) and (name := f"{table}.{found[2]}") in wanted:
            line = f"{found[1]}{found[2]}{found[3]}{wanted.pop(name)!r}{found[5]}"
        kept.append(line)
        if line.strip():
            ends[table] = len(kept)
    # numbers that stood there by their default go to the end of their table
    for name, value in sorted(wanted.items(), key=lambda item: -ends.get(item[0].rsplit(".", 1)[0], 0)):
        where, key = name.rsplit(".", 1)
        kept.insert(ends.get(where, len(kept)), f"{key} = {value!r}")
    while kept and not kept[-1].strip():
        kept.pop()
    return "\n".join([*kept, *_fitted(movement)]) + "\n"


def _at(tables: Mapping[str, object], name: str) -> float:
    value: object = tables
    for step in name.split("."):
        assert isinstance(value, Mapping)
        value = value[step]
    assert isinstance(value, int | float)
    return value


def _filled(line: str, movement: Movement) -> str:
    """A line of the list of filled names without those that are filled no more."""
    return re.sub(r'\s*"([^"]+)"\s*,?', lambda found: found[0] if found[1] in movement.filled else "", line)


def _fitted(movement: Movement) -> list[str]:
    lines: list[str] = []
    before = ""
    for name, sd in movement.fitted:
        table, key = name.rsplit(".", 1)
        if table != before:
            if not lines:
                lines += [
                    "",
                    "# Standard deviations of the numbers that were fitted to readings, in their units.",
                ]
            lines += ["", f"[fitted.{table}]"] if before else [f"[fitted.{table}]"]
            before = table
        lines.append(f"{key} = {sd!r}")
    return lines
