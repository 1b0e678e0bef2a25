"""Tables and pictures of the motion in time: they show what the trace holds, in the units they name.

Numbers are compared with the independent integration in time (tests/independent), not with the trace itself, where
one stands in the text.
"""

import inspect
import math
import re

import matplotlib.pyplot as plt
import numpy as np
import pytest
from matplotlib.figure import Figure

from oscsim import Setting, trace, transient
from oscsim.show import trace_plots
from oscsim.show.trace_tables import transient_sentence
from tests.independent import integrator as it
from tests.independent.designs import MOVEMENTS, TABLES

SETTING = Setting(positions="9H", hours=12.0)
OP = it.operating(TABLES["heavy"], "9H", 12.0)


@pytest.fixture(scope="module")
def settled():
    return trace(MOVEMENTS["heavy"], SETTING)


@pytest.fixture(scope="module")
def shock():
    return transient(MOVEMENTS["heavy"], SETTING, swing_deg=900.0, duration_s=8.0)


# ------------------------------------------------------------------------------------------------ tables


def test_phases_in_the_table(settled):
    """Times, speeds and energies of both beats, read back out of the text."""
    text, swing = str(settled), math.radians(settled.swing_deg)
    assert "heavy balance, deep lock" in text
    assert "9 up, 12 h since full wind" in " ".join(text.split())
    for number, side in ((1, 1), (2, -1)):
        one = it.beat(OP, swing, side, energy=True)
        rows = {
            line[:23].strip(): line[23:].split()
            for line in text.splitlines()
            if re.match(rf"{number} [a-z]", line)
        }
        assert list(rows) == [
            f"{number} {phase}"
            for phase in (
                "free arc in",
                "unlocking",
                "catch-up",
                "run through the shake",
                "impulse",
                "free arc out",
            )
        ]
        arc, unlocking, impulse = (
            rows[f"{number} {name}"] for name in ("free arc in", "unlocking", "impulse")
        )
        assert float(arc[0]) == pytest.approx(side * math.degrees(one.angles["contact"]), abs=0.0051)
        assert float(arc[1]) == pytest.approx(one.contact * 1e3, abs=0.00051)
        assert float(unlocking[2]) == pytest.approx(side * one.speeds["picked up"], abs=0.0051)
        assert float(impulse[3]) == pytest.approx(side * one.speeds["drop"], abs=0.0051)
        assert float(rows[f"{number} free arc out"][0]) == pytest.approx(
            side * math.degrees(one.next_amplitude), abs=0.0051
        )
        given = sum(float(row[-1]) for row in rows.values() if row[-1] != "-")
        lost = sum(one.energy[name] for name in ("viscous", "quadratic", "dry"))
        gained = (
            0.5 * OP["k"] * (one.next_amplitude**2 - swing**2)
        )  # the heavy point stores less than 1 nJ here
        assert given == pytest.approx((lost + gained) * 1e9, abs=1.0)
        swing = one.next_amplitude
    assert "keeps its swing" in text


def test_lines_are_not_longer_than_a_terminal(settled, shock):
    for answer in (settled, shock, trace(MOVEMENTS["heavy"], SETTING, swing_deg=900.0)):
        assert max(len(line) for line in str(answer).splitlines()) <= 100


def test_words_for_the_ends():
    fast = MOVEMENTS["fast"]
    still = " ".join(str(trace(fast, swing_deg=20.0)).split())
    assert "The swing of 20.0 deg does not reach the fork: the watch stops." in still
    struck = " ".join(str(trace(fast, swing_deg=600.0)).split())
    assert "after a shock that would carry it to 600.0 deg" in struck
    assert "strikes the fork's horn from outside and rebounds" in struck
    assert "the balance loses" in struck
    started = " ".join(str(trace(fast, swing_deg=60.0)).split())
    assert "the balance gains" in started
    assert "does not get through the fork" in str(transient_sentence(transient(fast, swing_deg=0.0)))
    dying = transient(fast, Setting(hours=300.0), swing_deg=60.0)
    assert f"It stops after {dying.time_s[-1]:.2f} s" in str(transient_sentence(dying))
    running = " ".join(str(transient_sentence(transient(fast, swing_deg=200.0, duration_s=5.0))).split())
    assert re.search(r"below the \d+\.\d deg at which it settles", running)


def test_knocks_are_counted(shock):
    text = str(shock)
    count = int(shock.knocked.sum())
    assert count > 1
    assert f"It knocks {count} times" in text
    assert "the impulse pin strikes the fork's horn" in " ".join(text.split())
    rows = [line.split() for line in text.splitlines() if re.match(r"\d+\.\d+ s", line)]
    assert len(rows) == 12
    assert rows[0][:2] == ["0.000", "s"]
    assert {row[3] for row in rows} == {"left"}
    assert int(rows[-1][4]) == count
    for row in rows:
        i = int(np.argmin(np.abs(shock.time_s - float(row[0]))))
        assert float(row[2]) == pytest.approx(shock.swing_deg[i], abs=0.0051)


# ---------------------------------------------------------------------------------------------- pictures

OF_TRACE = {
    "plot_trace": ("time, ms", "angle of the balance, deg"),
    "plot_lift": ("angle of the balance, deg", "angle turned, deg"),
    "plot_phase_portrait": ("angle of the balance, deg", "speed of the balance, rad/s"),
    "plot_torque": ("angle of the balance, deg", "torque on the balance, nN·m"),
    "plot_energy": ("time, ms", "energy, µJ"),
    "plot_energy_change": ("time, ms", "energy since the start of the beat, nJ"),
}


def test_every_picture_is_tested_here():
    public = {
        name for name, _ in inspect.getmembers(trace_plots, inspect.isfunction) if name.startswith("plot_")
    }
    assert public == {*OF_TRACE, "plot_transient"}


def _draw(name, answer, monkeypatch):
    """Into given axes: they come back, nothing else is made and nothing is shown."""
    draw = getattr(trace_plots, name)
    figure = Figure()
    ax = figure.add_subplot()
    with monkeypatch.context() as patch:
        patch.setattr(plt, "show", pytest.fail)
        patch.setattr(trace_plots, "new_axes", lambda ax: ax if ax is not None else pytest.fail("made axes"))
        assert draw(answer, ax=ax) is ax
    assert figure.axes == [ax]
    assert plt.get_fignums() == []
    own = draw(answer)
    assert own.figure is not figure
    figure.canvas.draw()
    return ax


@pytest.mark.parametrize("name", OF_TRACE)
def test_axes_and_units(name, settled, monkeypatch):
    ax = _draw(name, settled, monkeypatch)
    assert (ax.get_xlabel(), ax.get_ylabel()) == OF_TRACE[name]
    assert ax.get_title(loc="left")


@pytest.mark.parametrize("name", OF_TRACE)
def test_no_motion_is_said(name, monkeypatch):
    ax = _draw(name, trace(MOVEMENTS["heavy"], swing_deg=5.0), monkeypatch)
    assert "does not reach the fork" in ax.texts[0].get_text()
    assert not ax.lines


def test_curves_are_the_motion(settled):
    """In bench units: a whole beat by the integrator reaches these angles, speeds and energies."""
    one = it.beat(OP, math.radians(settled.swing_deg), 1)
    (angle,) = [line for line in trace_plots.plot_trace(settled).lines if len(line.get_xdata()) > 2]
    assert angle.get_ydata().max() == pytest.approx(math.degrees(one.next_amplitude), abs=1e-6)
    period = one.time + it.beat(OP, one.next_amplitude, -1).time
    assert angle.get_xdata()[-1] == pytest.approx(period * 1e3, abs=1e-6)

    orbit = trace_plots.plot_phase_portrait(settled).lines
    assert min(line.get_ydata().min() for line in orbit) < -0.98 * max(one.speeds.values())
    assert {line.get_linestyle() for line in orbit} >= {"-", "--", ":"}

    energy = {line.get_label(): line.get_ydata() for line in trace_plots.plot_energy(settled).lines}
    stored = 0.5 * OP["k"] * math.radians(settled.swing_deg) ** 2 * 1e6
    assert energy["wound into the hairspring"][0] == pytest.approx(stored, rel=1e-4)  # the cubic term apart
    assert energy["motion of the balance"].max() == pytest.approx(
        0.5 * OP["I"] * one.speeds["drop"] ** 2 * 1e6, rel=0.01
    )

    change = trace_plots.plot_energy_change(settled).lines[0].get_ydata()
    assert change[0] == 0.0
    impulse = OP["g"] * OP["M_i"] * OP["fork_efficiency"] * (one.angles["drop"] - one.angles["wall"]) * 1e9
    assert 0.8 * impulse < np.ptp(change) < 1.05 * impulse  # friction takes a little even then
    assert abs(change[-1]) < 0.02 * np.ptp(change)  # the other beat makes up for the rest

    torque = {
        line.get_label().split(",")[0]: line.get_ydata() for line in trace_plots.plot_torque(settled).lines
    }
    drive = OP["g"] * OP["M_i"] * OP["fork_efficiency"] * 1e9
    assert torque["escapement"].max() == pytest.approx(drive, rel=1e-9)
    assert torque["hairspring"][0] == pytest.approx(OP["k"] * math.radians(settled.swing_deg) * 1e9, rel=1e-3)


def test_transient_picture(shock, monkeypatch):
    ax = _draw("plot_transient", shock, monkeypatch)
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("time, s", "swing, deg")
    curves = {line.get_label(): line for line in ax.lines}
    assert len(curves["swing"].get_xdata()) == len(shock.time_s)
    assert len(curves["knocks"].get_xdata()) == shock.knocked.sum()
    assert f"settles at {shock.settled_deg:.1f} deg" in [text.get_text() for text in ax.texts]
    # what stays near the settled swing is drawn near, a start from rest from nothing
    low, high = ax.get_ylim()
    assert low > 0.5 * min(shock.swing_deg)
    assert low < min([*shock.swing_deg, shock.settled_deg]) < max(shock.swing_deg) < high
    started = _draw("plot_transient", transient(MOVEMENTS["heavy"], swing_deg=80.0), monkeypatch)
    assert started.get_ylim()[0] == 0.0
    for answer in (
        transient(MOVEMENTS["heavy"], swing_deg=0.0),
        transient(MOVEMENTS["heavy"], Setting(hours=200.0), swing_deg=80.0),
    ):
        _draw("plot_transient", answer, monkeypatch)


def test_teaching_sheet(settled):
    figure = trace_plots.trace_figure(settled)
    assert len(figure.axes) == 6
    assert {ax.get_ylabel() for ax in figure.axes} == {labels[1] for labels in OF_TRACE.values()}
    assert plt.get_fignums() == []


def test_small_swings_leave_no_inset():
    """Where the orbits fill the middle of the phase portrait, nothing is laid over them."""
    spiral = trace(MOVEMENTS["heavy"], swing_deg=60.0, beats=10)
    assert not trace_plots.plot_phase_portrait(spiral).child_axes
    assert len(trace_plots.plot_phase_portrait(trace(MOVEMENTS["heavy"])).child_axes) == 1


@pytest.mark.parametrize("design", ["dockhand", "bollard", "pilot"])
def test_every_kind_of_escapement_is_drawn(design):
    """Each phase of lever and detent has its look, and the table names what lets the wheel go."""
    answer = trace(design)
    figure = answer.figure()
    key = {text.get_text() for ax in figure.axes if ax.get_legend() for text in ax.get_legend().get_texts()}
    assert {"unlocking", "impulse"} <= key
    release = "detent" if design == "pilot" else "lever"
    assert release in key
    assert f"{release} deg" in str(answer)
    assert ("fork" in str(answer)) == (design != "pilot")
    plt.close(figure)
