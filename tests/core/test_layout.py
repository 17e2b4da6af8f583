"""What numbers are called, where they stand in a row, and what they mean."""

import random
from dataclasses import replace

import pytest

from mixer.core.layout import _reader, flat, layout_of, meaning_of, power_up
from mixer.core.ops import ONE
from mixer.core.plan import Guard
from mixer.core.rest import frame_ticks
from mixer.core.signals import Inputs
from mixer.core.tick import Allowed, drive_outputs, mix_sticks, tick
from mixer.core.units import Unit
from tests.plans import carrier, rig
from tests.strategies import random_plan


@pytest.mark.parametrize("seed", range(20))
def test_a_row_read_by_its_fields_is_the_same_row(seed: int) -> None:
    """Places, names and numbers stand alike, whatever the robot has."""
    layout = layout_of(random_plan(random.Random(seed)))
    assert flat(layout.places) == list(range(len(layout.signals)))
    assert flat(layout.slots) == list(range(len(layout.state)))
    assert tuple(flat(layout.signals_of(layout.signals))) == layout.signals
    assert layout.state_of(layout.start) == power_up(random_plan(random.Random(seed)))


def test_a_number_is_found_wherever_absent_ones_stand() -> None:
    """Also after one that is absent, which no record has today: a new one may."""
    assert _reader(Allowed(None, "high"), {"low": 0, "high": 1})([3, 4]) == Allowed(None, 4)


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


def test_wires_are_counted_from_one_unless_told() -> None:
    """Channels and contacts without a number of their own stand in order; a frame lasts a tick at least."""
    plan = carrier()
    assert plan.receivers == tuple(range(1, len(plan.channels) + 1))
    assert plan.contact_inputs == tuple(range(1, len(plan.contacts) + 1))
    assert frame_ticks(plan, 0.1) == 1


@pytest.mark.parametrize("way", [1, -1])
def test_one_controller_for_two_screws_obeys_the_stops_of_both(way: int) -> None:
    """A closed stop of either blocks that direction of the output they share, and no other."""
    plan = carrier()
    left, right = plan.actuators
    shared = replace(plan, actuators=(left, replace(right, output=left.output)))
    start = power_up(shared)
    asked = mix_sticks(shared, [channel.rest_us for channel in plan.channels], [0, 0], 0)
    full = asked._replace(blended=[way * ONE] * len(plan.outputs))
    for stop, command in ((None, way), (right.out_stop, min(way, 0)), (left.in_stop, max(way, 0))):
        levels = [contact.level(closed=number == stop) for number, contact in enumerate(plan.contacts)]
        after = tick(shared, Inputs((0,) * len(plan.channels), tuple(levels)), start)
        live = Allowed(after.signals.guard._replace(state=Guard.LIVE), after.signals.actuators)
        outputs, _ = drive_outputs(shared, full, live, start.outputs)
        assert outputs[left.output].command == command * plan.outputs[left.output].up_step


def test_a_board_wakes_up_with_nothing_but_silence() -> None:
    """Every channel lost, at the pulse it rests at; everything else is 0."""
    plan = replace(rig(), channels=tuple(replace(c, median=True) for c in rig().channels))
    state = power_up(plan)
    assert state.channels == tuple((plan.guard.lost_ticks, c.rest_us, 0, 0) for c in plan.channels)
    assert not any(flat(state._replace(channels=())))
