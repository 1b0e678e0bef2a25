"""The table of what is known of each number of a design: it is whole, and says nothing of what is no number."""

import pytest

from oscsim.movement import PARTS, Movement, number_names, parameter_names
from oscsim.tables import quantity_of
from oscsim.typical.numbers import DEFAULT_SPREADS, NUMBERS, OTHER, facts_of


@pytest.mark.parametrize("name", number_names())
def test_every_number_has_its_row(name):
    """Its own, or that of its table."""
    facts = facts_of(name)
    assert OTHER not in (facts.outer, facts.inner), f"{name}: give it a row in oscsim/typical/numbers.py"
    info = quantity_of(Movement, name)
    assert 0.0 < facts.step <= info.high - info.low
    assert not info.whole or facts.step == 1.0
    if facts.usual is not None and name in NUMBERS:
        assert info.low <= facts.usual.low < facts.usual.high <= info.high


def test_every_row_is_of_a_number_or_a_table():
    assert set(NUMBERS) <= {*parameter_names(), *PARTS, "train.arbors"}


def test_a_number_without_a_row_is_no_reason_to_refuse():
    assert facts_of("balance.no_such_number").outer == OTHER
    assert facts_of("train.arbors.third.pivot_radius_mm") == NUMBERS["train.arbors"]


def test_spreads_are_of_numbers_that_may_have_one():
    for spread in DEFAULT_SPREADS:
        assert not quantity_of(Movement, spread.name).whole
