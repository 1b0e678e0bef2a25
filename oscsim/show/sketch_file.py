"""The design file of a sketch: as any other, with a remark behind every number that nobody measured."""

from __future__ import annotations

import math
import textwrap
from typing import TYPE_CHECKING

from oscsim.errors import printable
from oscsim.files import dumps
from oscsim.movement import SLIP
from oscsim.show.sketch_tables import short_number
from oscsim.version import __version__

if TYPE_CHECKING:
    from oscsim.bench.sketched import Number, Sketch

_WIDTH = 108


def sketch_file(answer: Sketch) -> str:
    """The text of a design file that loads to the sketch's movement."""
    numbers = {n.name: n for n in answer.numbers}
    lines: list[str] = []
    table = ""
    for line in dumps(answer.movement).splitlines():
        if line.startswith("filled = "):
            lines.append(
                "# Filled, not measured: strike a name when you have measured its number and put it below."
            )
        if line.startswith("reading = "):
            lines.append("# The slip that made this: every command that draws such movements keeps to it.")
        if line.startswith("["):
            table = line.strip("[]")
            if table.startswith("tolerance") and not any(kept.startswith("# Ranges") for kept in lines):
                lines.append(
                    "# Ranges of 95 of 100 such movements; of what is given, those of sound examples."
                )
        elif " = " in line and table and table.split(".")[0] not in ("tolerance", *SLIP):
            number = numbers.get(f"{table}.{line.split(' = ')[0]}")
            if number is not None:
                line = f"{line}{_remark(number)}"
            elif not line.startswith("kind = "):
                continue  # a default is neither given nor filled: left out, it stays one
        lines.append(line)
    return "\n".join([*_head(answer), "", *lines]) + "\n"


def _head(answer: Sketch) -> list[str]:
    """What the file is, as comments."""
    facts = [f"{name} = {value:g}" for name, value in answer.slip.facts.items()]
    read = [f"{h.position} {h.hours:g} h {h.read_deg:g} deg" for h in answer.held]
    said = [
        f"A sketch by oscsim {__version__}, family '{answer.family.name}'. {len(answer.filled)} numbers are filled and "
        "marked so; the rest is given."
    ]
    if facts:
        said.append(f"From: {', '.join(facts)}.")
    if answer.usual_deg is not None:
        said.append(
            f"The strip was not measured: it makes the family's usual amplitude, {answer.usual_deg:g} deg wound."
        )
    if read:
        said.append(f"Amplitudes used, which it therefore cannot judge: {'; '.join(read)}.")
    said.append("It judges no movement until the numbers that matter are measured: docs/sketch.md.")
    return [f"# {row}" for line in said for row in textwrap.wrap(printable(line), _WIDTH)]


def _remark(n: Number) -> str:
    if n.source == "given":
        return "  # given"
    span = f", from {short_number(n.low)} to {short_number(n.high)}" if math.isfinite(n.low) else ""
    moved = "" if n.before is None else f"; {n.before:g} before the amplitudes"
    return f"  # filled: {n.reason}{span}{moved}"
