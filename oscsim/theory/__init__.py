"""First-order theory of the balance: derived in SymPy, printed as plain numpy functions.

`generated` and `start` need numpy only and are what the engine uses. Everything else here
imports SymPy, so it is reached through `derivations()` and never by importing this package.
"""

from typing import Any

# The equations are SymPy objects. SymPy ships no types, and naming its classes here would load it.
Derivation = tuple[str, str, Any]


def derivations() -> list[Derivation]:
    """Everything the theory derives, in order, for documents.

    Returns
    -------
    list of (name, meaning, equation)
        Name in snake case (the function's name in `generated` where there is one), one sentence, and a
        SymPy equation. Symbols are those of `oscsim.theory.equation`; rates are in s/day, gain positive.
    """
    from oscsim.theory.formulas import DERIVED  # here, so that `import oscsim` stays free of SymPy

    return [(item.name, item.meaning, item.equation()) for item in DERIVED]
