"""``oscsim poise``: where is the heavy point, how much is it, and what will the rates be without it?"""

from __future__ import annotations

import argparse

import oscsim
from oscsim.bench.poising_work import DENSITIES
from oscsim.commands.bench import (
    add_lift_angle,
    add_readings,
    add_report,
    add_required_design,
    check_report,
    readings_of,
    write_report,
)
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
    add_report(parser)
    add_output(parser)


def _run(options: argparse.Namespace) -> str:
    check_report(options)
    found: list[oscsim.Poise] = []

    def ask() -> oscsim.Poise:
        readings.append(readings_of(options.readings, options.lift_angle))
        found.append(
            oscsim.poise(
                oscsim.load(options.design),
                readings[0],
                amplitude_deg=options.amplitude,
                radius_mm=options.radius,
                drill_mm=options.drill,
                density_g_cm3=options.density,
            )
        )
        return found[0]

    readings: list[oscsim.Readings] = []
    text = answered(options, ask)
    write_report(options, found[0], {"read": readings[0]})
    return text
