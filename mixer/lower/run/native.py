"""The exported C on this machine: one engine for replay, and one for many scenarios at once.

Both give the same bits as the core. The library is built on first use (about a second) and kept.
"""

import ctypes
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from mixer.core.layout import Layout, layout_of
from mixer.core.plan import Plan
from mixer.lower.graph.nodes import Graph
from mixer.lower.graph.trace import trace
from mixer.lower.run.native_build import THIS_MACHINE, load
from mixer.lower.run.native_source import lanes_source, native_source

Numbers = NDArray[np.int32]
WIDTH = 16
"""Scenarios in one vector, and int32 in a cache line; measured faster than 8 with gcc and clang alike.

Rows of results lie an odd number of lines apart, so that they spread over the cache."""


class NativeEngine:
    """One board running one plan, at the speed of C. Raises MissingToolError without a C compiler."""

    def __init__(self, plan: Plan) -> None:
        self.layout: Layout = layout_of(plan)
        self._run = _function(load(native_source(trace(plan))).run, sizes=1)
        self._state = np.array(self.layout.start, np.int32)
        self._row = np.empty((1, len(self.layout.inputs)), np.int32)

    @property
    def state(self) -> tuple[int, ...]:
        """Everything the board remembers now."""
        return tuple(self._state.tolist())

    def reset(self, state: Sequence[int] | None = None) -> None:
        """Power up anew, or go on from a state. Raises ValueError for one of another length."""
        if state is not None and len(state) != len(self.layout.start):
            raise ValueError(f"a state of {len(state)} numbers where the plan has {len(self.layout.start)}")
        self._state[:] = self.layout.start if state is None else state

    def step(self, inputs: Sequence[int]) -> list[int]:
        """One tick; its signals."""
        self._row[0] = inputs
        signals: list[int] = self.run(self._row)[0].tolist()
        return signals

    def run(self, inputs: Numbers) -> Numbers:
        """(ticks, inputs) -> (ticks, signals), going on from the present state."""
        rows = np.ascontiguousarray(inputs, np.int32)
        if rows.ndim != 2 or rows.shape[1] != len(self.layout.inputs):
            shape = f"(ticks, {len(self.layout.inputs)})"
            raise ValueError(f"inputs of shape {rows.shape} where {shape} is right")
        signals = np.empty((len(rows), len(self.layout.signals)), np.int32)
        self._run(rows.ctypes.data, self._state.ctypes.data, signals.ctypes.data, len(rows))
        return signals


class NativeLanes:
    """Many boards running one plan side by side, sixteen to a vector. Raises as `NativeEngine` does."""

    def __init__(
        self, plan: Plan, lanes: int, signals: Iterable[str] | None = None, *, graph: Graph | None = None
    ) -> None:
        """Power up all. `lanes` is any number >= 1.

        `signals` names those wanted, fewer being faster; None gives all. `graph` is run instead of the
        plan's own where it is given, with all its signals.
        """
        if lanes < 1:
            raise ValueError(f"{lanes} scenarios; at least 1 is needed")
        graph = trace(plan, signals) if graph is None else graph
        self.names = tuple(graph.signals)
        """Names of the rows of what `step` gives."""
        self._shape = (len(layout_of(plan).inputs), lanes)
        self._room = -(-lanes // WIDTH) * WIDTH
        self._wide = (self._room // WIDTH | 1) * WIDTH
        self._run = _function(load(lanes_source(graph, WIDTH), THIS_MACHINE).run_lanes, sizes=3)
        self._start = np.array(graph.start, np.int32)[:, None]
        self._state = np.empty((len(graph.start), self._wide), np.int32)
        self._inputs = np.zeros((self._shape[0], self._room), np.int32)
        self._signals = np.empty((len(self.names), self._wide), np.int32)
        self.raw = self._state[:, :lanes]
        """(slots, lanes): the state itself; write a whole column to put a board into that state."""
        self.reset()

    @property
    def state(self) -> Numbers:
        """(slots, lanes): what each board remembers now; a copy."""
        return self.raw.copy()

    def reset(self, state: Numbers | None = None) -> None:
        """Power up all anew, or go on from (slots, lanes) of states."""
        self._state[:] = self._start
        if state is not None:
            self.raw[:] = state

    def step(self, inputs: Numbers) -> Numbers:
        """(inputs, lanes) -> (signals, lanes): one tick of every board. The next step writes over it."""
        self._check(inputs.shape)
        lanes = self._shape[1]
        self._inputs[:, :lanes] = inputs
        self._call(self._inputs, self._signals, 1)
        return self._signals[:, :lanes]

    def run(self, inputs: Numbers) -> Numbers:
        """(ticks, inputs, lanes) -> (ticks, signals, lanes), going on from the present states."""
        self._check(inputs.shape[1:])
        lanes = self._shape[1]
        rows = np.zeros((*inputs.shape[:2], self._room), np.int32)
        rows[:, :, :lanes] = inputs
        signals = np.empty((len(rows), len(self.names), self._wide), np.int32)
        self._call(rows, signals, len(rows))
        return signals[:, :, :lanes]

    def _call(self, inputs: Numbers, signals: Numbers, ticks: int) -> None:
        arrays = (inputs.ctypes.data, self._state.ctypes.data, signals.ctypes.data)
        self._run(*arrays, ticks, self._room, self._wide)

    def _check(self, shape: tuple[int, ...]) -> None:
        if shape != self._shape:
            raise ValueError(f"inputs of shape {shape} where {self._shape} is right")


def _function(function: "ctypes._NamedFuncPointer", sizes: int) -> "ctypes._NamedFuncPointer":
    """A function of three arrays and some sizes."""
    function.restype = None
    function.argtypes = [ctypes.c_void_p] * 3 + [ctypes.c_int64] * sizes
    return function
