"""The explorer: what is drawn is what the engine says, at the design and after moves; no window, no crash."""

import json
import math
from dataclasses import replace
from types import SimpleNamespace

import matplotlib
import numpy as np
import pytest
from matplotlib.backend_bases import MouseButton, MouseEvent
from PIL import Image

import oscsim
from oscsim.answers import explore as module
from oscsim.answers.explore import AMPLITUDES, DIRECTIONS, all_round, handles, moved, view
from oscsim.cli import main
from oscsim.errors import InputError
from oscsim.show import explore as explore_page
from oscsim.show import window
from oscsim.show.window import drawn
from tests.answers.every import movement
from tests.levers import LEVERS

MOVES = {
    "torque": 80.0, "inertia": 22.0, "lock": 3.2, "jewels": 9, "friction": 130.0, "unbalance": 12.0,
    "heavy_point": 40.0,
}  # fmt: skip


@pytest.fixture(scope="module")
def explorer():
    return oscsim.explore(movement(), drawn())


@pytest.fixture(autouse=True)
def back(request):
    yield
    if "explorer" in request.fixturenames:
        request.getfixturevalue("explorer").reset()


def _by_hand(values):
    """The moved design in another way: every change written into the design itself."""
    m = movement()
    f = values.get("friction", 100.0) / 100.0
    changes = {
        "mainspring.coil_efficiency": m.mainspring.coil_efficiency * values.get("torque", 100.0) / 100.0,
        "balance.inertia_mg_cm2": values.get("inertia", m.balance.inertia_mg_cm2),
        "escapement.lock_deg": values.get("lock", m.escapement.lock_deg),
        "train.jewels": values.get("jewels", m.train.jewels),
        "balance.pivot_friction": m.balance.pivot_friction * f,
        "escapement.pallet_friction": m.escapement.pallet_friction * f,
        "train.jewel_friction": m.train.jewel_friction * f,
        "train.brass_friction": m.train.brass_friction * f,
        "balance.unbalance_ug_cm": values.get("unbalance", m.balance.unbalance_ug_cm),
        "balance.heavy_point_deg": values.get("heavy_point", m.balance.heavy_point_deg),
    }
    return m.with_(changes)


SETTING = oscsim.Setting(positions=tuple(oscsim.POSITIONS), hours=(0.0, 24.0))


@pytest.mark.parametrize(
    "names", [[], *([name] for name in MOVES), list(MOVES)], ids=lambda n: "+".join(n) or "design"
)
def test_what_is_drawn_is_what_settle_says(names, explorer):
    values = {name: MOVES[name] for name in names}
    for name, value in values.items():
        explorer.sliders[name].set_val(value)
    assert explorer.values == pytest.approx(values)
    want = oscsim.settle(_by_hand(values), SETTING).points
    for j, marks in enumerate(explorer._marks):
        assert marks.get_xdata() == pytest.approx(want.amplitude_deg[:, j], abs=1e-7)
    run = oscsim.settle(_by_hand(values), oscsim.Setting(positions=("CH", "12H"), hours=explorer.view.hours))
    for i, curve in enumerate(explorer._curves):
        assert np.array_equal(curve.get_xdata(), explorer.view.hours)
        assert curve.get_ydata() == pytest.approx(run.points.amplitude_deg[i], abs=1e-7, nan_ok=True)
    budget = oscsim.budget(_by_hand(values))
    assert sum(bar.get_width() for bar in explorer._bars) == pytest.approx(100.0, abs=1e-6)
    drop = 100.0 * budget.taken_j["drop"][0, 0] / budget.given_j[0, 0]
    assert explorer._bars[0].get_width() == pytest.approx(drop, abs=1e-9)
    assert f"{want.amplitude_deg[0, 0]:.0f}" in explorer.text()


@pytest.mark.parametrize("names", [["unbalance"], ["unbalance", "lock", "friction"]], ids=len)
def test_the_map_is_that_of_ratemap(names, explorer):
    """Engine's own rate map less its poised rates, at the computed nodes and between the directions."""
    for name in names:
        explorer.sliders[name].set_val(MOVES[name])
    changed = _by_hand({name: MOVES[name] for name in names})
    below = oscsim.ratemap(changed, amplitudes_deg=[200.0], heavy_points_deg=[0.0]).below_deg
    angles, effect = all_round(explorer.view.effect_s_per_day)
    want = oscsim.ratemap(
        changed, amplitudes_deg=AMPLITUDES, heavy_points_deg=(below + angles) % 360.0, torque_ceiling=4.0
    )
    known = np.isfinite(effect)
    assert known.mean() > 0.8
    truth = want.rate_s_per_day - want.poised_s_per_day[:, None]
    assert effect[known] == pytest.approx(truth[known], abs=0.02)
    scale = float(explorer._ends[1].get_text())
    assert np.ma.filled(explorer._image.get_array(), np.nan) * scale == pytest.approx(
        effect, rel=1e-12, nan_ok=True
    )
    assert explorer._ends[0].get_text() == f"{-scale:.0f}"
    assert 0.3 * scale < np.abs(effect[known]).max() <= scale
    assert explorer.view.node_deg == pytest.approx(want.node_deg, abs=0.05)
    assert explorer._node.get_ydata()[0] == explorer.view.node_deg
    at = [int(np.flatnonzero(np.isclose((angles - turn) % 360.0, 0.0))[0]) for turn in DIRECTIONS]
    assert effect[:, at][:, : len(DIRECTIONS)][known[:, at][:, : len(DIRECTIONS)]] == pytest.approx(
        explorer.view.effect_s_per_day[np.isfinite(explorer.view.effect_s_per_day)], abs=1e-9
    )


def test_a_poised_balance_has_no_map(explorer):
    explorer.sliders["unbalance"].set_val(0.0)
    assert np.abs(np.ma.filled(explorer._image.get_array(), 0.0)).max() < 1e-9
    assert explorer._node_text.get_text() == "poised"


def test_states_are_told_in_words():
    short = movement().with_({"train.ratio": movement().train.ratio / 2.0})
    explorer = oscsim.explore(short, drawn())
    explorer.put({"torque": 50.0})
    want = oscsim.settle(explorer.view.movement, replace(SETTING, condition=explorer.view.condition)).points
    assert (want.state == "stops").any()
    for i, text in enumerate(explorer._states):
        for j, told in enumerate(text.get_text().split(" / ")):
            assert (told == "stops") == (want.state[i, j] == "stops")
    assert "stops" in explorer.text()


def _mouse(explorer, kind, x):
    ax = explorer.sliders["inertia"].ax
    where = ax.transAxes.transform((x, 0.5))
    event = MouseEvent(kind, explorer.figure.canvas, *where, MouseButton.LEFT)
    explorer.figure.canvas.callbacks.process(kind, event)


def test_a_hand_on_the_mouse(explorer, monkeypatch):
    """While the mouse is down the slow points are left open; when it is let go nothing is."""
    asked = []
    real = explorer._ask
    monkeypatch.setattr(
        explorer, "_ask", lambda values, thorough: (asked.append(thorough), real(values, thorough))[1]
    )
    explorer.figure.canvas.draw()
    _mouse(explorer, "button_press_event", 0.3)
    _mouse(explorer, "motion_notify_event", 0.4)
    _mouse(explorer, "motion_notify_event", 0.5)
    _mouse(explorer, "button_release_event", 0.5)
    assert len(asked) >= 3
    assert asked[-1] is True
    assert not any(asked[1:-1])
    middle = 0.5 * (explorer.sliders["inertia"].valmin + explorer.sliders["inertia"].valmax)
    assert explorer.values["inertia"] == pytest.approx(middle, rel=0.02)


def test_drawn_bit_by_bit_as_at_once(explorer):
    """What is drawn over the kept background is what a drawing of everything gives."""
    explorer.figure.canvas.draw()
    explorer.sliders["lock"].set_val(3.3)
    explorer.sliders["torque"].set_val(91.0)
    bits = np.asarray(explorer.figure.canvas.buffer_rgba()).astype(int).copy()
    explorer.figure.canvas.draw()
    whole = np.asarray(explorer.figure.canvas.buffer_rgba()).astype(int)
    assert (np.abs(bits - whole).max(axis=2) > 40).mean() < 1e-3


@pytest.mark.parametrize("name", LEVERS)
def test_every_bundled_design_can_be_explored(name):
    design = oscsim.load(name)
    assert [h.name for h in handles(design)] == list(MOVES)
    own = view(design)
    assert own.points.amplitude_deg == pytest.approx(
        oscsim.settle(design, SETTING).points.amplitude_deg, abs=1e-9
    )
    for handle in handles(design):
        assert handle.low <= handle.value <= handle.high
        for end in (handle.low, handle.high):
            changed, condition = moved(design, {handle.name: end})
            assert (changed != design or condition != oscsim.Condition()) == (end != handle.value)
    assert moved(design, {h.name: h.value for h in handles(design)}) == (design, oscsim.Condition())


def test_open_points_are_the_slow_ones_alone():
    quick, whole = view(movement(), thorough=False), view(movement())
    assert whole.known.all()
    same = quick.run.amplitude_deg[quick.known]
    assert np.array_equal(same, whole.run.amplitude_deg[quick.known], equal_nan=True)
    assert (~quick.known).sum() <= 8


def test_what_cannot_be_moved():
    with pytest.raises(oscsim.InputError, match="'lok': nothing to be moved; did you mean 'lock'"):
        moved(movement(), {"lok": 1.0})
    with pytest.raises(oscsim.InputError, match=r"torque = 200.0 %: out of range, must be from 40 to 140 %"):
        moved(movement(), {"torque": 200.0})
    with pytest.raises(oscsim.InputError, match="jewels = True: not a number"):
        moved(movement(), {"jewels": True})


def test_what_is_refused_moves_nothing(explorer):
    """Unknown names, places beyond the range, half a jewel: one complaint, and sliders that still answer."""
    explorer.put({"torque": 90.0})
    said, origin = explorer.text(), explorer.origin()
    for values in ({"torque": 70.0, "foo": 1.0}, {"torque": math.nan}, {"torque": 500.0}, {"jewels": 12.5}):
        with pytest.raises(oscsim.InputError):
            explorer.put(values)
        assert (explorer.text(), explorer.origin()) == (said, origin)
    explorer.sliders["torque"].set_val(120.0)
    assert "mainspring torque 120 %" in explorer.text()
    assert explorer.text() != said


def test_a_refused_look_leaves_the_old_one_with_its_own_settings(explorer, monkeypatch):
    explorer.put({"torque": 90.0})
    said, origin = explorer.text(), explorer.origin()

    def refuse(values, thorough):
        raise oscsim.InputError("no")

    monkeypatch.setattr(explorer, "_ask", refuse)
    explorer.sliders["torque"].set_val(60.0)
    assert (explorer.text(), explorer.origin()) == (said, origin)
    assert explorer._said.get_text() == "no"


def test_sliders_stay_within_what_a_design_may_have():
    wide = movement().with_({"balance.unbalance_ug_cm": 4000.0})
    for handle in handles(wide):
        for end in (handle.low, handle.high):
            moved(wide, {handle.name: end})


def test_the_command_writes_the_picture(tmp_path, capsys):
    path = tmp_path / "desk.png"
    assert main(["explore", "dockhand", "--slider", "lock=3.4", "jewels=9", "--plot", str(path)]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Dockhand, lock 3.4 deg, jewels 9: fully wound dial up ")
    with Image.open(path) as image:
        told = json.loads(image.text["Description"])
        # moving parts are in the file too: ink in the line of the sentence, and colour in the pictures
        grey = np.asarray(image.convert("L"))
        high, wide = grey.shape
        assert (grey[int(0.07 * high) : int(0.11 * high), : wide // 2] < 100).sum() > 500
    assert told["design_hash"] == movement().design_hash
    assert (told["settings"]["lock"], told["settings"]["jewels"]) == (3.4, 9.0)


def test_without_a_display_one_line(capsys):
    assert main(["explore", "dockhand"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert said.err.startswith("oscsim: explore: no window can be opened")
    assert "--plot FILE" in said.err
    from matplotlib import pyplot

    assert pyplot.get_fignums() == []


@pytest.fixture
def qt_there(tmp_path, monkeypatch):
    """A binding of Qt that can be found, though not imported, and an X display; Qt itself is never started."""
    (tmp_path / "PySide6").mkdir()
    (tmp_path / "PySide6" / "__init__.py").write_text("raise AssertionError('Qt was started')\n", "utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.setenv("DISPLAY", ":77")
    for name in ("MPLBACKEND", "QT_QPA_PLATFORM", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(window.sys, "platform", "linux")
    monkeypatch.setattr(window, "find_library", lambda name: None)
    found = window.find_spec
    monkeypatch.setattr(
        window, "find_spec", lambda name: None if name in ("_tkinter", "PyQt6") else found(name)
    )


def test_qt_without_its_library_of_the_system_is_told_before_it_ends_the_process(qt_there, capsys):
    """Qt 6.5 and later abort the process where libxcb-cursor0 is missing (Qt's notes on Linux/X11 requirements, from
    memory), which no program can catch."""
    assert main(["explore", "dockhand"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert "needs libxcb-cursor.so.0 of the system" in said.err
    assert "apt install libxcb-cursor0" in said.err


def test_any_library_that_the_plug_in_of_qt_lacks_is_named(qt_there, tmp_path):
    """With libxcb-cursor0 there and libxcb-icccm4 not, Qt 6.12 ends the process as well (seen); ctypes, which asks the
    system's own loader, says which it is."""
    place = tmp_path / "PySide6" / "Qt" / "plugins" / "platforms"
    place.mkdir(parents=True)
    (place / "libqxcb.so").write_bytes(b"no library")
    assert window.qt_lacks().endswith("libqxcb.so")


def test_tk_is_taken_where_qt_cannot_and_nobody_asked_for_qt(qt_there, monkeypatch):
    before = matplotlib.get_backend()
    monkeypatch.setattr(window, "find_spec", lambda name: window.qt_lacks if name == "_tkinter" else None)
    monkeypatch.setattr(window, "qt_lacks", lambda: "libxcb-cursor.so.0")
    taken = []
    monkeypatch.setattr(matplotlib, "use", taken.append)
    window.choose_toolkit()
    assert taken == ["tkagg"]
    monkeypatch.setenv("MPLBACKEND", "qtagg")
    with pytest.raises(InputError, match="toolkit Qt needs"):
        window.choose_toolkit()
    assert matplotlib.get_backend() == before


@pytest.mark.parametrize(
    ("screen", "size", "share"),
    [((1920, 1080), None, 1.0), ((1366, 768), (12.5, 6.9), 0.94), ((800, 600), (11.27, 6.9), 0.69)],
)
def test_the_window_is_no_larger_than_the_screen(screen, size, share):
    """Seen in a window at 1366 × 768: the lowest pictures began below its edge."""

    class Tk:
        winfo_screenwidth = staticmethod(lambda: screen[0])
        winfo_screenheight = staticmethod(lambda: screen[1])
        winfo_fpixels = staticmethod(lambda _length: 96.0)

    figure = drawn()
    figure.canvas.manager = SimpleNamespace(window=Tk)
    fitting = window._fitting(figure)
    assert (fitting is None) == (size is None)
    if fitting is not None:
        assert fitting[0] == pytest.approx(size, abs=0.06)
        assert fitting[1] == pytest.approx(100.0 * share, abs=1.5)
        assert fitting[0][0] * fitting[1] <= screen[0]
        assert fitting[0][1] * fitting[1] <= screen[1] - 100


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("MPLBACKEND", "tkagg"),
        ("QT_QPA_PLATFORM", "offscreen"),
        ("WAYLAND_DISPLAY", "wayland-0"),
        ("DISPLAY", ""),
    ],
)
def test_where_qt_needs_no_such_library_nothing_is_said_of_it(qt_there, monkeypatch, name, value):
    monkeypatch.setenv(name, value)
    assert window.qt_lacks() == ""


def test_where_the_library_is_there_nothing_is_said_of_it(qt_there, monkeypatch):
    monkeypatch.setattr(window, "find_library", lambda name: f"lib{name}.so.0")
    assert window.qt_lacks() == ""


@pytest.mark.parametrize("given", ["torqe=3", "torque=1000", "torque=nan", "torque=much", "torque"])
def test_bad_places_of_sliders(given, capsys):
    assert main(["explore", "dockhand", "--slider", given, "--plot", "never.png"]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_rates_of_a_view_are_finite_where_it_runs():
    assert not math.isnan(view(movement()).node_deg)
    assert module.FALLING == ("CH", "12H")


def test_no_rate_is_told_where_it_knocks():
    """At the horn it gains by the minute (settle); the rate of a swing without a horn is none that it has."""
    seen = view(oscsim.load("dockhand").with_({"balance.inertia_mg_cm2": 9.0}))
    assert seen.points.state[[0, 2], 0].tolist() == ["knocks", "running"]
    rate = seen.points.rate_s_per_day[2, 0]
    assert f"Rates fully wound knocks and {rate:+.1f} s/day" in explore_page._sentence(seen)
