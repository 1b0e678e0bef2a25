"""Pictures whose words and lines once stood in one another's way or ran out of the picture."""

from dataclasses import replace

import numpy as np
import pytest

import oscsim
from oscsim.show.plots import plot_rundown, plot_rundown_rate, rundown_figure
from oscsim.show.together_plots import together_figure

from ..sizes import NIGHTLY

NAMES = ("W" * 70, "é" * 70, "$x$ two " * 9, "W " * 35)
WORN = oscsim.Setting(tilt_deg=10.0, condition=oscsim.Condition(oil_age_years=5.0, drag=1.2, pivot_flat=1.3))


def dockhand(name="Dockhand"):
    return replace(oscsim.load("dockhand"), name=name)


def titles_inside(figure):
    """Every title lies within its own part of the drawn figure."""
    figure.draw_without_rendering()
    for ax in figure.axes:
        box, spec = ax.title.get_window_extent(), ax.get_subplotspec()
        left = ax._left_title.get_window_extent()
        end = figure.bbox.width * spec.colspan.stop / spec.get_gridspec().ncols
        assert max(box.x1, left.x1) <= end
        assert max(box.y1, left.y1) <= figure.bbox.height


@pytest.fixture(scope="module")
def answers():
    """What is drawn under every name, found once."""
    one = dockhand()
    return {
        "settle": oscsim.settle(one, WORN),
        "budget": oscsim.budget(one),
        "compare": oscsim.compare([one, dockhand("É" * 70)], WORN),
        "trace": oscsim.trace(one),
        "rundown": oscsim.rundown(one),
    }


@pytest.mark.parametrize("name", NAMES, ids=("wide", "accents", "dollars", "words"))
def test_long_names_are_broken_and_not_cut(name, answers):
    from oscsim.show.trace_plots import trace_figure

    movement = dockhand(name)
    compared = answers["compare"]
    titles_inside(replace(answers["settle"], movement=movement).plot().figure)
    if (
        name != NAMES[0] and not NIGHTLY
    ):  # one hand breaks all titles: by day the widest name alone meets every picture
        return
    for answer in (
        replace(answers["budget"], movement=movement),
        replace(compared, movements=(movement, *compared.movements[1:])),
    ):
        titles_inside(answer.plot().figure)
    titles_inside(trace_figure(replace(answers["trace"], movement=movement)))
    titles_inside(rundown_figure(replace(answers["rundown"], movement=movement)))


def test_compared_designs_say_the_circumstances():
    packet, third = oscsim.load("packet"), oscsim.load("ferryman")
    for movements in ([dockhand(), packet], [dockhand(), packet, third]):
        ax = oscsim.compare(movements, WORN).plot()
        titles_inside(ax.figure)
        told = ax.get_title(loc="left")
        assert told.count("dial tilted 10 deg") == 1
        assert " ".join(told.split()).count("time since the movement was oiled 5 years") == 1
        assert "\n" in told


def test_no_curve_runs_through_the_key_of_a_what_if():
    ax = oscsim.whatif(dockhand(), {"train.jewels": np.linspace(7.0, 17.0, 3)}).plot()
    ax.figure.draw_without_rendering()
    key = ax.get_legend().get_window_extent()
    for line in ax.get_lines():
        if line.get_label() in [text.get_text() for text in ax.get_legend().get_texts()]:
            assert line.get_window_extent().y1 < key.y0


def test_run_down_shades_from_the_last_stop_and_owns_up_to_what_leaves():
    answer = oscsim.rundown(dockhand())
    first, last = answer.stop_hours.min(), answer.stop_hours.max()
    ax = plot_rundown(answer)
    assert f"stops {first:.1f} to {last:.1f} h " in [text.get_text() for text in ax.texts]
    assert ax.patches[0].get_window_extent().x0 == pytest.approx(ax.transData.transform((last, 0.0))[0])
    assert "off the scale" in plot_rundown_rate(answer).get_title(loc="right")
    kept = answer.points.at_hours(answer.hours < 20.0)
    early = replace(answer, hours=answer.hours[answer.hours < 20.0], points=kept)
    assert plot_rundown_rate(early).get_title(loc="right") == ""


def test_the_lowest_band_of_a_diagnosis_does_not_lie_on_the_axis():
    rows = (oscsim.Reading("CH", 0.0, 215.0), oscsim.Reading("12H", 0.0, 190.0))
    ax = oscsim.diagnose(dockhand(), oscsim.Readings(rows)).plot()
    assert ax.get_ylim()[0] < min(bar.get_y() for bar in ax.patches)


def test_a_mean_of_zero_has_no_sign():
    from oscsim.answers.regulate import regulate

    words = oscsim.rates(regulate(dockhand())).plot().get_legend().get_texts()
    assert not any("-0.0" in text.get_text() or "+0.0" in text.get_text() for text in words)


def test_several_designs_in_one_picture(tmp_path, command):
    picture = tmp_path / "all.png"
    code, out, _ = command("rundown", "dockhand", "packet", "--step", "8", "--together", str(picture))
    assert code == 0
    assert "Dockhand" in out
    assert picture.stat().st_size > 10_000
    answers = [oscsim.rundown(oscsim.load(name), step_h=8) for name in ("dockhand", "packet")]
    (ax,) = together_figure(answers).axes
    assert [text.get_text() for text in ax.get_legend().get_texts()] == ["Dockhand", "Packet"]
    assert len(ax.lines) == 4  # dial up and 12 up of each
    for answer, line in zip(answers, ax.lines[::2], strict=True):
        assert line.get_ydata()[0] == answer.points.at("CH", 0).shown_amplitude_deg
        assert answer.stop_hours[0] - 0.01 < line.get_xdata()[-1] < answer.stop_hours[0]


def test_what_is_not_drawn_together_is_refused():
    budget = oscsim.budget(dockhand())
    with pytest.raises(oscsim.InputError, match="Budget is drawn design by design"):
        together_figure([budget, budget])
    with pytest.raises(oscsim.InputError, match="at most 6"):
        together_figure([oscsim.settle(dockhand())] * 7)


def test_readings_lie_on_the_predicted_band():
    readings = oscsim.load_readings("packet_dirty_pivots")
    answer = oscsim.tolerance(oscsim.load("packet"), examples=40, sobol=False, readings=readings)
    assert set(answer.setting.positions) == {row.position for row in readings.rows}
    (line,) = [line for line in answer.plot().lines if line.get_marker() == "s"]
    assert line.get_ydata().tolist() == [row.amplitude_deg for row in readings.rows]
    names = [f"{row.position} {row.hours:g} h" for row in readings.rows]
    columns = [f"{symbol} {hour:g} h" for symbol in answer.setting.positions for hour in answer.hours]
    assert [columns[round(x + 0.11)] for x in line.get_xdata()] == names
    assert answer.to_dict()["settings"]["readings_source"].startswith("packet_dirty_pivots")


def test_names_of_designs_that_stand_close_do_not_lie_on_one_another():
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    from oscsim.show.tradeoff_plots import named

    figure = Figure(figsize=(8.0, 5.0), layout="constrained")
    canvas = FigureCanvasAgg(figure)
    ax = figure.add_subplot()
    ax.set_xlim(140.0, 240.0)
    ax.set_ylim(0.0, 70.0)
    named(ax, {"Packet": (235.0, 12.0), "Tidewaiter": (238.0, 10.9), "Dinghy": (185.0, 2.2)})
    canvas.draw()
    boxes = [text.get_window_extent() for text in ax.texts]
    assert len(boxes) == 3
    assert not any(a.overlaps(b) for n, a in enumerate(boxes) for b in boxes[n + 1 :])


def test_the_key_of_a_hairspring_s_rates_lies_on_no_line():
    from oscsim.show.hairspring_plots import plot_hairspring

    ax = plot_hairspring(oscsim.hairspring("tidewaiter", amplitudes_deg=[200.0, 260.0]))
    ax.figure.canvas.draw()
    key = ax.get_legend().get_window_extent()
    assert not key.overlaps(ax.get_window_extent())
    assert not key.overlaps(ax.xaxis.label.get_window_extent())
    assert key.y0 >= 0.0
