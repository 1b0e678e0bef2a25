"""``oscsim compare``: why does this design settle lower than that one?"""

from __future__ import annotations

import argparse
from pathlib import Path

import oscsim
from oscsim.commands.options import Commands, add_command, add_number, add_output, answered
from oscsim.commands.points import add_morning, add_points, in_use, setting_of
from oscsim.commands.several import expanded
from oscsim.errors import InputError, shown


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "compare",
        "compare packet dockhand --plot difference.png", _run,
    )  # fmt: skip
    parser.add_argument(
        "designs",
        nargs="+",
        metavar="DESIGN",
        help="two or more: design files, names of bundled designs, or patterns such as '*.toml'",
    )
    add_points(parser)
    add_number(
        parser, "--tolerance", "S_PER_DAY",
        "how far apart the vertical rates may lie in the working band, s/day (default: 10)", default=10.0,
    )  # fmt: skip
    parser.add_argument(
        "--groups", type=Path, metavar="FILE",
        help="TOML file of groups to share the difference among, lines such as: lock = [\"escapement.lock_deg\"]",
    )  # fmt: skip
    add_morning(parser)
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    def ask() -> oscsim.Compare | oscsim.Morning:
        groups = None if options.groups is None else read_groups(options.groups)
        movements = [oscsim.load(design) for design in expanded(options.designs)]
        answer = oscsim.compare(movements, setting_of(options), groups, tolerance_s_per_day=options.tolerance)
        return in_use(options, answer)

    return answered(options, ask)


def read_groups(path: Path) -> dict[str, tuple[str, ...]]:
    """Groups of parameters from a TOML file: each key a group, its value a list of dotted names. Raises InputError."""
    from oscsim.toml import read_tables

    table = read_tables(path, "a file of groups")
    for group, names in table.items():
        if not isinstance(names, list) or not all(isinstance(name, str) for name in names) or not names:
            raise InputError(f"{path}: {group} = {shown(names)}: must be a list of dotted names in quotes")
    return {group: tuple(names) for group, names in table.items()}
