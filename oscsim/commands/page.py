"""``oscsim page``: a teaching page of one design, for a lesson without the program."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import oscsim
from oscsim.commands.options import (
    Commands,
    add_command,
    add_design,
    add_output,
    add_regulation,
    answered,
    regulated,
)
from oscsim.errors import InputError
from oscsim.teaching.words_works import LANGUAGES

_SUFFIXES = (".html", ".htm")


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "page",
        "page dockhand --regulate -o lesson.html", _run,
    )  # fmt: skip
    add_design(parser)
    parser.add_argument(
        "-o", "--html", type=Path, metavar="FILE", help="the page to be written, ending in .html"
    )
    parser.add_argument(
        "--language", choices=LANGUAGES, default=LANGUAGES[0], help="words of the page (default: en)"
    )
    add_regulation(parser)
    add_output(parser, plot=False)


def _run(options: argparse.Namespace) -> str:
    path: Path | None = options.html
    if path is None:
        raise InputError("-o: missing, give the page's file name, ending in .html")
    if path.suffix.lower() not in _SUFFIXES:
        raise InputError(f"-o {path}: must end in {' or '.join(_SUFFIXES)}")
    told = sys.stderr.isatty()

    def ask() -> oscsim.Page:
        try:
            made = oscsim.page(
                regulated(oscsim.load(options.design), options),
                language=options.language,
                progress=_progress if told else None,
            )
        finally:
            if told:
                sys.stderr.write("\r\033[K")
        made.save(path)
        return made

    text = answered(options, ask)
    if options.format != "text":
        return text
    return f"{text}\n{path}: {path.stat().st_size / 1e6:.2f} MB, opens in any browser, loads nothing"


def _progress(what: str, share: float) -> None:
    """What is being computed, on one line of the terminal."""
    sys.stderr.write(f"\r\033[K{100.0 * share:3.0f} %  {what}")
    sys.stderr.flush()
