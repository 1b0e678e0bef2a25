"""Where the explorer is drawn: a window, a notebook's figure, or a figure for a file."""

from __future__ import annotations

import os
import sys
from ctypes.util import find_library
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

from oscsim.errors import InputError
from oscsim.show.style import headline

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_SIZE = (12.5, 8.0)
#: Backends of matplotlib that open no window.
_WINDOWLESS = ("agg", "cairo", "pdf", "pgf", "ps", "svg", "template")
#: Bindings of Qt 6, which needs more of the system than Qt 5.
_QT = ("PySide6", "PyQt6")
_REMEDY = (
    "it takes a display and a window toolkit (pip install 'oscsim[window]', or the system's python3-tk); "
    "--plot FILE writes the picture without a window"
)


def opened(name: str) -> Figure:
    """A new window, or figure of a notebook; raises InputError where none can be opened."""
    check_toolkit()
    import matplotlib
    from matplotlib import pyplot

    try:
        figure = pyplot.figure(f"oscsim: {headline(name)}", figsize=_SIZE, clear=True)
        backend = str(matplotlib.get_backend())
    except Exception as error:  # every toolkit has its own way to say that it cannot
        why = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise InputError(f"explore: no window can be opened: {why}; {_REMEDY}") from None
    if backend.lower() in _WINDOWLESS:
        pyplot.close(figure)
        raise InputError(
            f"explore: no window can be opened here (matplotlib draws with {backend}); {_REMEDY}"
        )
    return figure


def check_toolkit() -> None:
    """Raise InputError where Qt would be taken and lacks a library of the system: it ends the whole process then,
    which cannot be caught."""
    wanted = os.environ.get("MPLBACKEND", "")
    platform = os.environ.get("QT_QPA_PLATFORM", "xcb")
    if not sys.platform.startswith("linux") or not platform.startswith("xcb"):
        return
    if not os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"):
        return
    if (wanted and "qt" not in wanted.lower()) or not any(map(find_spec, _QT)):
        return
    if find_library("xcb-cursor") is None:
        raise InputError(
            "explore: no window can be opened: the toolkit Qt needs the system's libxcb-cursor0, which is not there; "
            "install it (on Debian: apt install libxcb-cursor0), or python3-tk and set MPLBACKEND=tkagg"
        )


def drawn() -> Figure:
    """A figure that is not shown, for a file."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    class Canvas(FigureCanvasAgg):
        """Draws when it is saved, not at every slider that is put in."""

        def draw_idle(self, *_args: Any, **_keywords: Any) -> None:
            return

    figure = Figure(figsize=_SIZE)
    Canvas(figure)
    return figure


def shown() -> None:
    """Wait until the window is closed."""
    from matplotlib import pyplot

    pyplot.show(block=True)
