"""``oscsim poise``: where is the heavy point, how much is it, and what will the rates be without it?"""

from __future__ import annotations

import argparse

import oscsim
from oscsim.bench.poising_work import DENSITIES
from oscsim.commands.bench import add_lift_angle, add_readings, add_required_design, readings_of
from oscsim.commands.options import Commands, add_command, add_number, add_output, answered


def register(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands, "poise",
        "poise dockhand readings.csv --radius 4.5", _run,
    )  # fmt: skip
    add_required_design(parser)
    add_readings(parser)
    add_lift_angle(parser)
    add_number(parser, "--amplitude", "DEG", "amplitude shown, deg, to be taken where none was read")
    add_number(
        parser, "--radius", "MM",
        "radius at which metal is taken away or added, mm (default: the balance's radius of gyration)",
    )  # fmt: skip
    add_number(parser, "--drill", "MM", "diameter of the drill, mm (default: 0.3)", default=0.3)
    metals = ", ".join(f"{metal} {density:g}" for metal, density in DENSITIES.items())
    add_number(
        parser, "--density", "G_CM3", f"density of the metal, g/cm³ (default: 8.25; {metals})", default=8.25
    )
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    def ask() -> oscsim.Poise:
        return oscsim.poise(
            oscsim.load(options.design),
            readings_of(options.readings, options.lift_angle),
            amplitude_deg=options.amplitude,
            radius_mm=options.radius,
            drill_mm=options.drill,
            density_g_cm3=options.density,
        )

    return answered(options, ask)
