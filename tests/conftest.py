"""Shared by all tests: pictures without a screen, and how long hypothesis may look for a counterexample."""

import os

os.environ["MPLBACKEND"] = "Agg"
# the processes of the tests share the cores, not threads
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import pytest
from hypothesis import HealthCheck, settings

from tests.sizes import NIGHTLY, size

# The same examples at every run in CI; `HYPOTHESIS_PROFILE=nightly` looks further and elsewhere.
settings.register_profile("ci", max_examples=25, deadline=None, derandomize=True)
settings.register_profile(
    "nightly", max_examples=size(25, 2000), deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci"))


#: What takes more than some seven seconds of processor time, longest first (``--durations=80`` shows it).
LONGEST = (
    "tests/outside",
    "tests/page/test_in_browser.py",
    "tests/test_studies.py",
    "tests/bench/test_sketch.py",
    "tests/properties/test_any_command.py",
    "tests/independent/test_engine_against_integrator.py",
    "tests/bench/test_poise.py",
    "tests/answers/test_ratemap.py",
    "tests/test_origin.py",
    "tests/bench/test_slip_world.py",
    "tests/motion/test_transient.py",
    "tests/answers/test_band.py",
    "tests/properties/test_extremes.py",
    "tests/bench/test_diagnose.py",
    "tests/page/test_against_engine.py",
    "tests/answers/test_swap.py",
    "tests/teaching/test_panels.py",
    "tests/test_several.py",
    "tests/test_bad_input.py",
    "tests/answers/test_compare.py",
    "tests/answers/test_any_movement.py",
    "tests/properties/test_more_and_less.py",
    "tests/test_interrupted.py",
    "tests/show/test_explore.py",
    "tests/test_lesson.py",
    "tests/independent/test_rundown.py",
    "tests/show/test_plots.py",
    "tests/bench/test_filled.py",
    "tests/bench/test_bench_pages.py",
    "tests/theory",
    "tests/independent/test_hairspring.py",
    "tests/answers/test_rundown.py",
    "tests/motion/test_rebound.py",
    "tests/bench/test_ripple.py",
)


@pytest.hookimpl(tryfirst=True)
def pytest_cmdline_main(config):
    """The whole suite runs on every core where pytest-xdist is there and nobody said ``-n``; single files run in this
    process."""
    whole = config.args_source is config.ArgsSource.TESTPATHS and not hasattr(config, "workerinput")
    asked = config.getoption("numprocesses", 0) is not None or config.getoption("usepdb", False)
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    if whole and not asked and cores > 1:
        config.option.numprocesses = min(cores, 8)


#: What is computed once for several files, which one process runs: (name in LONGEST, files ...).
SAME = (
    ("tests/outside", "tests/outside/"),  # they write one book
    (
        "tests/test_origin.py",
        "tests/test_origin.py",
        "tests/test_text.py",
        "tests/test_threads.py",
    ),  # answers/every.py
    ("tests/theory", "tests/theory/", "tests/test_manual.py"),  # the derivations
)


def together(nodeid):
    """What one process runs: a file's tests, and those of the files that share what they computed."""
    file = nodeid.split("::")[0]
    for first, *others in SAME:
        if any(file.startswith(one) for one in others):
            return first
    return file


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config, items):
    """On several processes what takes longest comes first, so that none is left alone with it at the end."""
    if hasattr(config, "workerinput"):
        place = {file: number for number, file in enumerate(LONGEST)}
        items.sort(key=lambda item: place.get(together(item.nodeid), len(place)))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """Work is given out in the order of the tests, not by their number."""
    from xdist.scheduler import LoadScopeScheduling

    class Together(LoadScopeScheduling):
        _split_scope = staticmethod(together)

    config.option.loadscopereorder = False
    return Together(config, log)


@pytest.fixture(scope="module")
def briefly():
    """Watches that wander are followed for 50 periods in place of 500, but at night: for tests that ask what
    state is told and not how far they wander."""
    from oscsim.motion.settle import settle

    with pytest.MonkeyPatch.context() as patch:
        if not NIGHTLY:
            patch.setitem(settle.__kwdefaults__, "followed", (30, 20))
        yield


@pytest.fixture
def command(capsys):
    """Runs the command line in this process; returns (exit code, standard output, standard error)."""
    from oscsim import cli

    def run(*arguments):
        capsys.readouterr()
        try:
            code = cli.main([str(argument) for argument in arguments])
        except SystemExit as end:  # --help and --version
            code = end.code
        out, err = capsys.readouterr()
        return code, out, err

    return run


@pytest.fixture
def refusal(command):
    """Runs the command line on bad input and returns its complaint, having held it to the common rules."""

    def run(*arguments):
        code, out, err = command(*arguments)
        assert code == 2
        assert out == ""
        assert err.startswith("oscsim: ")
        assert err.endswith("\n")
        assert err.count("\n") == 1
        assert len(err) < 1000
        assert "Traceback" not in err
        assert err[:-1].isprintable()
        return err

    return run
