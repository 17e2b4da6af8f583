"""The exported C on this machine: one engine for replay, and one for many scenarios at once.

Both give the same bits as the core. The library is built on first use (about a second) and kept.
"""

import ctypes
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from mixer.core.layout import Layout, layout_of
from mixer.core.plan import Plan
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
    """Many boards running one plan side by side, sixteen to a vector."""

    def __init__(self, plan: Plan, lanes: int, signals: Iterable[str] | None = None) -> None:
        """`signals` names those wanted, fewer being faster; None gives all. `lanes` is any number >= 1."""
        if lanes < 1:
            raise ValueError(f"{lanes} scenarios; at least 1 is needed")
        graph = trace(plan, signals)
        self.layout: Layout = layout_of(plan)
        self.signals: tuple[str, ...] = tuple(graph.signals)
        self.lanes = lanes
        self._room = -(-lanes // WIDTH) * WIDTH
        self._wide = (self._room // WIDTH | 1) * WIDTH
        self._run = _function(load(lanes_source(graph, WIDTH), THIS_MACHINE).run_lanes, sizes=3)
        self._state = np.empty((len(self.layout.start), self._wide), np.int32)
        self.reset()

    @property
    def state(self) -> Numbers:
        """(slots, lanes): what each board remembers now; a copy."""
        return self._state[:, : self.lanes].copy()

    def reset(self, state: Numbers | None = None) -> None:
        """Power up all anew, or go on from (slots, lanes) of states."""
        self._state[:] = np.array(self.layout.start, np.int32)[:, None]
        if state is not None:
            self._state[:, : self.lanes] = state

    def step(self, inputs: Numbers) -> Numbers:
        """(inputs, lanes) -> (signals, lanes): one tick of every board."""
        signals: Numbers = self.run(inputs[None])[0]
        return signals

    def run(self, inputs: Numbers) -> Numbers:
        """(ticks, inputs, lanes) -> (ticks, signals, lanes), going on from the present states."""
        if inputs.ndim != 3 or inputs.shape[1:] != (len(self.layout.inputs), self.lanes):
            shape = f"(ticks, {len(self.layout.inputs)}, {self.lanes})"
            raise ValueError(f"inputs of shape {inputs.shape} where {shape} is right")
        if self._room == self.lanes:
            rows = np.ascontiguousarray(inputs, np.int32)
        else:
            rows = np.zeros((*inputs.shape[:2], self._room), np.int32)
            rows[:, :, : self.lanes] = inputs
        signals = np.empty((len(rows), len(self.signals), self._wide), np.int32)
        arrays = (rows.ctypes.data, self._state.ctypes.data, signals.ctypes.data)
        self._run(*arrays, len(rows), self._room, self._wide)
        return signals[:, :, : self.lanes]


def _function(function: "ctypes._NamedFuncPointer", sizes: int) -> "ctypes._NamedFuncPointer":
    """A function of three arrays and some sizes."""
    function.restype = None
    function.argtypes = [ctypes.c_void_p] * 3 + [ctypes.c_int64] * sizes
    return function
