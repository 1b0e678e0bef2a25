"""Picture of a sketch: what is not known, in degrees of amplitude."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from oscsim.show.labels import broken_title, number_words
from oscsim.show.sketch_tables import number_range
from oscsim.show.style import SERIES, frame, headline, key, new_axes

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from oscsim.bench.sketched import Sketch

_MOST = 12


def plot_sketch(answer: Sketch, ax: Axes | None = None) -> Axes:
    """By how many degrees half of each filled number's range moves the amplitude, dial up and 12 up."""
    ax = new_axes(ax)
    shown = [n for n in answer.filled if math.isfinite(n.moves_flat_deg)][:_MOST]
    rows = np.arange(len(shown), dtype=float)
    for offset, values, (colour, _, _), hatch, label in (
        (-0.19, [n.moves_flat_deg for n in shown], SERIES[0], "", "CH dial up"),
        (0.19, [n.moves_vertical_deg for n in shown], SERIES[1], "//", "12H 12 up"),
    ):
        ax.barh(rows + offset, values, height=0.36, color=colour, hatch=hatch, edgecolor="white", label=label)
    labels = [f"{number_words(n.name)}\n{number_range(n)} {n.unit}".rstrip() for n in shown]
    ax.set_yticks(rows, labels, fontsize=8)
    ax.invert_yaxis()
    ax.set_xlabel("amplitude moved by half the range, fully wound, ± deg")
    broken_title(ax, f"{headline(answer.design)}: filled numbers and what they leave open")
    frame(ax)
    if shown:
        key(ax, loc="lower right")
    return ax
