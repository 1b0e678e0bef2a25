"""How many updates a second `oscsim explore` makes while a slider is dragged: python -m tests.benchmarks.explorer

Without a window (Agg), or with the named backend of matplotlib on a display (TkAgg, QtAgg): each look is asked of the
engine, drawn, and the window's events are served before the next.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import argparse
import time

import matplotlib
import numpy as np
from matplotlib.backend_bases import MouseButton, MouseEvent

import oscsim
from oscsim.show.explore import Explorer
from oscsim.show.window import drawn

LOOKS = 30


def _mouse(explorer: Explorer, kind: str, name: str, place: float) -> None:
    canvas = explorer.figure.canvas
    x, y = explorer.sliders[name].ax.transAxes.transform((place, 0.5))
    canvas.callbacks.process(kind, MouseEvent(kind, canvas, x, y, MouseButton.LEFT))
    canvas.flush_events()


def drag(explorer: Explorer, name: str) -> list[float]:
    """Seconds of each look while a slider is dragged over the middle of its range."""
    _mouse(explorer, "button_press_event", name, 0.15)
    seconds = []
    for place in np.linspace(0.2, 0.8, LOOKS):
        begun, before = time.perf_counter(), explorer.view
        _mouse(explorer, "motion_notify_event", name, float(place))
        if explorer.view is not before:  # a slider with steps may stay
            seconds.append(time.perf_counter() - begun)
    _mouse(explorer, "button_release_event", name, 0.8)
    explorer.reset()
    return seconds


def main() -> None:
    """Print a row for each slider."""
    parser = argparse.ArgumentParser(description="updates a second of the explorer while dragging")
    parser.add_argument("--backend", default="Agg", help="matplotlib's backend (default: Agg, no window)")
    parser.add_argument("--design", default="dockhand")
    options = parser.parse_args()
    matplotlib.use(options.backend)
    movement = oscsim.load(options.design)
    if options.backend.lower() == "agg":
        explorer = oscsim.explore(movement, drawn())
        explorer.figure.canvas.draw()
    else:
        from matplotlib import pyplot

        explorer = oscsim.explore(movement)
        pyplot.show(block=False)
        pyplot.pause(1.0)
    print(f"{options.design}, {options.backend}; {LOOKS} looks over the middle of each slider's range")
    for name in explorer.sliders:
        seconds = drag(explorer, name)
        mean, longest = float(np.mean(seconds)), max(seconds)
        print(f"{name:12} {1e3 * mean:4.0f} ms, longest {1e3 * longest:4.0f} ms: {1.0 / mean:5.1f} updates/s")


if __name__ == "__main__":
    main()
