"""Amplitude and rate of a mechanical watch from the physics of its balance, escapement, train and mainspring.

>>> import oscsim
>>> movement = oscsim.load("dockhand")
>>> print(oscsim.settle(movement, oscsim.Setting(positions=["CH", "12H"], hours=[0, 24])))  # doctest: +SKIP

Public names are listed in ``__init__.pyi``, one a line. Each is loaded when it is first asked for, so that a command
loads only what it needs.
"""

import re
from importlib import import_module
from pathlib import Path
from typing import Any

from oscsim.show import views as _views  # noqa: F401

_LINE = re.compile(r"^from (\S+) import (\w+) as \2$", re.MULTILINE)
_HOME = {
    name: module for module, name in _LINE.findall(Path(__file__).with_suffix(".pyi").read_text("utf-8"))
}

__all__ = sorted(_HOME)


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'oscsim' has no attribute {name!r}")
    found = globals()[name] = getattr(import_module(_HOME[name]), name)
    return found


def __dir__() -> list[str]:
    """What is public."""
    return __all__
