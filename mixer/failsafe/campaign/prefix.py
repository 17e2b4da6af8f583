"""How a board comes into the state in which a scenario begins: real inputs from power-up on.

One prefix for each state of the guard that the robot can reach and each way up; run once on the watched
tick, so that firmware and watcher agree on what has happened before.
"""

from collections.abc import Iterator
from typing import NamedTuple

from mixer.core.plan import Guard, Plan
from mixer.core.rest import contact_levels, resting_pulses
from mixer.faults.pulses import flip_input
from mixer.laws.expect import loss_ticks
from mixer.live.judge.watched import Watched
from mixer.lower.run.python import compile_graph

Row = tuple[int, ...]


class Prefix(NamedTuple):
    """One way a scenario can begin."""

    guard: Guard
    flipped: int
    rows: tuple[Row, ...]
    """Inputs from power-up on, whole frames of them."""
    state: tuple[int, ...]
    """The watched state after them."""


def prefixes(watched: Watched, frame: int) -> tuple[Prefix, ...]:
    """Every state of the guard this robot can begin in, on its belly and, if it can tell, on its back.

    `frame` is the time from one frame to the next, in ticks.
    """
    one_tick = compile_graph(watched.only(()).graph)
    found: list[Prefix] = []
    for flipped in (0, 1) if watched.plan.flip is not None else (0,):
        for guard, rows in _ways(watched.plan, flipped, frame):
            state: tuple[int, ...] = watched.start
            for row in rows:
                _, state = one_tick(row, state)
            found.append(Prefix(guard, flipped, rows, state))
    return tuple(found)


def _ways(plan: Plan, flipped: int, frame: int) -> Iterator[tuple[Guard, tuple[Row, ...]]]:
    off = _held(plan, flipped, frame, _settling(plan, frame), armed=False)
    arm = _held(plan, flipped, frame, plan.guard.hold_ticks + 2, armed=True)
    yield Guard.SEARCHING, ()
    yield Guard.RESTING, off
    yield Guard.LIVE, off + arm
    yield Guard.STOPPED, off + arm + _silent(plan, flipped, frame, loss_ticks(plan) + 2)
    for actuator in plan.actuators:
        ends = (actuator.out_stop, actuator.in_stop)
        closed_ends = tuple(end for end in ends if end is not None)
        if actuator.stops_robot and len(closed_ends) == 2:
            closed = _held(
                plan,
                flipped,
                frame,
                actuator.both_ticks + 1,
                armed=True,
                closed=closed_ends,
            )
            yield Guard.FAULTED, off + arm + closed
            return


def _settling(plan: Plan, frame: int) -> int:
    flip = plan.flip.settle_ticks if plan.flip is not None else 0
    release = max((contact.release_ticks for contact in plan.contacts), default=0)
    return 3 * frame + flip + release + plan.guard.off_ticks


def _held(
    plan: Plan, flipped: int, frame: int, ticks: int, *, armed: bool, closed: tuple[int, ...] = ()
) -> tuple[Row, ...]:
    """At least so many ticks of healthy frames with everything at rest, ending where a frame is due."""
    readings = contact_levels(plan, [number in closed for number in range(len(plan.contacts))])
    row = tuple(flip_input(plan, flipped, resting_pulses(plan, armed=armed), readings))
    gap = (0,) * len(plan.channels) + row[len(plan.channels) :]
    return (row, *(gap,) * (frame - 1)) * -(-ticks // frame)


def _silent(plan: Plan, flipped: int, frame: int, ticks: int) -> tuple[Row, ...]:
    gap = flip_input(plan, flipped, [0] * len(plan.channels), contact_levels(plan))
    return (tuple([0] * len(plan.channels) + gap[len(plan.channels) :]),) * (-(-ticks // frame) * frame)
