"""The derived equations as LaTeX, with the symbols of docs/physics.md."""

import re

import sympy as sp  # type: ignore[import-untyped, unused-ignore]

#: Symbols whose Python names are words.
SYMBOLS = {"fraction": r"\nu", "gap": r"\theta_g", "lift": r"\Lambda", "dv": r"\Delta v"}
_WORD = re.compile(r"_\{([a-z][a-z ]+)\}")


def latex(equation: sp.Eq) -> str:
    """LaTeX of one equation; a word in a subscript stands upright."""
    names = {symbol: SYMBOLS[symbol.name] for symbol in equation.atoms(sp.Symbol) if symbol.name in SYMBOLS}
    printed: str = sp.latex(equation, symbol_names=names, inv_trig_style="full")
    return _WORD.sub(r"_{\\text{\1}}", printed)
