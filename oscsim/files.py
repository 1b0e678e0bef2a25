"""Design files: TOML in, a checked Movement out, and back. Files are data: nothing in them is ever run."""

from __future__ import annotations

import inspect
import json
import os
from collections.abc import Callable, Iterator, Sequence
from functools import wraps
from numbers import Integral
from pathlib import Path
from typing import Any, Concatenate, ParamSpec, TypeAlias, TypeVar, cast

from oscsim.designs import bundled, bundled_text
from oscsim.errors import InputError, nearest, shown
from oscsim.movement import Movement, movement_from
from oscsim.parts.train import Arbors
from oscsim.tables import to_table
from oscsim.toml import tables_of
from oscsim.whole import check_size, read_text, write_whole

P = ParamSpec("P")
R = TypeVar("R")
#: Wherever a movement is taken: itself, the path of a design file, or the name of a bundled design.
Design: TypeAlias = Movement | str | os.PathLike[str]
_DESIGN = "a design file"


def load(design: str | os.PathLike[str]) -> Movement:
    """The movement in a design file, given by path or by the name of a bundled design.

    Raises InputError when there is no such file or it does not describe a movement; the message names the key,
    its value, unit and allowed range.
    """
    text, source = text_of(design)
    return loads(text, source)


def text_of(design: str | os.PathLike[str]) -> tuple[str, str]:
    """The text of a design file, given by path or by the name of a bundled design, and what messages call it; raises
    InputError when there is no such file."""
    path = Path(design)
    if (
        not os.path.exists(path)
        and isinstance(design, str)
        and path.suffix != ".toml"
        and path.name == design
    ):
        return bundled_text(design), f"bundled design {design}"
    return read_design(path), str(path)


def movement_of(design: Design) -> Movement:
    """The movement itself, or the one that ``load`` finds by path or name; raises InputError."""
    if isinstance(design, Movement):
        return design
    if isinstance(design, str | os.PathLike):
        return load(design)
    raise InputError(
        f"design {shown(design)}: must be a movement, a design file, or the name of a bundled design"
    )


def movements_of(designs: Design | Sequence[Design]) -> tuple[Movement, ...]:
    """The movements of several designs, or of one alone; raises InputError."""
    alone = isinstance(designs, Movement | str | os.PathLike)
    return tuple(movement_of(one) for one in ([designs] if alone else designs))  # type: ignore[union-attr,arg-type]


def takes_design(function: Callable[Concatenate[Movement, P], R]) -> Callable[Concatenate[Design, P], R]:
    """Lets a function whose first argument is a movement take the path or the name of a design as well."""

    @wraps(function)
    def taking(movement: Design, *args: P.args, **kwargs: P.kwargs) -> R:
        return function(movement_of(movement), *args, **kwargs)

    told = inspect.signature(function)
    first, *others = told.parameters.values()
    taking.__signature__ = told.replace(parameters=[first.replace(annotation=Design), *others])  # type: ignore[attr-defined]
    return cast("Callable[Concatenate[Design, P], R]", taking)


def loads(text: str, source: str = "design") -> Movement:
    """The movement in the text of a design file; ``source`` names it in messages. Raises InputError."""
    try:
        tables = tables_of(text)
    except InputError as error:
        raise InputError(f"{source}: {error}") from None
    if not tables:
        raise InputError(
            f"{source}: empty, a design file needs name and the tables [balance], [escapement] …"
        )
    try:
        return movement_from(tables)
    except InputError as error:
        raise InputError(f"{source}: {error}") from None


def read_design(path: Path) -> str:
    """The text of a design file, not yet understood; raises InputError in one line."""
    near = nearest(path.name, bundled())
    return read_text(path, _DESIGN, absent=f"no such file, and no bundled design of that name; {near}")


def dumps(movement: Movement) -> str:
    """The text of a design file that ``loads`` turns into an equal movement.

    Raises InputError when an arbor has fewer radii than the standard one: a file can change a radius, not
    take it away.
    """
    tables = movement.tables()
    standard = to_table(Arbors())
    own = {name: radii for name, radii in tables["train"]["arbors"].items() if radii != standard[name]}
    for name, radii in own.items():
        for key in standard[name].keys() - radii.keys():
            raise InputError(f"train.arbors.{name}.{key}: missing, and a design file cannot say so")
    tables["train"].pop("arbors")
    if movement.train.wheel_teeth is not None:  # what follows is not stated a second time
        del tables["train"]["ratio"], tables["train"]["meshes"]
    if own:
        tables["train"]["arbors"] = own
    return toml_text(tables)


def toml_text(tables: dict[str, Any]) -> str:
    """Nested tables as the text of a TOML file."""
    return "\n".join(_lines(tables, "")).lstrip("\n") + "\n"


def _lines(table: dict[str, Any], path: str) -> Iterator[str]:
    """A table's own keys first, then its inner tables, as TOML requires."""
    for key, value in table.items():
        if not isinstance(value, dict):
            yield f"{key} = {_toml(value)}"
    for key, value in table.items():
        if isinstance(value, dict):
            name = f"{path}.{key}" if path else key
            if not value or any(not isinstance(inner, dict) for inner in value.values()):
                yield f"\n[{name}]"
            yield from _lines(value, name)


def _toml(value: Any) -> str:
    if isinstance(value, tuple):
        return f"[{', '.join(_toml(inner) for inner in value)}]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_toml(inner)}" for key, inner in value.items()) + " }"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return "\n".join(["[", *(f"    {_toml(inner)}," for inner in value), "]"])
    if isinstance(value, str):
        # JSON strings are TOML strings, but for the one control character that JSON leaves alone
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return repr(int(value)) if isinstance(value, Integral) else repr(float(value))


def save(movement: Movement, path: str | os.PathLike[str]) -> None:
    """Write the movement as a design file, whole or not at all; raises InputError when it cannot be written."""
    try:
        content = dumps(movement).encode()
    except UnicodeEncodeError as error:
        raise InputError(
            f"{path}: cannot be written: {shown(error.object[error.start])} is no character"
        ) from None
    check_size(Path(path), len(content), _DESIGN)
    write_whole(Path(path), content)
