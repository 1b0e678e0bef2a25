"""How results of one kind are shown: names of functions, so that nothing is loaded before it is asked for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import Any


@dataclass(frozen=True)
class View:
    """Functions that show results of one kind, each as ``module:function``, empty where there is none.

    page: the text; plot: the picture, into given axes; figure: the whole figure; file: the file that the answer makes
    (a sketch's design, a lesson's page); remind: what is put below the page where a design is a sketch.
    """

    page: str
    plot: str
    figure: str
    file: str
    remind: str

    def function(self, what: str, kind: str) -> Callable[..., Any]:
        """The function for ``what``, a field's name; raises TypeError where results of this ``kind`` have none."""
        if not (where := getattr(self, what)):
            raise TypeError(f"{kind} has none")
        module, name = where.split(":")
        found: Callable[..., Any] = getattr(import_module(module), name)
        return found


#: By the name of the result's class; ``oscsim.show.views`` fills it, so that no answer knows a table or a picture.
VIEWS: dict[str, View] = {}
