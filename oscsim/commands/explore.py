"""``oscsim explore``: what happens when I move this? Sliders in a window."""

from __future__ import annotations

import argparse
from pathlib import Path

import oscsim
from oscsim.commands.options import Commands, add_command, add_design, check_picture
from oscsim.commands.points import add_assignments, assigned


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "explore",
        "explore dockhand --slider torque=80 lock=3.4", _run,
    )  # fmt: skip
    add_design(parser)
    add_assignments(
        parser, "--slider",
        "where sliders stand at first: torque (%%), inertia (mg·cm²), lock (deg), jewels, friction (%%), "
        "unbalance (µg·cm), heavy_point (deg from 12)",
    )  # fmt: skip
    parser.add_argument(
        "--plot", type=Path, metavar="FILE", help="write the picture instead of opening a window"
    )


def _run(options: argparse.Namespace) -> str:
    from oscsim.answers.explore import moved
    from oscsim.show.plots import save_figure
    from oscsim.show.window import drawn, shown

    values = assigned("--slider", options.slider)
    if options.plot is not None:
        check_picture(options.plot)
    movement = oscsim.load(options.design)
    moved(movement, values)  # complains before a window is opened
    explorer = oscsim.explore(movement, drawn() if options.plot is not None else None)
    explorer.put(values)
    if options.plot is not None:
        save_figure(explorer.figure, options.plot, explorer.origin())
    else:
        shown()
    return explorer.text()
