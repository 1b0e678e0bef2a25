"""One look for every picture: colours that stay apart for colour-blind eyes, line styles that do so in grey."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from oscsim.errors import clipped, printable

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap

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
#: Before and after a piece of work, in every picture: hollow and full, none of the colours of positions and hours.
BEFORE: dict[str, Any] = {
    "color": GREY,
    "marker": "o",
    "markersize": 7,
    "markerfacecolor": "white",
    "linestyle": "none",
}
AFTER: dict[str, Any] = {"color": "#000000", "marker": "D", "markersize": 6, "linestyle": "none"}
#: What loses, nothing, and what gains: of every map of rates, the teaching page's included (``page.css``).
GAIN_LOSS = ("#be5400", "#ffffff", "#0a5fa8")


def headline(design: str) -> str:
    """A design's name as it heads a table or picture, whatever is in it."""
    return clipped(printable(design))


def title(ax: Axes, text: str) -> None:
    """The picture's title, as plain text: a dollar sign starts no formula."""
    ax.set_title(text, loc="left", fontsize=11, parse_math=False)


def short(name: str) -> str:
    """A name as it stands beside a bar or in a key."""
    return clipped(printable(name), 24)


def key(ax: Axes, **options: Any) -> None:
    """The key, with names as plain text."""
    for text in ax.legend(fontsize=9, **{"frameon": False, **options}).get_texts():
        text.set_parse_math(False)


def gain_loss() -> Colormap:
    """The colours of a map of rates, from the greatest loss to the greatest gain."""
    from matplotlib.colors import LinearSegmentedColormap

    return LinearSegmentedColormap.from_list("gain_loss", GAIN_LOSS)


def new_axes(ax: Axes | None) -> Axes:
    """The axes given, or those of a new figure."""
    if ax is not None:
        return ax
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.0, 5.0), layout="constrained")
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    FigureCanvasAgg(figure)
    return figure.add_subplot()


def stacked(height: float, shares: Sequence[float], *, share: bool = False) -> list[Axes]:
    """Axes one below another in a new figure, their heights in these shares; ``share``: one horizontal axis."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.0, height), layout="constrained")
    FigureCanvasAgg(figure)
    panels = figure.subplots(len(shares), 1, sharex=share, height_ratios=list(shares), squeeze=False)
    return list(panels[:, 0])


def frame(ax: Axes) -> None:
    """A quiet frame with a light grid."""
    ax.grid(True, color="#dddddd", linewidth=0.7)
    ax.set_axisbelow(True)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
