"""The explorer: sliders on a design beside four pictures that follow them. It draws; what it draws it is given."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from oscsim.answers.budget import GROUPS
from oscsim.answers.explore import AMPLITUDES, FALLING, HOURS, Handle, View, all_round, handles, moved, view
from oscsim.errors import InputError
from oscsim.files import takes_design
from oscsim.motion.states import STATES, TOO_FAR
from oscsim.movement import Movement
from oscsim.show.style import GREY, SERIES, frame, gain_loss, headline
from oscsim.show.tables import STATE_VERBS, reminded, signed
from oscsim.show.window import opened
from oscsim.text.sheet import Lines, Sheet
from oscsim.units import POSITIONS
from oscsim.version import __version__

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.widgets import Slider

#: Values by handle, and whether there is time for the slow points, to a view.
Ask: TypeAlias = Callable[[Mapping[str, float], bool], View]
#: Ends of the scale of rates, s/day; the first that holds them all.
_SCALES = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0)
#: Largest share of the energy that has room, %; the largest amplitude, deg.
_MOST_SHARE, _MOST_DEG = 70.0, 405.0
_FLAT_UPRIGHT = [list(POSITIONS).index(symbol) for symbol in FALLING]


class Explorer:
    """Sliders and pictures in ``figure``; ``sliders`` by handle's name, ``view``: what is drawn now."""

    def __init__(self, movement: Movement, handles: Sequence[Handle], ask: Ask, figure: Figure) -> None:
        self.movement, self.handles, self.figure = movement, tuple(handles), figure
        self._ask = ask
        self.design = self.view = ask({}, True)
        self._viewed: dict[str, float] = {}  # where the sliders stood for the view
        self._moving: list[Artist] = []
        self._parts: dict[str, list[Artist]] = {}
        # the figure without what moves, and the same with all sliders but the one that is being moved
        self._background: Any = None
        self._rest: tuple[str, Any] | None = None
        self._held = self._quiet = False
        grid = figure.add_gridspec(
            1, 2, width_ratios=(1.0, 3.6), left=0.02, right=0.985, top=0.86, bottom=0.08, wspace=0.27
        )
        left, right = grid[0, 0], grid[0, 1]
        pictures = right.subgridspec(2, 2, wspace=0.36, hspace=0.34)
        axes = [figure.add_subplot(pictures[i, j]) for i in (0, 1) for j in (0, 1)]
        self.positions, self.fall, self.map, self.energy = axes
        figure.text(
            0.02, 0.955, f"{headline(movement.name)}: what moves when you move it", fontsize=14, parse_math=False
        )  # fmt: skip
        # letters take the most time: what always stands there is not drawn again at every look
        words = figure.text(
            0.02, 0.912, "Rates fully wound, dial up and 12 up, s/day:", fontsize=10.5, va="center"
        )
        # on axes, since a moving text of the figure itself would be missing in a file
        said = self.positions.annotate(
            "", (1.015, 0.5), xycoords=words, annotation_clip=False, fontsize=10.5, va="center", parse_math=False
        )  # fmt: skip
        self._said = self._moves(said)
        self.sliders: dict[str, Slider] = {}
        self._put_sliders(left)
        self._draw_positions(self.positions)
        self._draw_fall(self.fall)
        self._draw_map(self.map)
        self._draw_energy(self.energy)
        canvas: Any = figure.canvas
        for event, answer in (
            ("draw_event", self._drawn),
            ("button_press_event", self._pressed),
            ("button_release_event", self._released),
        ):
            canvas.mpl_connect(event, answer)
        self._show(self.view)

    @property
    def values(self) -> dict[str, float]:
        """Where the sliders stand, those that differ from the design."""
        return {h.name: float(self.sliders[h.name].val) for h in self.handles
                if abs(float(self.sliders[h.name].val) - h.value) > 1e-9 * max(abs(h.value), 1.0)}  # fmt: skip

    def text(self) -> str:
        """What was moved and what it did, in words."""
        told = [
            f"{h.words} {_value(h, self._viewed[h.name])}" for h in self.handles if h.name in self._viewed
        ]
        said = f"{headline(self.movement.name)}, {', '.join(told) or 'as designed'}: {_sentence(self.view)}"
        return reminded(Sheet((Lines(said),)), (self.movement,)).plain()

    def origin(self) -> dict[str, Any]:
        """Where the picture comes from, as ``Result.origin`` says it of an answer."""
        return {
            "design": self.movement.name,
            "design_hash": self.movement.design_hash,
            "version": __version__,
            "settings": {h.name: self._viewed.get(h.name, h.value) for h in self.handles},
        }

    def put(self, values: Mapping[str, float]) -> None:
        """Sliders to these places, by handle's name, and one look at that; raises InputError for what cannot be moved
        or not so far, and then moves nothing."""
        moved(self.movement, values)
        self._quiet = True  # not a look for each of them
        try:
            for name, value in values.items():
                self.sliders[name].set_val(float(value))
        finally:
            self._quiet = False
        self._changed()

    def reset(self, _event: Any = None) -> None:
        """All sliders back to the design."""
        self.put({handle.name: handle.value for handle in self.handles})

    # --- what moves

    def _moves(self, artist: Any) -> Any:
        """The artist, drawn over the rest at every look."""
        artist.set_animated(True)
        self._moving.append(artist)
        return artist

    def _put_sliders(self, place: Any) -> None:
        from matplotlib import rcParams
        from matplotlib.transforms import ScaledTranslation
        from matplotlib.widgets import Button, Slider

        rows = place.subgridspec(len(self.handles) + 1, 1, hspace=0.9)
        for row, handle in enumerate(self.handles):
            ax = self.figure.add_subplot(rows[row])
            slider = Slider(
                ax, "", handle.low, handle.high, valinit=handle.value, valstep=handle.step or None,
                color=SERIES[0][0], track_color="#dddddd", initcolor=GREY,
            )  # fmt: skip
            ax.set_title(
                f"{handle.words}, {handle.unit}" if handle.unit else handle.words, loc="left", fontsize=10
            )
            slider.drawon = False
            # on the line of the words, at any height of the window
            lifted = ScaledTranslation(0.0, rcParams["axes.titlepad"] / 72.0, self.figure.dpi_scale_trans)
            slider.valtext.set_transform(ax.transAxes + lifted)
            slider.valtext.set(position=(1.0, 1.0), ha="right", va="baseline")
            self._parts[handle.name] = [slider.poly, *ax.lines, slider.valtext]
            for artist in self._parts[handle.name]:
                artist.set_animated(True)
            slider.on_changed(partial(self._changed, handle.name))
            self.sliders[handle.name] = slider
        box = self.figure.add_subplot(rows[len(self.handles)])
        self._button = Button(box, "as designed", color="#eeeeee", hovercolor="#dddddd")
        self._button.on_clicked(self.reset)

    def _draw_positions(self, ax: Axes) -> None:
        """Amplitude by position, wound and a day later; hollow marks: the design."""
        rows = np.arange(len(POSITIONS))
        self._marks = []
        for j, hour in enumerate(HOURS):
            colour, _, marker = SERIES[j]
            label = f"{hour:g} h"
            ax.plot(self.design.points.amplitude_deg[:, j], rows, marker, mfc="none", mec=GREY, ms=8)
            self._marks += self._moves_all(ax.plot([], [], marker, color=colour, ms=6, label=label))
        self._states = [self._moves(ax.text(1.0, row - 0.36, "", transform=ax.get_yaxis_transform(), ha="right",
                                            va="center", fontsize=9)) for row in rows]  # fmt: skip
        ax.set_yticks(rows, [f"{p.symbol} {p.words}" for p in POSITIONS.values()])
        ax.set_ylim(len(rows) - 0.4, -0.7)
        ax.set_xlim(0.0, _MOST_DEG)
        ax.set_xlabel("amplitude, deg")
        ax.set_title("Amplitude by position; hollow: as designed", loc="left", fontsize=10)
        ax.legend(loc="lower left", fontsize=9, frameon=False, title="since full wind", title_fontsize=9)
        frame(ax)

    def _moves_all(self, artists: Sequence[Any]) -> list[Any]:
        return [self._moves(artist) for artist in artists]

    def _draw_fall(self, ax: Axes) -> None:
        """The run-down, dial up and 12 up; grey: the design."""
        self._curves = []
        for i, symbol in enumerate(FALLING):
            colour, line, _ = SERIES[i]
            ax.plot(
                self.design.hours, self.design.run.amplitude_deg[i], color="#aaaaaa", linestyle=line, lw=1.2
            )
            label = f"{symbol} {POSITIONS[symbol].words}"
            self._curves += self._moves_all(
                ax.plot([], [], color=colour, linestyle=line, lw=2.0, label=label)
            )
        ax.set_xlim(0.0, 1.25 * self.design.hours[-1])
        ax.set_ylim(0.0, _MOST_DEG)
        ax.set_xlabel("hours since full wind, h")
        ax.set_ylabel("amplitude, deg")
        ax.set_title("Run-down; grey: as designed", loc="left", fontsize=10)
        ax.legend(loc="lower left", fontsize=9, frameon=False)
        self._lasts = self._moves(
            ax.text(0.98, 0.96, "", transform=ax.transAxes, ha="right", va="top", fontsize=9)
        )
        frame(ax)

    def _draw_map(self, ax: Axes) -> None:
        """What the heavy point adds to the rate, over where it stands and the amplitude."""
        colours = gain_loss().with_extremes(bad="#dddddd")
        step = 0.5 * (AMPLITUDES[1] - AMPLITUDES[0])
        extent = (-180.0, 180.0, AMPLITUDES[0] - step, AMPLITUDES[-1] + step)
        self._image = self._moves(
            ax.imshow(np.zeros((len(AMPLITUDES), 1)), origin="lower", extent=extent, aspect="auto", cmap=colours,
                      interpolation="bilinear", vmin=-1.0, vmax=1.0)
        )  # fmt: skip
        self._node = self._moves(ax.axhline(math.nan, color="black", lw=1.3, ls="--"))
        self._node_text = self._moves(ax.text(-176.0, 0.0, "", fontsize=9, va="bottom"))
        self._here = [
            self._moves(ax.plot([], [], SERIES[j][2], mfc=SERIES[j][0], mec="white", ms=8)[0])
            for j in range(len(HOURS))
        ]
        ax.set_xlim(-180.0, 180.0)
        ax.set_ylim(extent[2], extent[3])
        ax.set_xticks([-180, -90, 0, 90, 180], ["above", "right", "below", "left", "above"])
        ax.set_xlabel("where the heavy point rests, 12 up")
        ax.set_ylabel("amplitude, deg")
        ax.set_title("Heavy point: added to the rate, s/day", loc="left", fontsize=10)
        # in parts of the scale, so that a new scale is two figures and not a new drawing of everything
        bar = self.figure.colorbar(self._image, ax=ax, pad=0.02, ticks=[-1.0, -0.5, 0.0, 0.5, 1.0])
        bar.ax.set_yticklabels(["", "", "0", "", ""])
        self._ends = [self._moves(bar.ax.text(1.6, end, "", transform=bar.ax.transAxes, va="center", fontsize=10))
                      for end in (0.0, 1.0)]  # fmt: skip

    def _draw_energy(self, ax: Axes) -> None:
        """Where a beat's energy goes, dial up and fully wound; outlines: the design."""
        rows = np.arange(len(GROUPS))
        ax.barh(rows, self._shares(self.design), height=0.72, facecolor="none", edgecolor=GREY, lw=1.0)
        self._bars = self._moves_all(ax.barh(rows, np.zeros(len(rows)), height=0.5, color=SERIES[0][0]))
        self._percent = [self._moves(ax.text(0.0, float(row), "", va="center", fontsize=9)) for row in rows]
        self._given = self._moves(
            ax.text(1.0, 0.03, "", transform=ax.transAxes, ha="right", va="bottom", fontsize=9)
        )
        ax.set_yticks(rows, list(GROUPS))
        ax.set_ylim(len(rows) - 0.4, -0.6)
        ax.set_xlim(0.0, _MOST_SHARE)
        ax.set_xlabel("share of what the escape wheel is given, %")
        ax.set_title("Energy of a beat, dial up; outline: as designed", loc="left", fontsize=10)
        frame(ax)

    @staticmethod
    def _shares(view: View) -> np.ndarray[Any, np.dtype[np.float64]]:
        return 100.0 * np.array(list(view.taken_j.values())) / view.given_j

    # --- a look

    def _changed(self, name: str = "", _value: float = 0.0) -> None:
        """A slider has moved: ask and show; while the mouse is down without the slow points."""
        if self._quiet:
            return
        try:
            self.view, self._viewed = self._ask(self.values, not self._held), self.values
        except InputError as error:
            self._said.set_text(str(error))
            self._refresh(name)
            return
        self._show(self.view, name)

    def _show(self, view: View, name: str = "") -> None:
        """Put a view into the pictures; ``name``: the slider that was moved."""
        p = view.points
        for j, marks in enumerate(self._marks):
            marks.set_data(p.amplitude_deg[:, j], np.arange(len(POSITIONS)))
        for i, text in enumerate(self._states):
            text.set_text(" / ".join(_amplitude(view, i, j) for j in range(len(HOURS))))
        for i, curve in enumerate(self._curves):
            curve.set_data(view.hours, view.run.amplitude_deg[i])
        self._show_map(view)
        shares = self._shares(view)
        for bar, text, share in zip(self._bars, self._percent, shares, strict=True):
            known = math.isfinite(share)
            bar.set_width(share if known else 0.0)
            text.set_x((min(share, _MOST_SHARE - 8.0) if known else 0.0) + 0.8)
            text.set_text(f"{share:.1f}" if known else "")
        given = f"{1e9 * view.given_j:.0f} nJ a beat" if math.isfinite(view.given_j) else "no steady beat"
        self._given.set_text(given)
        self._said.set_text(_rates(view))
        self._lasts.set_text(_lasts(view))
        self._refresh(name)

    def _show_map(self, view: View) -> None:
        _, effect = all_round(view.effect_s_per_day)
        known = effect[np.isfinite(effect)]
        largest = float(np.abs(known).max()) if known.size else 0.0
        scale = next((s for s in _SCALES if s >= largest), _SCALES[-1])
        self._image.set_data(np.ma.masked_invalid(effect / scale))
        for text, end in zip(self._ends, (-scale, scale), strict=True):
            text.set_text(signed(end, 0))
        self._node.set_ydata([view.node_deg, view.node_deg])
        known_node = math.isfinite(view.node_deg)
        self._node_text.set_text(
            f"node {view.node_deg:.1f} deg" if known_node else "poised" if not largest else ""
        )
        self._node_text.set_y(view.node_deg + 1.0 if known_node else AMPLITUDES[0])
        upright = _FLAT_UPRIGHT[1]
        heavy = view.movement.balance.heavy_point_deg % 360.0 - 180.0
        # out of the way of the marks
        self._node_text.set_x(176.0 if heavy < 0.0 else -176.0)
        self._node_text.set_ha("right" if heavy < 0.0 else "left")
        for j, mark in enumerate(self._here):
            mark.set_data([heavy], [view.points.amplitude_deg[upright, j]])

    def _refresh(self, name: str = "") -> None:
        """Only what moves is drawn again, where the canvas can do that."""
        canvas: Any = self.figure.canvas
        if self._background is None or not canvas.supports_blit:
            canvas.draw_idle()
            return
        if self._rest is None or self._rest[0] != name or not name:
            canvas.restore_region(self._background)
            self._draw([part for other, parts in self._parts.items() if other != name for part in parts])
            self._rest = (name, canvas.copy_from_bbox(self.figure.bbox))
        canvas.restore_region(self._rest[1])
        self._draw([*self._parts.get(name, ()), *self._moving])
        canvas.blit(self.figure.bbox)

    def _draw(self, artists: Sequence[Artist]) -> None:
        for artist in artists:
            (artist.axes or self.figure).draw_artist(artist)

    def _drawn(self, event: Any) -> None:
        """The whole figure was drawn, without what moves: keep that as the background."""
        canvas: Any = self.figure.canvas
        if canvas.is_saving():  # into a file goes everything at once
            return
        self._rest = None
        if event.canvas is canvas and canvas.supports_blit:
            self._background = canvas.copy_from_bbox(self.figure.bbox)
        self._draw([*(part for parts in self._parts.values() for part in parts), *self._moving])

    def _pressed(self, event: Any) -> None:
        self._held = any(event.inaxes is slider.ax for slider in self.sliders.values())

    def _released(self, _event: Any) -> None:
        if self._held:
            self._held = False
            self._changed()


def _value(handle: Handle, value: float) -> str:
    return f"{value:.4g} {handle.unit}".rstrip()


def _amplitude(view: View, i: int, j: int) -> str:
    """Amplitude of a position at an hour, with the state in words."""
    state, value = STATES[view.points.code[i, j]], view.points.amplitude_deg[i, j]
    number = f"{value:.0f}" if math.isfinite(value) else ""
    return f"{number} {STATE_VERBS.get(state, '')}".strip()


def _sentence(view: View) -> str:
    """Amplitudes dial up and 12 up, wound and a day later, the rates, and the hours it runs."""
    told = []
    for j, when in enumerate(("fully wound", "24 h later")):
        flat, upright = (_amplitude(view, i, j) for i in _FLAT_UPRIGHT)
        told.append(f"{when} dial up {flat}, 12 up {upright}")
    return f"{'; '.join(told)} (deg). Rates fully wound {_rates(view)} s/day. Dial up it {_lasts(view)}."


def _rates(view: View) -> str:
    """Rates fully wound, dial up and 12 up; where it knocks it gains by the minute, and the word stands for that."""
    rate, codes = view.points.rate_s_per_day[_FLAT_UPRIGHT, 0], view.points.code[_FLAT_UPRIGHT, 0]
    if not np.isfinite(rate).all():
        return "none"
    told = zip(rate, (STATES[code] for code in codes), strict=True)
    return " and ".join(STATE_VERBS[state] if state in TOO_FAR else signed(r) for r, state in told)


def _lasts(view: View) -> str:
    """How long it runs dial up."""
    runs = np.isfinite(view.run.amplitude_deg[0])
    return f"runs past {view.hours[np.flatnonzero(runs)[-1]]:.0f} h" if runs.any() else "does not run"


@takes_design
def explore(movement: Movement, figure: Figure | None = None) -> Explorer:
    """A window (or notebook figure) with a slider for every handle, live through the engine.

    ``figure``: draw there instead of opening one. Keep what is returned for as long as the sliders are to answer.
    """
    return Explorer(movement, handles(movement), lambda values, thorough: view(movement, values, thorough=thorough),
                    figure if figure is not None else opened(movement.name))  # fmt: skip
