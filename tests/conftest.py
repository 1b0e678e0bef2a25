"""Shared by all tests: pictures without a screen, and how long hypothesis may look for a counterexample."""

import os

os.environ["MPLBACKEND"] = "Agg"
# the processes of the tests share the cores, not threads
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

import pytest
from hypothesis import HealthCheck, settings

# The same examples at every run in CI; `HYPOTHESIS_PROFILE=nightly` looks further and elsewhere.
settings.register_profile("ci", max_examples=40, deadline=None, derandomize=True)
settings.register_profile(
    "nightly", max_examples=2000, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci"))


@pytest.hookimpl(tryfirst=True)
def pytest_cmdline_main(config):
    """The whole suite runs on every core and one process more, so that none is idle at the end, where pytest-xdist is
    there and nobody said ``-n``; single files run in this process."""
    whole = config.args_source is config.ArgsSource.TESTPATHS and not hasattr(config, "workerinput")
    asked = config.getoption("numprocesses", 0) is not None or config.getoption("usepdb", False)
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    if whole and not asked and cores > 1:
        config.option.numprocesses = min(cores + 1, 8)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """On several processes (pytest-xdist) a file's tests stay together, since they share what they computed, and so do
    all outside checks, which write one book."""
    from xdist.scheduler import LoadScopeScheduling

    class Together(LoadScopeScheduling):
        def _split_scope(self, nodeid):
            file = nodeid.split("::")[0]
            return "tests/outside" if file.startswith("tests/outside/") else file

    return Together(config, log)


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
