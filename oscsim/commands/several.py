"""Several designs at once: names and patterns in, one answer each, told apart in every format."""

from __future__ import annotations

import argparse
import glob
import os
from collections.abc import Callable, Sequence
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from oscsim.commands.options import answered, check_picture, save_picture, save_together
from oscsim.designs import DEFAULT_DESIGN, bundled
from oscsim.errors import InputError, shown
from oscsim.output import csv_text, json_text
from oscsim.text.terminal import printed

if TYPE_CHECKING:
    from oscsim.answers.result import Result

#: A bracket alone is taken for a part of a name.
_PATTERN = "*?"
_RULE = "-" * 79


def add_designs(parser: argparse.ArgumentParser, default: str = DEFAULT_DESIGN) -> None:
    """Any number of designs, none for the default one."""
    parser.add_argument(
        "designs", nargs="*", default=[default], metavar="DESIGN",
        help="design files, names of bundled designs, or patterns such as 'movements/*.toml' "
        f"(default: {default})",
    )  # fmt: skip


def add_together(parser: argparse.ArgumentParser) -> None:
    """One picture of all designs, beside the one of each."""
    parser.add_argument(
        "--together",
        type=Path,
        metavar="FILE",
        help="write one picture of all the designs: .png, .svg or .pdf",
    )


def expanded(words: Sequence[str]) -> list[str]:
    """The designs that names and patterns stand for, each once; raises InputError for a pattern without any.

    A pattern means files, or where none match, bundled designs.
    """
    found: dict[str, None] = {}
    for word in words:
        if not any(sign in word for sign in _PATTERN) or os.path.exists(word):
            found[word] = None
            continue
        files = sorted(name for name in glob.glob(word, recursive=True) if not os.path.isdir(name))
        files = files or [name for name in bundled() if fnmatchcase(name, word)]
        if not files:
            raise InputError(f"designs {shown(word)}: no file and no bundled design matches this pattern")
        found |= dict.fromkeys(files)
    return list(found)


def answered_each(options: argparse.Namespace, ask: Callable[[str], Result]) -> str:
    """The text of one answer for each of ``options.designs``; one design answers as if it were asked alone.

    Several: texts one below the other, JSON a list, CSV with a first column ``design``, a picture for each, the
    design's name put into the name given. All are computed before anything is written. Raises InputError.
    """
    designs = expanded(options.designs)
    together: Path | None = getattr(options, "together", None)
    if together is not None:
        check_picture(together)
    if len(designs) == 1:
        ask = cache(ask)
        text = answered(options, lambda: ask(designs[0]))
        if together is not None:
            save_together([ask(designs[0])], together)
        return text
    pictures = _pictures(options, designs)
    answers = {design: _named(design, ask) for design in designs}
    if together is not None:
        save_together(list(answers.values()), together)
    for design, path in pictures.items():
        save_picture(answers[design], path)
    if options.format == "json":
        return json_text([answer.to_dict() for answer in answers.values()])
    if options.format == "csv":
        return csv_of(answers)
    return f"\n\n{_RULE}\n\n".join(printed(answer.sheet()) for answer in answers.values())


def _named(design: str, ask: Callable[[str], Result]) -> Result:
    """The answer; a complaint names the design it is about."""
    try:
        return ask(design)
    except InputError as error:
        said = str(error)
        raise InputError(said if design in said else f"{design}: {said}") from None


def _pictures(options: argparse.Namespace, designs: Sequence[str]) -> dict[str, Path]:
    """Where the picture of each design goes; raises InputError when two would share a name."""
    path: Path | None = getattr(options, "plot", None)
    if path is None:
        return {}
    check_picture(path)
    found = {design: path.with_name(f"{path.stem}-{Path(design).stem}{path.suffix}") for design in designs}
    if len(set(found.values())) < len(found):
        raise InputError(f"--plot {path}: two of the designs have the same file name, draw them one by one")
    return found


def csv_of(answers: dict[str, Result]) -> str:
    """The rows of all answers as CSV, headings together, the design first."""
    rows = [{"design": design} | row for design, answer in answers.items() for row in answer.rows()]
    return csv_text(rows)
