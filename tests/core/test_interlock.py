"""Interlock: closed stops, swapped and broken switches, the travel watch, on a whole robot."""

from dataclasses import replace
from itertools import product
from typing import Any

import pytest

from mixer.core.interlock import allowed, both_closed, latch
from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import Guard, Plan
from mixer.core.tick import flat_tick
from tests.core.ticks import commands_of, named
from tests.plans import lift_plan

OUT, IN, OPEN, BOTH = (1, 1), (0, 0), (0, 1), (1, 0)
"""Readings of the two contacts: the outer closes at 1, the inner at 0."""


class Board:
    """A robot that has been armed, ready to be told one tick at a time."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.state: Any = list(layout_of(plan).start)
        self.signals: dict[str, int] = {}
        for arm in (1000, 1000, *[2000] * plan.guard.hold_ticks):
            self.run(1500, OPEN, arm)
        assert self.signals["guard.state"] == Guard.LIVE

    def run(self, stick: int, contacts: tuple[int, int], arm: int = 2000) -> tuple[int, ...]:
        """One tick; the commands of wheel and lift."""
        after = flat_tick(self.plan, (stick, arm, *contacts), self.state)
        self.state, self.signals = after.state, named(self.plan, after)
        return commands_of(self.plan, after)


@pytest.mark.parametrize(
    ("stick", "stop", "expected"), [(2000, OUT, 0), (1000, OUT, -ONE), (1000, IN, 0), (2000, IN, ONE)]
)
def test_a_closed_stop_blocks_its_own_direction_only(
    stick: int, stop: tuple[int, int], expected: int
) -> None:
    """In the very tick of the first touch, with either polarity; the wheel does not care."""
    board = Board(lift_plan())
    board.run(stick, OPEN)
    assert board.run(stick, stop) == (ONE if stick == 2000 else -ONE, expected)


def test_the_stop_lets_go_only_after_it_has_been_open() -> None:
    """A bounce of the contact does not let the actuator twitch back into the stop."""
    board = Board(lift_plan())
    assert [board.run(2000, stop)[1] for stop in (OPEN, OUT, OPEN, OUT, OPEN, OPEN)] == [
        ONE,
        0,
        0,
        0,
        0,
        ONE,
    ]


@pytest.mark.parametrize("stick", [1000, 2000])
def test_both_stops_closed_stop_the_robot_until_disarmed(stick: int) -> None:
    """Both ways are blocked at once, the fault comes after `both_ticks`, and stays until disarmed."""
    board = Board(lift_plan())
    seen = [board.run(stick, BOTH) for _ in range(3)]
    assert [lift for _, lift in seen] == [0, 0, 0]
    assert [wheel != 0 for wheel, _ in seen] == [True, True, False]
    assert [board.run(stick, OPEN) for _ in range(4)] == [(0, 0)] * 4
    assert board.signals["guard.state"] == Guard.FAULTED
    assert board.run(1500, OPEN, arm=1000) == (0, 0)
    assert board.signals["guard.state"] == Guard.RESTING


def test_both_stops_closed_may_stop_the_actuator_alone() -> None:
    """The wheel drives on, the actuator stays blocked both ways until disarmed and armed again."""
    board = Board(lift_plan(stops_robot=False))
    for _ in range(3):
        assert board.run(2000, BOTH) == (ONE, 0)
    for stick, wheel in ((2000, ONE), (1000, -ONE), (2000, ONE)):
        assert board.run(stick, OPEN) == (wheel, 0)
    assert board.run(1500, OPEN, arm=1000) == (0, 0)
    for _ in range(3):
        board.run(1500, OPEN)
    assert board.run(2000, OPEN) == (ONE, ONE)


def test_a_latched_actuator_cannot_be_freed_while_its_fault_lasts() -> None:
    """Disarming with both stops still closed frees nothing."""
    board = Board(lift_plan(stops_robot=False))
    for _ in range(3):
        board.run(2000, BOTH)
    board.run(1500, BOTH, arm=1000)
    for _ in range(3):
        board.run(1500, OPEN)
    assert board.run(2000, OPEN)[1] == 0


def test_both_for_less_than_its_time_is_no_fault() -> None:
    """One tick short of `both_ticks` leaves no trace, and the count starts anew."""
    plan = replace(lift_plan(), contacts=tuple(replace(c, release_ticks=0) for c in lift_plan().contacts))
    board = Board(plan)
    for stop in (BOTH, BOTH, OPEN, BOTH, BOTH, OPEN):
        board.run(2000, stop)
    assert board.run(2000, OPEN) == (ONE, ONE)


def test_driving_longer_than_the_travel_blocks_until_reversed() -> None:
    """Four ticks at full reach a travel of 4 ONE; then only the other way is free, which starts anew."""
    board = Board(lift_plan(travel_limit=4 * ONE))
    assert [board.run(2000, OPEN)[1] for _ in range(7)] == [ONE] * 4 + [0] * 3
    assert board.run(1500, OPEN)[1] == 0
    assert board.run(2000, OPEN)[1] == 0
    assert [board.run(1000, OPEN)[1] for _ in range(6)] == [-ONE] * 4 + [0] * 2
    assert board.run(2000, OPEN)[1] == ONE


def test_half_command_goes_half_the_way() -> None:
    """At half command the watch allows twice the time."""
    board = Board(lift_plan(travel_limit=4 * ONE))
    assert [board.run(1750, OPEN)[1] for _ in range(10)] == [ONE // 2] * 8 + [0] * 2


def test_meeting_the_stop_driven_to_starts_the_way_anew() -> None:
    """A stop met in time keeps the watch quiet; the stop behind does not count as met."""
    board = Board(lift_plan(travel_limit=4 * ONE))
    for stop in (OPEN, OPEN, OPEN, OUT, OUT):
        board.run(2000, stop)
    assert [board.run(1000, OPEN)[1] for _ in range(5)] == [-ONE] * 4 + [0]
    board = Board(lift_plan(travel_limit=4 * ONE))
    assert [board.run(2000, stop)[1] for stop in (IN, IN, OPEN, OPEN, OPEN)] == [ONE] * 4 + [0]


@pytest.mark.parametrize(("out_stop", "in_stop"), [(None, 1), (0, None), (None, None)])
def test_an_end_without_a_switch_is_never_closed(out_stop: int | None, in_stop: int | None) -> None:
    """What the firmware cannot see it does not block, and missing stops make no fault."""
    board = Board(lift_plan(out_stop=out_stop, in_stop=in_stop))
    for _ in range(5):
        assert board.run(2000, BOTH)[1] == (ONE if out_stop is None else 0)
        assert board.run(1000, BOTH)[1] == (-ONE if in_stop is None else 0)
    assert board.signals["guard.fault"] == 0


def test_the_vetoes_alone_in_every_situation() -> None:
    """Out, in, latch and travel in every combination: a direction is free unless it has a reason."""
    for out_closed, in_closed, latched, driven, limit, robot in product(
        (False, True), (False, True), (0, 1), (-50, -49, 0, 49, 50), (None, 50), (False, True)
    ):
        plan = lift_plan(travel_limit=limit, stops_robot=robot).actuators[0]
        held = latched == 1 and not robot
        no_out = out_closed or held or (limit is not None and driven == 50)
        no_in = in_closed or held or (limit is not None and driven == -50)
        got = allowed(plan, out_closed, in_closed, latched, driven)
        assert got == (0 if no_in else -ONE, 0 if no_out else ONE)


def test_the_count_and_the_latch_alone() -> None:
    """Both closed counts up to its limit and no further; the latch sets over reset."""
    plan = lift_plan(both_ticks=2).actuators[0]
    assert both_closed(plan, True, True, 2) == (True, 2)
    assert both_closed(plan, True, True, 0) == (False, 1)
    assert both_closed(plan, True, False, 2) == (False, 0)
    assert [latch(True, True, 0), latch(False, True, 1), latch(False, False, 1)] == [1, 0, 1]
