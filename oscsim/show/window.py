"""Where the explorer is drawn: a window, a notebook's figure, or a figure for a file."""

from __future__ import annotations

import os
import sys
from ctypes import CDLL
from ctypes.util import find_library
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from oscsim.errors import InputError
from oscsim.show.style import headline

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_SIZE = (12.5, 8.0)
#: Inches below which letters would overlap: on a smaller screen they are drawn smaller.
_LEAST = (11.0, 6.9)
#: What a window has beside its figure: frame, title and tool bar; and what the desktop keeps: pixels.
_BESIDE = (16, 120)
#: Backends of matplotlib that open no window.
_WINDOWLESS = ("agg", "cairo", "pdf", "pgf", "ps", "svg", "template")
#: Bindings of Qt 6, which needs more of the system than Qt 5, in the order in which matplotlib takes them.
_QT = ("PyQt6", "PySide6")
_REMEDY = (
    "it takes a display and a window toolkit (pip install 'oscsim[window]', or the system's python3-tk); "
    "--plot FILE writes the picture without a window"
)


def opened(name: str) -> Figure:
    """A new window, or figure of a notebook; raises InputError where none can be opened."""
    choose_toolkit()
    import matplotlib
    from matplotlib import pyplot

    title = f"oscsim: {headline(name)}"
    try:
        figure = pyplot.figure(title, figsize=_SIZE, clear=True)
        fitting = _fitting(figure)
        if fitting is not None:  # a window that was opened too large keeps some of its size in every toolkit
            pyplot.close(figure)
            figure = pyplot.figure(title, figsize=fitting[0], dpi=fitting[1], clear=True)
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


def _fitting(figure: Figure) -> tuple[tuple[float, float], float] | None:
    """Inches and dots an inch no larger than the screen, None where the figure is none: less wide and high down to
    what the letters need, then all of it smaller."""
    room = _room(getattr(figure.canvas.manager, "window", None))
    if room is None or (room[0] >= _SIZE[0] * figure.dpi and room[1] >= _SIZE[1] * figure.dpi):
        return None
    dpi = min(figure.dpi, room[0] / _LEAST[0], room[1] / _LEAST[1])
    return (min(_SIZE[0], room[0] / dpi), min(_SIZE[1], room[1] / dpi)), dpi


def _room(window: Any) -> tuple[float, float] | None:
    """Dots for a figure, wide and high, on the screen that a window of Tk or Qt is on; None for other toolkits."""
    if hasattr(window, "winfo_screenwidth"):
        # Tk draws larger on a screen with more than 96 dots an inch
        larger = max(1.0, window.winfo_fpixels("1i") / 96.0)
        sides = window.winfo_screenwidth() / larger, window.winfo_screenheight() / larger
    elif hasattr(window, "screen"):
        there = window.screen().availableGeometry()
        sides = there.width(), there.height()
    else:
        return None
    return max(sides[0] - _BESIDE[0], 1.0), max(sides[1] - _BESIDE[1], 1.0)


def choose_toolkit() -> None:
    """See that Qt is not started where it lacks a library of the system: it ends the whole process then, which
    cannot be caught. Tk is taken in its place where it is there and nobody asked for Qt; else raises InputError."""
    lacking = qt_lacks()
    if not lacking:
        return
    if not os.environ.get("MPLBACKEND") and find_spec("_tkinter") is not None:
        import matplotlib

        matplotlib.use("tkagg")
        return
    raise InputError(
        f"explore: no window can be opened: the toolkit Qt needs {lacking} of the system, which is not there; install "
        "it (on Debian: apt install libxcb-cursor0 libxcb-icccm4 libxcb-keysyms1 libxkbcommon-x11-0), or python3-tk "
        "and set MPLBACKEND=tkagg; --plot FILE writes the picture without a window"
    )


def qt_lacks() -> str:
    """The library of the system that Qt would be started without, "" for none or where Qt is not started on X."""
    wanted = os.environ.get("MPLBACKEND", "")
    platform = os.environ.get("QT_QPA_PLATFORM", "xcb")
    if not sys.platform.startswith("linux") or not platform.startswith("xcb"):
        return ""
    if not os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"):
        return ""
    if wanted and "qt" not in wanted.lower():
        return ""
    binding = next((spec for spec in map(find_spec, _QT) if spec is not None and spec.origin), None)
    if binding is None or binding.origin is None:
        return ""
    for plugin in Path(binding.origin).parent.glob("Qt*/plugins/platforms/libqxcb.so"):
        try:
            CDLL(str(plugin))
        except (
            OSError
        ) as error:  # "libxcb-icccm.so.4: cannot open shared object file: No such file or directory"
            return str(error).partition(":")[0]
        return ""
    return "" if find_library("xcb-cursor") else "libxcb-cursor.so.0"


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
