"""The command line: parse, call one answer, show it."""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NoReturn

from oscsim.answers.result import Result
from oscsim.errors import InputError, hint, nearest, shown
from oscsim.files import DEFAULT_DESIGN, bundled, bundled_text, load
from oscsim.setting import Setting
from oscsim.units import POSITIONS
from oscsim.version import __version__

_WRONG = 2
FORMATS = ("text", "csv", "json")


class _Parser(argparse.ArgumentParser):
    """An argument parser whose complaint is one line."""

    def error(self, message: str) -> NoReturn:
        raise InputError(message)

    def parse_known_args(self, args=None, namespace=None):  # type: ignore[no-untyped-def]
        """As argparse does, but an option nobody knows brings the nearest spelling."""
        options, rest = super().parse_known_args(args, namespace)
        for word in rest:
            if word.startswith("--"):
                name = word.split("=")[0]
                raise InputError(f"{name}: unknown option; {nearest(name, self._option_string_actions)}")
        return options, rest


def _number(text: str) -> float | str:
    """A number; other text goes on to the check that knows the unit and the range."""
    try:
        return float(text)
    except ValueError:
        return text


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="oscsim",
        description="Amplitude and rate of a mechanical watch from the physics of its balance and escapement.",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"oscsim {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", parser_class=_Parser)

    settle = commands.add_parser(
        "settle",
        help="settled amplitude, rate and beat error by position and hour",
        epilog="example: oscsim settle dockhand --positions CH 12H --hours 0 24",
        allow_abbrev=False,
    )
    _add_design(settle)
    _add_positions(settle, "CH 12H")
    settle.add_argument(
        "--hours", nargs="+", type=_number, metavar="H", help="hours since full wind (default: 0 24)"
    )
    settle.add_argument(
        "--turns", nargs="+", type=_number, metavar="N", help="turns wound, in place of hours"
    )
    settle.add_argument(
        "--lift-angle", type=_number, metavar="DEG", help="lift angle the instrument is told, deg"
    )
    _add_output(settle)
    settle.set_defaults(run=_settle)

    rundown = commands.add_parser(
        "rundown",
        help="amplitude and rate against hours until the stop",
        epilog="example: oscsim rundown dockhand --plot rundown.png",
        allow_abbrev=False,
    )
    _add_design(rundown)
    _add_positions(rundown, "all six")
    rundown.add_argument(
        "--step", type=_number, default=1.0, metavar="H", help="hours between points (default: 1)"
    )
    rundown.add_argument("--plot", type=Path, metavar="FILE", help="write a picture: .png, .svg or .pdf")
    _add_output(rundown)
    rundown.set_defaults(run=_rundown)

    designs = commands.add_parser(
        "designs",
        help="list the bundled designs, or print one to be copied and edited",
        epilog="example: oscsim designs dockhand > mine.toml",
        allow_abbrev=False,
    )
    designs.add_argument("name", nargs="?", help="print this design's file")
    designs.set_defaults(run=_designs)
    return parser


def _add_design(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "design", nargs="?", default=DEFAULT_DESIGN, metavar="DESIGN",
        help=f"a design file, or the name of a bundled design (default: {DEFAULT_DESIGN})",
    )  # fmt: skip


def _add_positions(parser: argparse.ArgumentParser, default: str) -> None:
    parser.add_argument(
        "--positions", nargs="+", metavar="POS",
        help=f"{' '.join(POSITIONS)} (ISO 3158) or plain words such as 'dial up' (default: {default})",
    )  # fmt: skip
    parser.add_argument("--tilt", type=_number, metavar="DEG", help="tilt of the dial from horizontal, deg")


def _add_output(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--format", default="text", metavar="|".join(FORMATS), help="output format (default: text)"
    )


def _settle(options: argparse.Namespace) -> str:
    from oscsim.answers.settled import settle

    if options.hours and options.turns:
        raise InputError("--hours, --turns: give one of the two, not both")
    setting = Setting(
        positions=options.positions or ("CH", "12H"),
        hours=options.hours or ((0.0,) if options.turns else (0.0, 24.0)),
        turns=options.turns,
        tilt_deg=options.tilt,
        lift_angle_deg=options.lift_angle,
    )
    return _formatted(settle(load(options.design), setting), options.format)


def _rundown(options: argparse.Namespace) -> str:
    from oscsim.answers.rundown import run_down

    if options.plot is not None:
        from oscsim.show.plots import check_picture_name

        check_picture_name(options.plot)
    setting = Setting(positions=options.positions or tuple(POSITIONS), tilt_deg=options.tilt)
    answer = run_down(load(options.design), setting, step_h=options.step)
    text = _formatted(answer, options.format)
    if options.plot is not None:
        from oscsim.show.plots import run_down_figure, save_figure

        save_figure(run_down_figure(answer), options.plot)
    return text


def _designs(options: argparse.Namespace) -> str:
    if options.name is not None:
        return bundled_text(options.name)
    lines = []
    for name in bundled():
        movement = load(name)
        mark = " (used when no design is named)" if name == DEFAULT_DESIGN else ""
        lines.append(f"{name}{mark}\n    {movement.name}. {movement.story.split('. ')[0].rstrip('.')}.")
    return "\n".join([*lines, "", "oscsim designs NAME prints a design's file, to be copied and edited."])


def _formatted(answer: Result, form: str) -> str:
    shapes: dict[str, Callable[[], str]] = {"text": answer.text, "csv": answer.to_csv, "json": answer.to_json}
    return shapes[form]()


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; returns the exit code: 0, or 2 for input that cannot be used."""
    try:
        parser = _parser()
        options = parser.parse_args(arguments)
        if options.command is None:
            parser.print_help()
            return 0
        form = getattr(options, "format", "text")
        if form not in FORMATS:
            raise InputError(
                f"--format {shown(form)}: must be one of {', '.join(FORMATS)}{hint(form, FORMATS)}"
            )
        text: str = options.run(options)
    except InputError as error:
        print(f"oscsim: {error}", file=sys.stderr)
        return _WRONG
    return _write(text if text.endswith("\n") else text + "\n")


def _write(text: str) -> int:
    """Text to standard output; returns the exit code."""
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
        return 0
    except UnicodeEncodeError as error:
        problem = f"cannot show {error.object[error.start]!a} in {error.encoding}; set PYTHONIOENCODING=utf-8"
    except OSError as error:
        problem = f"cannot be written: {error.strerror or error}"
        with contextlib.suppress(OSError, ValueError):  # or Python complains of the rest when it ends
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if isinstance(error, BrokenPipeError):  # the reader, such as head, has seen enough
            return 0
    print(f"oscsim: standard output: {problem}", file=sys.stderr)
    return _WRONG
