"""The printed functions are the derivation: same text, same numbers, and no SymPy at run time."""

import functools
import inspect
import re
import subprocess
import sys

import numpy as np
import pytest

from oscsim import theory
from oscsim.theory import generated

FUNCTIONS = {
    name: function
    for name, function in vars(generated).items()
    if inspect.isfunction(function) and function.__module__ == generated.__name__
}


@functools.cache
def printed():
    """What is derived and printed, by name. Deriving takes seconds: not while tests are being collected."""
    from oscsim.theory.formulas import DERIVED

    return {item.name: item for item in DERIVED if item.arguments}


def test_text_is_what_the_generator_prints():
    import sympy as sp

    from oscsim.theory import generate

    written = generate.TARGET.read_text(encoding="utf-8")
    if f"(SymPy {sp.__version__})" not in written:
        pytest.skip("generated.py was printed by another SymPy, which may order terms otherwise")
    assert written == generate.module_text()


@pytest.mark.parametrize("name", FUNCTIONS)
def test_numbers_are_those_of_lambdify(name):
    import sympy as sp

    # Outside: sympy.lambdify on mpmath, so neither numpy nor scipy takes part.
    from oscsim.theory.averaging import A

    item, rng = printed()[name], np.random.default_rng(7)
    columns = [
        1 + 4 * rng.random(20) if argument.symbol == A else rng.random(20) for argument in item.arguments
    ]
    derived = sp.lambdify([argument.symbol for argument in item.arguments], item.value(), "mpmath")
    expected = [float(derived(*map(float, point))) for point in zip(*columns, strict=True)]
    assert FUNCTIONS[name](*columns) == pytest.approx(expected, rel=1e-12, abs=1e-15)


@pytest.mark.parametrize("name", FUNCTIONS)
def test_broadcasting_and_refusal(name):
    from oscsim.theory.averaging import A

    item, function = printed()[name], FUNCTIONS[name]
    values = [2.0 if argument.symbol == A else 0.5 for argument in item.arguments]
    one = function(*values)
    assert np.ndim(one) == 0
    grid = function(np.full((3, 1), values[0]), *(np.full(4, value) for value in values[1:]))
    assert grid.shape == ((3, 4) if values[1:] else (3, 1))
    assert np.all(grid == one)
    for place, argument in enumerate(item.arguments):
        spoiled = [*values[:place], [values[place], float("nan")], *values[place + 1 :]]
        with pytest.raises(ValueError, match=rf"^{argument.symbol.name}\[1\] = nan.*: must be finite"):
            function(*spoiled)


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: generated.poise_rate(0.0, 1e-4, 0.0), "A = 0 rad: must be finite and above 0 rad"),
        (lambda: generated.next_swing(1.0, 2.0, 0.0), "beta = 2: must be finite and at least 0 and below 2"),
        (
            lambda: generated.arc_torque_rate([2.0, 1.0], -0.1, 1.5, 1e-3),
            "A = 1, b = 1.5: needs -A <= b <= A in rad, within the swing",
        ),
    ],
)
def test_one_clear_line(call, told):
    with pytest.raises(ValueError, match=f"^{re.escape(told)}$"):
        call()


def test_every_function_is_derived_and_told():
    assert set(FUNCTIONS) == set(printed())
    for function in FUNCTIONS.values():
        told = inspect.getdoc(function)
        assert all(
            word in told for word in ("Formula:", "Parameters", "Returns", "Raises", "Source: derived")
        )


def test_derivations_for_documents(capsys):
    import sympy as sp

    from oscsim.theory.__main__ import main

    listed = theory.derivations()
    names = [name for name, _, _ in listed]
    assert len(set(names)) == len(names)
    assert set(FUNCTIONS) < set(names)
    assert all(meaning.endswith(".") and isinstance(formula, sp.Eq) for _, meaning, formula in listed)
    main([])
    plain = capsys.readouterr().out
    main(["--latex"])
    assert all(name in plain for name in names)
    assert "J_{1}" in capsys.readouterr().out


def test_reduction_to_no_units():
    # Outside: equation (1) over k by hand at one point, with a speed of either sign.
    from oscsim.theory import equation

    values = {equation.inertia: 3.0, equation.k: 2.0, equation.b: 0.1, equation.C: 0.3, equation.M_c: 0.05}
    values |= {
        equation.G: 0.07,
        equation.tau_esc: 0.2,
        equation.kappa: 0.4,
        equation.phi: 0.6,
        equation.x: 1.1,
    }
    w = (2.0 / 3.0) ** 0.5
    reduced = {equation.beta: 0.1 * w / 2, equation.c: 0.1, equation.d: 0.025, equation.gamma: 0.035}
    reduced |= {equation.tau: 0.1, equation.kappa: 0.4, equation.phi: 0.6, equation.x: 1.1}
    for speed in (0.8, -0.8):
        for name, torque in equation.TORQUES.items():
            in_si = float(torque.subs(values | {equation.v: speed}))
            assert float(equation.REDUCED[name].subs(reduced | {equation.v: speed / w})) == pytest.approx(
                in_si / 2
            )


def test_drags_at_first_order():
    import sympy as sp

    # By derivation: no drag of (1) moves the rate at first order, and dE = A dA; two beats make a period.
    from oscsim.theory import losses, rates
    from oscsim.theory.averaging import A

    assert (rates.DRY, rates.QUADRATIC, rates.VISCOUS) == (0, 0, 0)
    for name in losses.DRAGS:
        assert sp.simplify(losses.LOST[name] / 2 - A * losses.AMPLITUDE_LOST[name]) == 0


def test_running_the_theory_loads_no_sympy():
    code = "import sys, oscsim.theory.start, oscsim.theory; sys.exit('sympy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
