"""How a movement is wound: by hand, or by being worn."""

from __future__ import annotations

from dataclasses import dataclass

from oscsim.errors import InputError, hint, shown
from oscsim.fields import check_quantities, quantity, words

KINDS = ("hand", "self")


@dataclass(frozen=True, kw_only=True)
class Winding:
    """Winding work: ``kind`` "hand" or "self"; what an hour on the wrist winds; crown turns for one of the barrel."""

    kind: str = words("wound at the crown alone, or by wearing too", '"hand" or "self"')
    hours_per_hour_worn: float | None = quantity(
        "h/h", "w", "hours of running that an hour on a usual wrist winds", 0, 30, default=None
    )
    crown_turns_per_barrel_turn: float | None = quantity(
        "turns", "–", "turns of the crown that wind the barrel by one turn", 0.5, 30, default=None
    )

    def __post_init__(self) -> None:
        if not isinstance(self.kind, str) or self.kind not in KINDS:
            near = hint(str(self.kind), KINDS)
            raise InputError(f'winding.kind = {shown(self.kind)}: must be "hand" or "self"{near}')
        check_quantities(self, "winding")
        if self.kind == "hand" and self.hours_per_hour_worn is not None:
            raise InputError(
                f"winding.hours_per_hour_worn = {self.hours_per_hour_worn:g} h/h: a hand-wound movement winds nothing "
                'on the wrist; leave it out, or winding.kind = "self"'
            )
