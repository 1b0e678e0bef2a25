"""Print the derived formulas as numpy functions: `python -m oscsim.theory.generate` writes generated.py."""

import os
from pathlib import Path

import sympy as sp  # type: ignore[import-untyped, unused-ignore]
from sympy.printing.numpy import SciPyPrinter  # type: ignore[import-untyped, unused-ignore]

from oscsim.theory.formulas import DERIVED, Derived

TARGET = Path(__file__).with_name("generated.py")

HEADER = '''\
"""First-order theory as plain numpy functions, vectorised over broadcast arguments.

Made by `python -m oscsim.theory.generate` (SymPy {version}) from the derivations in this package: change
those, not this file. Reduced units: time in 1/omega, torques and energies over k; angles in rad; rates in
s/day, gain positive.
"""
# fmt: off

import numpy
from numpy.typing import ArrayLike

from oscsim.arrays import Array
from oscsim.theory.arguments import real, require
from oscsim.theory.bessel import jv
'''


class _Printer(SciPyPrinter):  # type: ignore[misc, unused-ignore]
    """SymPy's scipy printer, but pi from numpy, Bessel functions from bessel.py, and the lesser of two as a
    ufunc, which broadcasts."""

    def _print_Pi(self, expr: sp.Expr) -> str:
        return "numpy.pi"

    def _print_besselj(self, expr: sp.Expr) -> str:
        order, argument = (self._print(item) for item in expr.args)
        return f"jv({order}, {argument})"

    def _print_Min(self, expr: sp.Expr) -> str:
        first, second = (self._print(item) for item in expr.args)
        return f"numpy.minimum({first}, {second})"


NO_UNIT = "no unit"
PRINT = _Printer().doprint


def function_text(item: Derived) -> str:
    """One function, with its docstring."""
    names = [argument.symbol.name for argument in item.arguments]
    lines = ["", "", f"def {item.name}({', '.join(f'{name}: ArrayLike' for name in names)}) -> Array:"]
    formula = sp.sstr(sp.Eq(item.left, item.scale * item.right))[3:-1].replace(", ", " = ", 1)
    lines += [f'    """{item.meaning}', "", f"    Formula: {formula}", "", "    Parameters", "    ----------"]
    lines += [f"    {arg.symbol.name} : {arg.unit or NO_UNIT}, {arg.meaning}" for arg in item.arguments]
    lines += [
        "",
        "    Returns",
        "    -------",
        f"    {item.unit or NO_UNIT}, of the arguments' broadcast shape",
    ]
    lines += ["", "    Raises", "    ------", "    ValueError"]
    lines += ["        An argument is not finite or out of its range (named with unit and range)."]
    lines += ["", f"    Source: derived from equation (1) in oscsim/theory/{item.source}.py", '    """']
    for argument in item.arguments:
        extra = f", {argument.bounds}" if argument.bounds else ""
        name = argument.symbol.name
        lines.append(f'    {name} = real("{name}", {name}, "{argument.unit}"{extra})')
    for condition, rule in item.requires:
        given = ", ".join(f"{name}={name}" for name in sorted(map(str, condition.free_symbols)))
        lines.append(f'    require({PRINT(condition)}, "{rule}", {given})')
    lines += [f"    {symbol.name} = {PRINT(expression)}" for symbol, expression in item.where]
    lines += [f"    result: Array = {PRINT(item.scale * item.right)}", "    return result"]
    return "\n".join(lines)


def module_text() -> str:
    """The whole of generated.py."""
    functions = "\n".join(function_text(item) for item in DERIVED if item.arguments)
    return HEADER.format(version=sp.__version__) + functions + "\n"


if __name__ == "__main__":
    temporary = TARGET.with_suffix(".tmp")
    temporary.write_text(module_text(), encoding="utf-8")
    os.replace(temporary, TARGET)
    print(f"wrote {TARGET.name}: {sum(bool(item.arguments) for item in DERIVED)} functions")
