"""What every run from the start state keeps to: the bounds of each state slot and of each node.

The bounds of the state start as the start values and grow, tick by tick, until a tick adds nothing: then
they hold at start and each tick keeps them (induction). Counters would grow one by one, so growth jumps
to the next constant that stands in the graph (widening with thresholds, as in abstract interpretation;
Cousot and Cousot 1977); a last step draws the bounds in again.

Where a chain of operations hangs on one pulse alone, its bounds are found by running it over every pulse
the channel can stand at: expo is not monotone to interval arithmetic, but it is in truth.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from heapq import heappop, heappush
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from mixer.lower.graph.intervals import bounds, hull, looks_at, meet, within
from mixer.lower.graph.meanings import PLAIN, compute
from mixer.lower.graph.nodes import Node, Op, Range

PULSE_RANGE = Range(0, 65535)
"""Pulses in µs: what an unsigned 16-bit timer can give, plausible or not."""
CONTACT_RANGE = Range(0, 1)
BEYOND = 2**40
"""Stands for bounds that never stop growing; far outside int32, so that the overflow shows."""
_EVERYWHERE = Range(-BEYOND, BEYOND)
_PATIENCE = 1  # growths of a slot before it jumps
_WIDEST = 8192  # the most values of one node that are run through


class Invariants(NamedTuple):
    """Bounds that hold on every run from the start state."""

    nodes: list[Range]
    state: list[Range]


def find_invariants(
    nodes: Sequence[Node],
    inputs: Sequence[Range],
    start: Sequence[int],
    state: Sequence[int],
    bases: Sequence[int],
    known: Invariants | None = None,
) -> Invariants:
    """Bounds for all nodes and state slots.

    `state` holds the node that is each slot's next value; `bases` the nodes (a channel's pulse) whose
    values are few enough to run through. `known` is what has been proven of them before, in a graph that
    gives the same: simplifying may have taken away the very clamp that it could be found again by.
    """
    slots = [Range(value, value) for value in start]
    limits = known.state if known is not None else [_EVERYWHERE] * len(slots)
    steps = _thresholds(nodes)
    grown = [0] * len(slots)
    ranges = spread(nodes, inputs, slots, {})
    lookers = _lookers(nodes)
    read_at = {node.value: index for index, node in enumerate(nodes) if node.op is Op.STATE}
    moved = set(range(len(nodes)))
    while moved:
        changed = set()
        for slot, node in enumerate(state):
            if node not in moved:
                continue
            wider = within(hull(slots[slot], ranges[node]), limits[slot])
            if wider != slots[slot]:
                changed.add(slot)
                grown[slot] += 1
                jump = grown[slot] > _PATIENCE
                slots[slot] = within(_widened(slots[slot], wider, steps), limits[slot]) if jump else wider
        moved = _respread(nodes, ranges, slots, {read_at[s] for s in changed if s in read_at}, lookers)
    slots, ranges = _drawn_in(nodes, inputs, slots, start, state, ranges, limits)
    exact = run_through(nodes, ranges, bases)
    for index, reach in enumerate(known.nodes if known is not None else ()):
        exact[index] = within(exact.get(index, reach), reach)
    return Invariants(spread(nodes, inputs, slots, exact), slots)


def spread(
    nodes: Sequence[Node], inputs: Sequence[Range], slots: Sequence[Range], exact: Mapping[int, Range]
) -> list[Range]:
    """Bounds of all nodes from those of inputs and old state; `exact` holds some found otherwise."""
    ranges: list[Range] = []
    for index, node in enumerate(nodes):
        if node.op is Op.INPUT:
            reach = inputs[node.value]
        elif node.op is Op.STATE:
            reach = slots[node.value]
        else:
            reach = bounds(nodes, ranges, node)
        if index in exact:
            reach = meet(reach, exact[index]) or reach
        ranges.append(reach)
    return ranges


def _lookers(nodes: Sequence[Node]) -> list[list[int]]:
    """For each node the later ones whose bounds are worked out from its bounds."""
    lookers: list[list[int]] = [[] for _ in nodes]
    for index, node in enumerate(nodes):
        for seen in looks_at(nodes, node):
            lookers[seen].append(index)
    return lookers


def _respread(
    nodes: Sequence[Node],
    ranges: list[Range],
    slots: Sequence[Range],
    changed: Iterable[int],
    lookers: Sequence[Sequence[int]],
) -> set[int]:
    """Find anew the bounds of these nodes and of all that hangs on them; those whose bounds have moved.

    In the nodes' order, so that each is worked out once, when all it looks at is known.
    """
    moved: set[int] = set()
    waiting, asked = sorted(changed), set(changed)
    while waiting:
        index = heappop(waiting)
        node = nodes[index]
        reach = slots[node.value] if node.op is Op.STATE else bounds(nodes, ranges, node)
        if reach == ranges[index]:
            continue
        ranges[index] = reach
        moved.add(index)
        for looker in lookers[index]:
            if looker not in asked:
                asked.add(looker)
                heappush(waiting, looker)
    return moved


def _thresholds(nodes: Sequence[Node]) -> list[int]:
    constants = {node.value for node in nodes if node.op is Op.CONST}
    around = {value + step for value in constants for step in (-1, 0, 1)}
    return sorted(around | {-BEYOND, BEYOND} | {-value for value in around})


def _widened(old: Range, wider: Range, steps: Sequence[int]) -> Range:
    low, high = wider
    if low < old.low:
        low = steps[max(bisect_right(steps, low) - 1, 0)]
    if high > old.high:
        high = steps[min(bisect_left(steps, high), len(steps) - 1)]
    return Range(low, high)


def _drawn_in(
    nodes: Sequence[Node],
    inputs: Sequence[Range],
    slots: list[Range],
    start: Sequence[int],
    state: Sequence[int],
    ranges: list[Range],
    limits: Sequence[Range],
) -> tuple[list[Range], list[Range]]:
    """Slots and nodes with bounds that are no wider and still kept by each tick."""
    tighter = [hull(Range(value, value), ranges[node]) for value, node in zip(start, state, strict=True)]
    tighter = [meet(a, b) or a for a, b in zip(slots, tighter, strict=True)]
    if tighter == slots:
        return slots, ranges
    after = spread(nodes, inputs, tighter, {})
    nexts = [within(after[node], limit) for node, limit in zip(state, limits, strict=True)]
    kept = all(hull(a, b) == a for a, b in zip(tighter, nexts, strict=True))
    return (tighter, after) if kept else (slots, ranges)


def run_through(nodes: Sequence[Node], ranges: Sequence[Range], bases: Sequence[int]) -> dict[int, Range]:
    """Exact bounds of every node that hangs on one base alone, over all values the base can have."""
    found: dict[int, Range] = {}
    for base in bases:
        low, high = ranges[base]
        if high - low > _WIDEST:
            continue
        values: dict[int, npt.NDArray[np.int64]] = {base: np.arange(low, high + 1, dtype=np.int64)}
        for index in range(base + 1, len(nodes)):
            node = nodes[index]
            operands = [_given(nodes, values, arg) for arg in node.args]
            if any(operand is None for operand in operands) or not any(arg in values for arg in node.args):
                continue
            column = _run(node, operands)  # type: ignore[arg-type]
            values[index] = column
            found[index] = Range(int(column.min()), int(column.max()))
    return found


def _given(
    nodes: Sequence[Node], values: Mapping[int, npt.NDArray[np.int64]], index: int
) -> npt.NDArray[np.int64] | int | None:
    if index in values:
        return values[index]
    return nodes[index].value if nodes[index].op is Op.CONST else None


def _run(node: Node, operands: Sequence[npt.NDArray[np.int64]]) -> npt.NDArray[np.int64]:
    return np.asarray(compute(PLAIN, node.op, operands, node.value), dtype=np.int64)
