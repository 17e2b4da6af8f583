"""What numbers are called, where they stand in a row, and what they mean."""

import random

import pytest

from mixer.core.layout import flat, layout_of, meaning_of, power_up
from mixer.core.units import Unit
from tests.plans import carrier
from tests.strategies import random_plan


@pytest.mark.parametrize("seed", range(20))
def test_a_row_read_by_its_fields_is_the_same_row(seed: int) -> None:
    """Places, names and numbers stand alike, whatever the robot has."""
    layout = layout_of(random_plan(random.Random(seed)))
    assert flat(layout.places) == list(range(len(layout.signals)))
    assert flat(layout.slots) == list(range(len(layout.state)))
    assert tuple(flat(layout.signals_of(layout.signals))) == layout.signals
    assert layout.state_of(layout.start) == power_up(random_plan(random.Random(seed)))


def test_every_name_has_a_meaning() -> None:
    """Each signal and slot of a robot says what it is; anything else says nothing."""
    layout = layout_of(carrier())
    assert all(meaning_of(name) for name in (*layout.signals, *layout.state))
    wire = meaning_of(layout.names.outputs[0].wire)
    assert wire is not None
    assert wire.unit is Unit.SENT
    assert wire.keys[0].startswith("output.front_left.")
    assert meaning_of("output.front_left.colour") is None
    assert layout.index(layout.names.guard.state) == layout.places.guard.state
