"""The parts of a page, for the tables beside it."""

from oscsim.text.sheet import Prose, Sheet, Table, close, sheet

__all__ = ["Prose", "Sheet", "Table", "close", "sheet"]
