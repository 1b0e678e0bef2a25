"""`python -m oscsim.theory [--latex]`: print the derivations for reading, or as LaTeX."""

import argparse

import sympy as sp  # type: ignore[import-untyped, unused-ignore]

from oscsim.theory import derivations
from oscsim.theory.latex import latex


def main(arguments: list[str] | None = None) -> None:
    """Print name, meaning and equation of every derivation, in order."""
    parser = argparse.ArgumentParser(prog="python -m oscsim.theory", description="Print the derived theory.")
    parser.add_argument("--latex", action="store_true", help="print LaTeX instead of plain text")
    as_latex = parser.parse_args(arguments).latex
    for name, meaning, equation in derivations():
        formula = f"\\[ {latex(equation)} \\]" if as_latex else sp.pretty(equation, wrap_line=False)
        print(f"{name}: {meaning}\n\n{formula}\n")


if __name__ == "__main__":
    main()
