"""What the studies share: their two options, where the picture goes, and a plain table."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from oscsim.show.plots import save_figure
from oscsim.show.style import frame


class Options(NamedTuple):
    """How much to compute, and the directory for the picture."""

    small: bool
    out: Path


def options(story: str | None) -> Options:
    """Read the command line; ``story`` is the study's docstring, its title on the first line."""
    parser = argparse.ArgumentParser(description=(story or "").split("\n")[0])
    parser.add_argument("--small", action="store_true", help="few points, for a quick look")
    parser.add_argument(
        "--out", type=Path, default=Path("."), metavar="DIR", help="directory for the picture"
    )
    given = parser.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    return Options(given.small, given.out)


def table(heading: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print a table: columns to the right, a blank line before it."""
    lines = [list(columns), *(list(row) for row in rows)]
    widths = [max(len(line[j]) for line in lines) for j in range(len(columns))]
    print(f"\n{heading}")
    for line in lines:
        print("  ".join(f"{text:>{width}}" for text, width in zip(line, widths, strict=True)))


def sheet(width: float, height: float) -> Figure:
    """An empty page; panels are added with ``subplots`` or a grid."""
    return Figure(figsize=(width, height), layout="constrained")


def labelled(ax: Axes, across: str, up: str) -> None:
    """Axis labels with their units, and the house's frame."""
    ax.set_xlabel(across)
    ax.set_ylabel(up)
    frame(ax)


def write(figure: Figure, given: Options, name: str) -> None:
    """Save the picture and say where it is."""
    path = given.out / f"{name}.png"
    save_figure(figure, path)
    print(f"\npicture: {path}")
