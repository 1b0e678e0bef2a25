"""What every result can do: print itself, and give itself as a dictionary, CSV or JSON."""

from __future__ import annotations

import os
from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from oscsim.answers.view import VIEWS
from oscsim.movement import Movement
from oscsim.output import csv_text, json_text, plain
from oscsim.setting import Setting
from oscsim.text.notebook import notebook_html
from oscsim.text.sheet import Sheet
from oscsim.version import __version__
from oscsim.whole import write_whole

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


class Result(ABC):
    """A result object: ``str()`` is a table for people, the rest is for programs."""

    @property
    @abstractmethod
    def designs(self) -> tuple[Movement, ...]:
        """The designs answered for, as they were computed (regulated, for instance)."""

    @property
    def design(self) -> str:
        """Name of the design answered for; of several, one after another."""
        return " / ".join(movement.name for movement in self.designs)

    @property
    def design_hash(self) -> str:
        """``Movement.design_hash`` of the design answered for; of several, one after another."""
        return " / ".join(movement.design_hash for movement in self.designs)

    @abstractmethod
    def settings(self) -> dict[str, Any]:
        """All that the answer depends on beside the design, the unit in every key."""

    @abstractmethod
    def body(self) -> dict[str, Any]:
        """What ``to_dict`` adds to what every answer says of itself."""

    @abstractmethod
    def rows(self) -> list[dict[str, Any]]:
        """The table of ``to_csv``: one dictionary a row, the unit in every key."""

    def sheet(self) -> Sheet:
        """The tables a person reads and what they mean, with a reminder where a design is a sketch."""
        page: Sheet = self._shown_by("page")(self)
        if VIEWS[type(self).__name__].remind and any(movement.filled for movement in self.designs):
            page = self._shown_by("remind")(page, self.designs)
        return page

    def text(self) -> str:
        """``sheet`` as plain text."""
        return self.sheet().plain()

    def plot(self, ax: Axes | None = None) -> Axes:
        """The answer's picture (docs/plots.md); draws into ``ax`` or a new figure, returns the axes."""
        axes: Axes = self._shown_by("plot")(self, ax=ax)
        return axes

    def figure(self) -> Figure:
        """The picture as a whole figure, as ``--plot`` writes it."""
        figure: Figure = self._shown_by("figure")(self)
        return figure

    def file_text(self) -> str:
        """The file that an answer makes: a sketch's design, a lesson's page."""
        text: str = self._shown_by("file")(self)
        return text

    def _shown_by(self, what: str) -> Callable[..., Any]:
        kind = type(self).__name__
        return VIEWS[kind].function(what, kind)

    def __str__(self) -> str:
        return self.text()

    def __repr__(self) -> str:
        """What a console shows: the text, as a notebook shows it as HTML; subclasses leave out dataclass's own."""
        return self.text()

    def _repr_html_(self) -> str:
        """What a notebook shows: the text's tables and sentences as HTML, with the origin folded away."""
        return notebook_html(self.sheet(), self.origin())

    def origin(self) -> dict[str, Any]:
        """Where the numbers come from: design, its hash, version and settings; plain values."""
        told: dict[str, Any] = plain(
            {
                "design": self.design,
                "design_hash": self.design_hash,
                "version": __version__,
                "settings": self.settings(),
            }
        )
        return told

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers, lists and text, ``origin`` first; None where there is no number. filled: numbers of the
        design that a sketch filled and nobody measured."""
        inner: dict[str, Any] = plain(self.body())
        filled = dict.fromkeys(name for movement in self.designs for name in movement.filled)
        return {**self.origin(), "filled": list(filled), **inner}

    def to_json(self, path: str | os.PathLike[str] | None = None) -> str:
        """``to_dict`` as JSON text, also written to ``path`` where one is given, whole or not at all (InputError)."""
        return _written(json_text(self.to_dict()), path)

    def to_csv(self, path: str | os.PathLike[str] | None = None) -> str:
        """``rows`` as CSV text (RFC 4180 quoting), empty where there is no number; ``path`` as in ``to_json``."""
        return _written(csv_text(self.rows()), path)

    def to_dataframe(self) -> Any:
        """``rows`` as a pandas DataFrame, NaN where there is no number; ImportError where pandas is not there."""
        try:
            import pandas
        except ImportError:
            raise ImportError("to_dataframe needs pandas: pip install 'oscsim[pandas]'") from None
        return pandas.DataFrame(self.rows())


def _written(text: str, path: str | os.PathLike[str] | None) -> str:
    """The text, written to the path if there is one; raises InputError."""
    if path is not None:
        write_whole(Path(path), text.encode())
    return text


@dataclass(frozen=True, repr=False)
class OneMovement(Result):
    """A result for one design."""

    movement: Movement

    @property
    def designs(self) -> tuple[Movement, ...]:
        return (self.movement,)


@dataclass(frozen=True, repr=False)
class InSetting(OneMovement):
    """A result for one design in one setting."""

    setting: Setting

    def settings(self) -> dict[str, Any]:
        """The setting whole; subclasses add what else was asked for."""
        return self.setting.to_dict()
