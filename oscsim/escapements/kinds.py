"""Which module belongs to which part."""

from __future__ import annotations

from typing import Any

from oscsim.errors import InputError
from oscsim.escapements import detent, lever
from oscsim.escapements.kind import Kind
from oscsim.parts.detent import DetentEscapement
from oscsim.parts.escapement import Escapement

_KINDS: dict[type[Any], Kind] = {Escapement: lever, DetentEscapement: detent}
#: Places of the account of energy of every kind, in words.
WORDS = lever.WORDS | detent.WORDS


def needs_lever(part: Any, what: str) -> None:
    """Raise InputError unless the escapement is a lever: ``what`` is built on its lock, fork or pallets."""
    if not isinstance(part, Escapement):
        raise InputError(
            f'escapement.kind = "{part.kind}": {what} needs a lever escapement; settle, rundown, trace, budget '
            "and others answer for this one"
        )


def kind_of(part: Any) -> Kind:
    """The kind of an escapement, told by its part."""
    return _KINDS[type(part)]
