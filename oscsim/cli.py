"""The command line: parse, run one command, print its text."""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
from collections.abc import Iterable, Sequence
from importlib import import_module

from oscsim.commands import COMMANDS
from oscsim.commands.options import FORMATS, Parser
from oscsim.errors import InputError, hint, nearest, shown
from oscsim.text.terminal import complaint
from oscsim.version import __version__

_WRONG, _INTERRUPTED = 2, 130
_EPILOG = """\
example: oscsim settle dockhand --positions CH 12H --hours 0 24
         oscsim COMMAND --help explains one command, with an example

exit codes: 0    done; for check: all files are valid designs
            2    input that cannot be used, or something cannot be written; one line says what
            130  interrupted by Ctrl-C; no file is left half written
environment: NO_COLOR set to anything: no colour on a terminal either
"""


def _parser(wanted: Iterable[str]) -> Parser:
    """The parser; of the commands only those wanted are loaded, of the others their names and lines are known."""
    parser = Parser(
        prog="oscsim",
        description="Amplitude and rate of a mechanical watch from the physics of its balance and escapement.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"oscsim {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", parser_class=Parser)
    for name, line in COMMANDS.items():
        if name in wanted:
            import_module(f"oscsim.commands.{name}").register(commands)
        else:
            commands.add_parser(name, help=line)
    return parser


def _wanted(arguments: Sequence[str]) -> Iterable[str]:
    """The command that is to run; all of them where the shell's script is wanted. Raises InputError for no command."""
    first = next((word for word in arguments if not word.startswith("-")), None)
    if first is not None and first not in COMMANDS:
        raise InputError(f"command {shown(first)}: unknown; {nearest(first, COMMANDS)}")
    return COMMANDS if first == "completion" else [first] if first is not None else []


def parser_of_all() -> dict[str, argparse.ArgumentParser]:
    """The parser of every command, by name, in the order of the help."""
    found = [action.choices for action in _parser(COMMANDS)._actions if isinstance(action.choices, dict)]
    return dict(found[0])


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; returns the exit code: 0, 2 for input that cannot be used, 130 after Ctrl-C."""
    try:
        return _run(arguments)
    except KeyboardInterrupt:  # a progress line may stand open on a terminal
        print("\n" * sys.stderr.isatty() + "oscsim: interrupted", file=sys.stderr)
        return _INTERRUPTED


def _run(arguments: Sequence[str] | None) -> int:
    try:
        arguments = sys.argv[1:] if arguments is None else arguments
        parser = _parser(_wanted(arguments))
        options = parser.parse_args(arguments)
        if options.command is None:
            parser.print_help()
            return 0
        form = getattr(options, "format", "text")
        if form not in FORMATS:
            raise InputError(
                f"--format {shown(form)}: must be one of {', '.join(FORMATS)}{hint(form, FORMATS)}"
            )
        outcome: str | tuple[str, int] = options.run(options)
        text, code = (outcome, 0) if isinstance(outcome, str) else outcome
    except InputError as error:
        print(f"{complaint(sys.stderr)} {error}", file=sys.stderr)
        return _WRONG
    return _write(text if text.endswith("\n") else text + "\n") or code


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
