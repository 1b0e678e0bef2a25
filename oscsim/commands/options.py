"""What commands share: the parser, options that several of them take, and how an answer leaves."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TypeAlias

import oscsim
from oscsim.commands import COMMANDS
from oscsim.designs import DEFAULT_DESIGN
from oscsim.errors import InputError, nearest
from oscsim.text.terminal import printed
from oscsim.units import POSITIONS, trade_number

if TYPE_CHECKING:
    from oscsim.answers.result import Result

#: What argparse calls the set of sub-parsers.
Commands: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"
FORMATS = ("text", "csv", "json")
#: What an option is given in, by what its help calls it.
UNITS = {
    "BEATS": "beats/h",
    "C": "°C",
    "DEG": "deg",
    "H": "h",
    "MM": "mm",
    "S": "s",
    "S_PER_DAY": "s/day",
    "UG_CM": "µg·cm",
    "YEARS": "years",
}


class Parser(argparse.ArgumentParser):
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


class _Words(argparse.Action):
    """Words parted by blanks or commas: ``CH 12H`` and ``CH,12H`` are the same."""

    def read(self, word: str) -> float | str:
        """One of them."""
        return word

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: str | Sequence[Any] | None,
        option_string: str | None = None,
    ) -> None:
        words = [word.strip() for value in values or () for word in value.split(",")]
        setattr(namespace, self.dest, [self.read(word) for word in words if word])


def number(text: str, unit: str | None = None) -> float | str:
    """A number, also with its unit behind it as the trade writes it (3Hz, '11.5 lignes', 24h); other text goes on to
    the check that knows the range."""
    try:
        return float(text)
    except ValueError:
        try:
            return text if unit is None else trade_number("", text, unit)
        except InputError:
            return text


def number_in(unit: str | None) -> Callable[[str], float | str]:
    """``number`` of that unit."""
    return lambda text: number(text, unit)


class _Numbers(_Words):
    """Numbers parted by blanks or commas."""

    def read(self, word: str) -> float | str:
        """One of them."""
        return number(word, UNITS.get(str(self.metavar)))


def add_command(
    commands: Commands,
    name: str,
    example: str,
    run: Callable[[argparse.Namespace], str | tuple[str, int]],
) -> argparse.ArgumentParser:
    """A sub-parser for the command ``name`` of ``COMMANDS``; ``run`` takes the options and returns the text to be
    printed, and an exit code where it is not 0."""
    parser: argparse.ArgumentParser = commands.add_parser(
        name,
        help=COMMANDS[name],
        description=COMMANDS[name],
        epilog=f"example: oscsim {example}",
        allow_abbrev=False,
    )
    parser.set_defaults(run=run)
    return parser


def add_design(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "design", nargs="?", default=DEFAULT_DESIGN, metavar="DESIGN",
        help=f"a design file, or the name of a bundled design (default: {DEFAULT_DESIGN})",
    )  # fmt: skip


def add_number(
    parser: argparse.ArgumentParser, name: str, metavar: str | tuple[str, ...], text: str, **more: Any
) -> None:
    """An option that takes a number, or so many with ``nargs``."""
    parser.add_argument(name, type=number_in(UNITS.get(str(metavar))), metavar=metavar, help=text, **more)


def add_numbers(parser: argparse.ArgumentParser, name: str, metavar: str, text: str) -> None:
    """An option that takes one number or more, parted by blanks or commas."""
    parser.add_argument(name, action=_Numbers, nargs="+", metavar=metavar, help=text)


def add_positions(parser: argparse.ArgumentParser, default: str) -> None:
    parser.add_argument(
        "--positions", action=_Words, nargs="+", metavar="POS",
        help=f"{' '.join(POSITIONS)} (ISO 3158) or plain words such as 'dial up' (default: {default})",
    )  # fmt: skip


def add_amplitudes(parser: argparse.ArgumentParser, default: str) -> None:
    add_numbers(parser, "--amplitudes", "DEG", f"amplitudes, deg (default: {default})")


def add_tilt(parser: argparse.ArgumentParser) -> None:
    add_number(parser, "--tilt", "DEG", "tilt of the dial from horizontal, deg")


def add_temperature(parser: argparse.ArgumentParser) -> None:
    add_number(parser, "--temperature", "C", "temperature of the movement, °C (default: 23)", default=23.0)


def add_regulation(parser: argparse.ArgumentParser) -> None:
    add_number(
        parser, "--regulate", "TARGET",
        "regulate first: set the hairspring so that the mean rate of the six positions, as designed and at 23 °C, is "
        "this, s/day "
        "(default: 0); without this option rates are as the design file has them",
        nargs="?", const=0.0,
    )  # fmt: skip
    add_numbers(parser, "--regulate-at", "H", "hours since full wind whose mean is regulated (default: 0)")


def add_output(parser: argparse.ArgumentParser, *, plot: bool = True) -> None:
    """``--format``, and ``--plot`` for commands that draw."""
    if plot:
        parser.add_argument(
            "--plot", type=Path, metavar="FILE",
            help="write a picture: .png, .svg or .pdf; of several designs one each, FILE-DESIGN",
        )  # fmt: skip
    parser.add_argument(
        "--format", default="text", metavar="|".join(FORMATS), help="output format (default: text)"
    )


def add_written(parser: argparse.ArgumentParser, metavar: str, text: str) -> None:
    """``--output`` for a design file, and ``--overwrite`` to write over one that is there."""
    parser.add_argument("-o", "--output", type=Path, metavar=metavar, help=text)
    parser.add_argument("--overwrite", action="store_true", help="write even over a file that is there")


def check_written(options: argparse.Namespace, ending: str) -> None:
    """Raise InputError, before anything is computed, when the file of ``--output`` must not be written."""
    path: Path | None = options.output
    if path is None:
        if options.overwrite:
            raise InputError("--overwrite: give --output with it")
        return
    if path.suffix.lower() != ending:
        raise InputError(f"--output {path}: ending {path.suffix!r} is not {ending}")
    if path.exists() and not options.overwrite:
        raise InputError(f"--output {path}: is there already; --overwrite writes over it")


def regulated(movement: oscsim.Movement, options: argparse.Namespace) -> oscsim.Movement:
    """The movement regulated as the options ask; raises InputError."""
    if options.regulate is None:
        if options.regulate_at is not None:
            raise InputError("--regulate-at: give --regulate with it")
        return movement
    hours = (0.0,) if options.regulate_at is None else options.regulate_at
    return oscsim.regulate(
        movement, options.regulate, oscsim.Setting(positions=tuple(POSITIONS), hours=hours)
    )


def answered(options: argparse.Namespace, ask: Callable[[], Result]) -> str:
    """The answer's text in the format asked for; its picture is written if one is asked for.

    The picture's name is checked before anything is computed. Raises InputError.
    """
    path: Path | None = getattr(options, "plot", None)
    if path is not None:
        check_picture(path)
    answer = ask()
    shapes: dict[str, Callable[[], str]] = {
        "text": lambda: printed(answer.sheet()),
        "csv": answer.to_csv,
        "json": answer.to_json,
    }
    text = shapes[options.format]()
    if path is not None:
        save_picture(answer, path)
    return text


def write_text(path: Path, text: str) -> None:
    """Write a file whole or not at all; raises InputError."""
    from oscsim.whole import write_whole

    write_whole(path, text.encode())


def check_picture(path: Path) -> None:
    """Raise InputError unless the file's ending is a picture format we write."""
    from oscsim.show.plots import check_picture_name

    check_picture_name(path)


def save_together(answers: Sequence[Result], path: Path) -> None:
    """Write one picture of the answers for several designs; raises InputError."""
    from oscsim.show.plots import save_figure
    from oscsim.show.together_plots import together_figure

    origin = {answer.design: answer.origin() for answer in answers}
    save_figure(together_figure(answers), path, {"design": " / ".join(origin), "designs": origin})


def save_picture(answer: Result, path: Path) -> None:
    """Write the answer's picture; raises InputError."""
    from oscsim.show.plots import save_figure

    save_figure(answer.figure(), path, answer.origin())
