"""Shared by all tests: pictures without a screen, and how long hypothesis may look for a counterexample."""

import os
from pathlib import Path

os.environ["MPLBACKEND"] = "Agg"

import pytest
from hypothesis import HealthCheck, settings

# The same examples at every run in CI; `HYPOTHESIS_PROFILE=nightly` looks further and elsewhere.
settings.register_profile("ci", max_examples=40, deadline=None, derandomize=True)
settings.register_profile(
    "nightly", max_examples=2000, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci"))


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """On several processes (pytest-xdist with --dist loadgroup) a file's tests stay together, since they share what they
    computed, and so do all outside checks, which write one book."""
    here = Path(__file__).parent
    for item in items:
        name = "outside" if item.path.parent == here / "outside" else item.path.relative_to(here).as_posix()
        item.add_marker(pytest.mark.xdist_group(name))


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
