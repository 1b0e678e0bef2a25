"""What every result promises: it prints, it gives itself to programs, it draws where it is told."""

import csv
import dataclasses
import inspect
import io
import json
import math
import sys

import numpy as np
import pytest
from matplotlib import pyplot
from matplotlib.axes import Axes
from matplotlib.figure import Figure

import oscsim
from oscsim.answers.result import Result
from oscsim.answers.view import VIEWS
from oscsim.output import plain
from oscsim.show import plots
from tests.movements import REFERENCE

POSITIONS, HOURS = ["CH", "12H"], [0, 24, 5000]


@pytest.fixture(scope="module")
def movement():
    return oscsim.load(REFERENCE / "heavy.toml")


@pytest.fixture(scope="module")
def settled(movement):
    return oscsim.settle(movement, oscsim.Setting(positions=POSITIONS, hours=HOURS))


@pytest.fixture(scope="module")
def rundown(movement):
    return oscsim.rundown(movement, oscsim.Setting(positions=POSITIONS), step_h=4)


@pytest.fixture(params=["settled", "rundown"])
def result(request):
    return request.getfixturevalue(request.param)


def _leaves(value):
    if isinstance(value, dict):
        assert all(type(key) is str for key in value)
        value = list(value.values())
    if isinstance(value, list):
        for inner in value:
            yield from _leaves(inner)
    else:
        yield value


def test_to_dict_is_plain(result):
    tables = result.to_dict()
    assert (tables["design"], tables["version"]) == ("heavy balance, deep lock", oscsim.__version__)
    for leaf in _leaves(tables):
        assert type(leaf) in (float, str, bool, int, type(None))
        assert not (isinstance(leaf, float) and not math.isfinite(leaf))


def test_to_json_is_to_dict(result):
    assert json.loads(result.to_json()) == result.to_dict()
    assert result.to_json().endswith("}\n")


def test_to_csv_is_a_table_with_units_in_its_heads(result):
    rows = list(csv.DictReader(io.StringIO(result.to_csv())))
    assert len(rows) == len(result.rows()) == result.points.code.size
    units = ("_deg", "_s_per_day", "_ms", "_n_mm", "_n_m", "_rad", "_percent")
    for head in rows[0]:
        assert head in ("position", "hours", "state", "failure", "turns", "stability") or head.endswith(units)
    for row in rows:
        stopped = row["state"] == "stops"
        assert (row["amplitude_deg"] == "") == stopped
        assert stopped or math.isfinite(float(row["amplitude_deg"]))


def test_prints_readably(result):
    assert str(result) == result.text()
    assert "heavy balance, deep lock" in str(result)
    assert max(len(line) for line in str(result).splitlines()) <= 120


def test_numbers_are_those_of_the_points(settled, rundown):
    for row in settled.to_dict()["points"]:
        i, j = POSITIONS.index(row["position"]), HOURS.index(row["hours"])
        for name in ("amplitude_deg", "rate_s_per_day", "beat_error_ms", "residual_rad", "escape_torque_n_m"):
            value = getattr(settled.points, name)[i, j]
            assert row[name] == value or (row[name] is None and np.isnan(value))
        assert row["state"] == settled.points.state[i, j]
    tables = rundown.to_dict()
    assert tables["hours"] == rundown.hours.tolist()
    assert list(tables["stop_hours"].values()) == rundown.stop_hours.tolist()
    assert tables["curves"]["12H"]["amplitude_deg"] == plain(rundown.points.amplitude_deg[1])


def test_every_point_carries_state_and_residual(settled, rundown):
    for points in (settled.points, rundown.points):
        running = points.has(oscsim.State.RUNNING)
        stops = points.has(oscsim.State.STOPS)
        assert running.any()
        assert stops.any()
        assert (running | stops).all()
        assert (points.residual_rad[running] <= 1e-10).all()
        assert np.isnan(points.residual_rad[stops]).all()
        assert set(points.state[running]) == {"running"}
        # docs/physics.md §2: 1e-10 rad at every point reported as running, and it settles
        assert (points.stability[running] < 1.0).all()


def test_plain():
    given = {
        1: np.float64(2.5),
        "b": [np.int8(3), math.nan, np.inf, np.bool_(True)],
        "c": np.zeros(2),
        "d": None,
    }
    assert plain(given) == {"1": 2.5, "b": [3, None, None, True], "c": [0.0, 0.0], "d": None}
    assert plain("text") == "text"


def _drawings():
    """Every public plot function with the kind of result it draws."""
    for name, function in inspect.getmembers(plots, inspect.isfunction):
        if name.startswith("plot_"):
            yield name, function, "rundown" if "rundown" in name else "settled"


@pytest.fixture
def new_figures(monkeypatch):
    """Figures made from here on."""
    made, real = [], Figure.__init__

    def counted(self, *arguments, **options):
        made.append(self)
        real(self, *arguments, **options)

    monkeypatch.setattr(Figure, "__init__", counted)
    monkeypatch.setattr(pyplot, "show", lambda *_, **__: pytest.fail("a window was opened"))
    return made


@pytest.mark.parametrize(
    ("name", "function", "kind"), list(_drawings()), ids=lambda value: value if type(value) is str else ""
)
def test_plot_contract(name, function, kind, request, new_figures):
    answer = request.getfixturevalue(kind)
    assert list(inspect.signature(function).parameters) == ["answer", "ax"]
    figure = Figure()
    given = figure.add_subplot()
    assert function(answer, ax=given) is given
    assert new_figures == [figure]
    assert figure.axes == [given]
    own = function(answer)
    assert isinstance(own, Axes)
    assert new_figures == [figure, own.figure]
    assert pyplot.get_fignums() == []
    for ax in (given, own):
        assert any(unit in ax.get_ylabel() for unit in (", deg", ", s/day"))
        assert ax.get_xlabel().endswith(", h") or kind == "settled"
        assert ax.lines
        ax.figure.canvas.draw()


def test_methods_draw_too(result, new_figures):
    figure = Figure()
    given = figure.add_subplot()
    assert result.plot(ax=given) is given
    assert result.plot(given) is given
    assert new_figures == [figure]
    assert isinstance(result.plot(), Axes)
    assert pyplot.get_fignums() == []


def test_drawn_curves_are_the_numbers(rundown):
    lines = rundown.plot().lines[: len(POSITIONS)]
    for line, amplitude, stop in zip(
        lines, rundown.points.shown_amplitude_deg, rundown.stop_hours, strict=True
    ):
        hours, drawn = line.get_xdata(), line.get_ydata()
        at = np.isin(hours, rundown.hours)
        assert np.array_equal(drawn[at], amplitude[np.isfinite(amplitude)])
        # and up to the stop: no step of the drawn amplitude is coarse, the last is just above the fork's reach
        assert stop - 0.01 < hours[-1] < stop
        assert np.abs(np.diff(drawn)).max() < 25.0
        assert drawn[-1] < 40.0


@pytest.mark.parametrize("wind", [{"hours": 24}, {"turns": 3}])
def test_a_run_down_has_its_own_hours(wind, movement):
    with pytest.raises(oscsim.InputError, match=f"{next(iter(wind))} = .*its own hours, leave it out"):
        oscsim.rundown(movement, oscsim.Setting(**wind))


@pytest.mark.parametrize("step", [0, -1, 0.009, 101, math.nan, "1", None, True])
def test_steps_that_cannot_be(step, movement):
    with pytest.raises(oscsim.InputError, match=r"step_h = .*must be from 0\.01 to 100 h"):
        oscsim.rundown(movement, step_h=step)


def test_a_step_too_fine_for_a_long_run(movement):
    long = movement.with_({"train.ratio": 50000.0, "balance.beats_per_hour": 3600})
    with pytest.raises(oscsim.InputError, match=r"step_h = 0\.01 h: too fine"):
        oscsim.rundown(long, step_h=0.01)


def test_every_result_is_a_result():
    assert issubclass(oscsim.Settle, Result)
    assert issubclass(oscsim.RunDown, Result)


@pytest.mark.parametrize("name", ["$\\nothing$", "50 $ or $60", "a\x1b[31m\nb", "時計", "long " * 100])
def test_any_name_can_be_drawn_and_printed(name, movement, tmp_path):
    answer = oscsim.rundown(movement.with_({"name": name}), oscsim.Setting(), step_h=20)
    plots.save_figure(plots.rundown_figure(answer), tmp_path / "down.png")
    assert (tmp_path / "down.png").stat().st_size > 10_000
    assert answer.to_dict()["design"] == name
    assert "\x1b" not in str(answer)
    assert "\x1b" not in str(oscsim.settle(answer.movement))


@pytest.mark.parametrize("kind", [getattr(oscsim, name) for name in VIEWS])
def test_results_are_made_by_keyword(kind):
    own = [f for f in dataclasses.fields(kind) if f.name not in ("movement", "setting")]
    assert own
    assert all(f.kw_only for f in own)


#: Functions of a movement.
OF_A_DESIGN = [
    name
    for name in oscsim.__all__
    if inspect.isfunction(getattr(oscsim, name))
    and next(iter(inspect.signature(getattr(oscsim, name)).parameters), "")
    in ("movement", "first", "designs")
    and name not in ("save", "dumps")
]


def test_wherever_a_movement_is_taken_a_name_or_a_path_will_do(movement, tmp_path):
    path = REFERENCE / "heavy.toml"
    asked = oscsim.settle(movement)
    for design in (path, str(path)):
        assert oscsim.settle(design).to_json() == asked.to_json()
    assert oscsim.settle("packet").design_hash == oscsim.load("packet").design_hash
    assert oscsim.compare(["packet", path]).designs == (oscsim.load("packet"), movement)
    assert len(OF_A_DESIGN) > 15
    for name in OF_A_DESIGN:
        function = getattr(oscsim, name)
        first = next(iter(inspect.signature(function).parameters.values()))
        assert "PathLike" in str(first.annotation) or "Design" in str(first.annotation), name
    with pytest.raises(oscsim.InputError, match="did you mean 'dockhand'"):
        oscsim.settle("dockhnd")
    with pytest.raises(oscsim.InputError, match="design 3: must be a movement"):
        oscsim.settle(3)


@pytest.mark.parametrize(
    "name", [name for name in oscsim.__all__ if inspect.isfunction(getattr(oscsim, name))]
)
def test_help_shows_no_array(name):
    """Defaults are a word or a number: what None stands for is told in the docstring."""
    function = getattr(oscsim, name)
    for parameter in inspect.signature(function).parameters.values():
        assert parameter.default is inspect.Parameter.empty or len(repr(parameter.default)) < 30, parameter


def test_whole_files_of_csv_and_json(settled, tmp_path):
    for name, write in (("a.csv", settled.to_csv), ("a.json", settled.to_json)):
        assert write(tmp_path / name) == write()
        assert (tmp_path / name).read_text("utf-8") == write()
    with pytest.raises(oscsim.InputError, match="cannot be written"):
        settled.to_csv(tmp_path / "none" / "a.csv")


def test_data_frames(settled):
    pandas = pytest.importorskip("pandas")
    frame = settled.to_dataframe()
    assert list(frame.columns) == list(settled.rows()[0])
    pandas.testing.assert_frame_equal(
        frame[["amplitude_deg"]], pandas.read_csv(io.StringIO(settled.to_csv()))[["amplitude_deg"]]
    )


def test_data_frames_without_pandas(settled, monkeypatch):
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(ImportError, match=r"oscsim\[pandas\]"):
        settled.to_dataframe()
