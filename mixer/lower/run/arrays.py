"""The graph over many scenarios at once: numpy int32, one lane a scenario.

Lanes are worked through in blocks small enough that all rows of a block stay in the second-level cache;
the calls of each block are bound to their views once, so that a tick is nothing but numpy calls.
"""

import functools
import itertools
from collections.abc import Callable, Iterable
from typing import Any

import numpy as np
import numpy.typing as npt

from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.lower.graph.nodes import Graph
from mixer.lower.graph.trace import trace
from mixer.lower.run.array_program import Place, Program, Row, program_of

Lanes = npt.NDArray[np.int32]
Function = Callable[..., Any]

_BLOCK = 8192  # lanes; of 2048, 4096 and 8192 the quickest by measurement


class ArrayTick:
    """One tick of a plan for `lanes` scenarios, each with its own inputs and state.

    Bit for bit what `core.tick.tick` gives in each lane. Two lanes at least: an array of one lane has a
    truth value, and a mistake could hide behind it.
    """

    def __init__(
        self, plan: Plan, lanes: int, signals: Iterable[str] | None = None, *, graph: Graph | None = None
    ) -> None:
        """Set up for `lanes` scenarios, at power-up.

        `signals` chooses what `signals` will hold; fewer are faster; None means all. `graph` is run
        instead of the plan's own where it is given, with all its signals. Raises ValueError for fewer
        than two lanes or an unknown signal.
        """
        if lanes < 2:
            raise ValueError(f"an array needs two lanes at least, not {lanes}")
        graph = trace(plan, signals) if graph is None else graph
        self.plan = plan
        self.lanes = lanes
        self.names = tuple(graph.signals)
        """Names of the rows of `signals`."""
        self.signals: Lanes = np.zeros((len(self.names), lanes), np.int32)
        """(signals, lanes): what the last step gave. The next step writes over it."""
        self._start = np.array(graph.start, np.int32)[:, None]
        self._twins = np.array(graph.twins, np.intp)
        self._state: Lanes = np.empty((len(graph.start), lanes), np.int32)
        self._inputs: Lanes = np.zeros((len(layout_of(plan).inputs), lanes), np.int32)
        self._calls = self._bound(graph)
        self.reset()

    def reset(self) -> None:
        """Power up again in every lane."""
        self._state[:] = self._start
        self.signals[:] = 0

    @property
    def raw(self) -> Lanes:
        """(slots, lanes): the state itself; write a whole column to put a board into that state."""
        return self._state

    @property
    def state(self) -> Lanes:
        """(slots, lanes): a copy of the state, in the order of the layout."""
        return self._state[self._twins]

    def step(self, inputs: npt.NDArray[np.integer[Any]]) -> Lanes:
        """Run one tick. `inputs` is (inputs, lanes): pulses in µs and contact readings.

        Returns `signals`. Raises ValueError when the shape is wrong, TypeError for anything but integers.
        """
        if inputs.shape != self._inputs.shape:
            raise ValueError(f"inputs must have the shape {self._inputs.shape}, not {inputs.shape}")
        np.copyto(self._inputs, inputs, casting="same_kind")
        with np.errstate(divide="ignore"):  # a divisor of zero is named by the graph's bounds, not here
            for function, arguments in self._calls:
                function(*arguments)
        return self.signals

    def _bound(self, graph: Graph) -> list[tuple[Function, tuple[Any, ...]]]:
        """Every call of every block with the arrays it works on."""
        program = program_of(graph)
        count = -(-self.lanes // _BLOCK)
        edges = [self.lanes * number // count for number in range(count + 1)]
        widest = max(after - before for before, after in itertools.pairwise(edges))
        scratch = _Scratch(program, widest)
        calls = []
        for before, after in itertools.pairwise(edges):
            held = {Place.INPUT: self._inputs, Place.STATE: self._state, Place.SIGNAL: self.signals}
            views = {place: rows[:, before:after] for place, rows in held.items()}
            for step in program.steps:
                arguments = tuple(_row(row, views, scratch, after - before) for row in step.rows)
                calls.append(_call(step.function, arguments))
        return calls


class _Scratch:
    """Rows for what is in between; all blocks use the same."""

    def __init__(self, program: Program, lanes: int) -> None:
        self.numbers = np.zeros((program.numbers, lanes), np.int32)
        self.flags = np.zeros((program.flags, lanes), np.bool_)
        filled = {row.number for step in program.steps for row in step.rows if row.place is Place.FILLED}
        self.filled = {number: np.full(lanes, number, np.int32) for number in filled}


def _call(function: Function, arguments: tuple[Any, ...]) -> tuple[Function, tuple[Any, ...]]:
    """For these two, numpy takes the output by name only."""
    if function in (np.minimum, np.maximum):
        return functools.partial(function, out=arguments[-1]), arguments[:-1]
    return function, arguments


def _row(row: Row, views: dict[Place, Lanes], scratch: _Scratch, lanes: int) -> Any:  # noqa: ANN401
    if row.place is Place.SCALAR:
        return np.int32(row.number)
    if row.place is Place.NUMBER:
        return scratch.numbers[row.number, :lanes]
    if row.place is Place.FLAG:
        return scratch.flags[row.number, :lanes]
    if row.place is Place.FILLED:
        return scratch.filled[row.number][:lanes]
    return views[row.place][row.number]
