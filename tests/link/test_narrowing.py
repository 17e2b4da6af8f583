"""A state found out while a board runs: never a wrong one, and found where its inputs settle it.

The judge is the core itself, run from power-up through histories of every kind: all of them must be where
the narrowing says that every run is.
"""

import random
from collections.abc import Sequence
from dataclasses import replace

import pytest

from mixer.board.frames import BoardMix
from mixer.core.drive import on_wire
from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import Plan
from mixer.link.narrowing import Narrowing, Refuted, commands_of
from mixer.lower.graph.trace import trace
from tests.lengths import cases
from tests.lower.c_exports import plan_of_robot
from tests.plans import cart_plan
from tests.strategies import SMALL_SIZE, Trace, adversarial, driving, neutral_row, random_plan, run_core

HISTORIES = 12


def states_after(plan: Plan, chance: random.Random, ticks: int) -> list[list[int]]:
    """Where the core is after histories of all kinds: driven as people do, attacked, just powered up."""
    kinds = (driving, adversarial)
    histories = [kinds[n % 2](chance, plan, ticks=ticks + 17 * n) for n in range(HISTORIES)]
    return [list([*run_core(plan, history)][-1].state) for history in histories]


def seen_of(plan: Plan, signals: Sequence[int]) -> BoardMix:
    """What a board tells of a tick."""
    places = layout_of(plan).places
    return BoardMix(signals[places.guard.state], tuple(signals[output.wire] for output in places.outputs))


def settled_after(plan: Plan, rows: Trace, chance: random.Random, ticks: int) -> int:
    """After how many ticks one state is left, at most, by what boards of every history tell; 0 if never.

    It must be the state of the history that told.
    """
    longest = 0
    graph = trace(plan, [])
    for state in states_after(plan, chance, ticks):
        narrowing, now = Narrowing(graph), state
        for number, row in enumerate(rows):
            after = next(run_core(plan, [row], now))
            now = list(after.state)
            assert narrowing.take(row, seen_of(plan, after.signals)) is None
            if narrowing.state is not None:
                assert now == narrowing.state, f"tick {number}"
                longest = max(longest, number + 1)
                break
        else:
            return 0
    return longest


def disarmed(plan: Plan, ticks: int) -> Trace:
    """Hands off and the arm switch off, no contact closed."""
    return [neutral_row(plan, armed=False)] * ticks


@pytest.mark.parametrize("name", ["tank_pair", "holonomic_trio"])
def test_the_arm_switch_off_settles_an_example_robot(name: str) -> None:
    """Off for as long as a finger needs: one state is left, and it is the board's."""
    plan = plan_of_robot(name)
    took = settled_after(plan, disarmed(plan, 200), random.Random(1), 120)
    assert 0 < took <= plan.guard.off_ticks + 1


def carrier_tips(plan: Plan) -> Trace:
    """Disarmed, armed, both trays driven out to their stop and in to the other, disarmed again."""
    off, on = neutral_row(plan, armed=False), neutral_row(plan, armed=True)
    tip = next(stick for stick in plan.sticks if stick.name == "tip").channel
    levels = len(plan.channels)

    def driven(pulse: int, end: str) -> Trace:
        row = (*on[:tip], pulse, *on[tip + 1 :])
        closed = [contact.closed_reads if contact.name.endswith(end) else level
                  for contact, level in zip(plan.contacts, row[levels:], strict=True)]  # fmt: skip
        return [row] * 60 + [(*row[:levels], *closed)] * 20

    hold = plan.guard.hold_ticks + 2
    return [*[off] * 80, *[on] * hold, *driven(1900, "out"), *driven(1100, "_in"), *[off] * 80]


def test_a_tray_driven_to_a_stop_settles_its_travel() -> None:
    """How far an actuator has come since its last stop is known once it has met one."""
    plan = plan_of_robot("sample_carrier")
    rows = carrier_tips(plan)
    graph = trace(plan, [])
    narrowing, now = Narrowing(graph), states_after(plan, random.Random(1), 300)[0]
    left = []
    for row in rows:
        after = next(run_core(plan, [row], now))
        now = list(after.state)
        assert narrowing.take(row, seen_of(plan, after.signals)) is None
        left.append(narrowing.unsettled)
    assert set(left[79]) == {"actuator.tray_left.driven", "actuator.tray_right.driven"}
    assert narrowing.state == now


def test_a_robot_that_rolls_over_waits_for_its_start() -> None:
    """Which way up it lies may still be this or that, so nothing is said."""
    plan = plan_of_robot("long_crawler")
    narrowing = Narrowing(trace(plan, []))
    for after, row in zip(run_core(plan, disarmed(plan, 120)), disarmed(plan, 120), strict=True):
        assert narrowing.take(row, seen_of(plan, after.signals)) is None
    assert narrowing.state is None
    assert set(narrowing.unsettled) >= {"flip.flipped", "flip.waited"}


@pytest.mark.parametrize("seed", cases(range(6), range(6, 80)))
def test_no_history_is_ever_anywhere_else(seed: int) -> None:
    """Random robots, driven and attacked until one state is left: it is that of every history."""
    chance = random.Random(seed)
    plan = random_plan(chance, SMALL_SIZE)
    rows = [*driving(chance, plan, ticks=20), *adversarial(chance, plan, ticks=20), *disarmed(plan, 60)]
    settled_after(plan, rows, chance, 30)


def test_it_begins_anew() -> None:
    """What was known is forgotten when a frame is lost, and when this mix cannot have made what is told."""
    plan = cart_plan()
    narrowing = Narrowing(trace(plan, []))
    rows = disarmed(plan, 200)
    for after, row in zip(run_core(plan, rows), rows, strict=True):
        assert narrowing.take(row, seen_of(plan, after.signals)) is None
    assert narrowing.state is not None
    assert narrowing.unsettled == ()
    seen = seen_of(plan, after.signals)
    wrong = BoardMix(seen.guard, (seen.wires[0] + 1, *seen.wires[1:]))
    assert narrowing.take(row, wrong) == Refuted(1, seen.wires[0], seen.wires[0])
    assert narrowing.state is None


@pytest.mark.parametrize("reverse", [False, True])
def test_a_wire_tells_its_commands(reverse: bool) -> None:
    """Every command lies in the bounds of its wire, both ends of them reach it, and nothing lies beyond."""
    output = replace(cart_plan().outputs[0], reverse=reverse)
    for command in range(-ONE, ONE + 1, 37):
        wire = on_wire(output, command)
        limits = commands_of(output, wire)
        assert limits is not None
        assert command in limits
        assert (on_wire(output, limits.low), on_wire(output, limits.high)) == (wire, wire)
    assert commands_of(output, on_wire(output, ONE if not reverse else -ONE) + 1) is None
