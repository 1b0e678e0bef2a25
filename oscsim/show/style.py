"""One look for every picture: colours that stay apart for colour-blind eyes, line styles that do so in grey."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.axes import Axes

#: Okabe and Ito's palette (2008), the darker colours, each with its own line style and marker.
SERIES = (
    ("#0072B2", "-", "o"),
    ("#D55E00", "--", "s"),
    ("#009E73", "-.", "^"),
    ("#CC79A7", ":", "D"),
    ("#56B4E9", (0, (5, 1, 1, 1, 1, 1)), "v"),
    ("#000000", (0, (1, 1)), "P"),
)
GREY = "#555555"


def new_axes(ax: Axes | None) -> Axes:
    """The axes given, or those of a new figure."""
    if ax is not None:
        return ax
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.0, 5.0), layout="constrained")
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    FigureCanvasAgg(figure)
    return figure.add_subplot()


def frame(ax: Axes) -> None:
    """A quiet frame with a light grid."""
    ax.grid(True, color="#dddddd", linewidth=0.7)
    ax.set_axisbelow(True)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
