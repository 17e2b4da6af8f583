"""The firmware as an engine: inputs in, signals out, its state kept between ticks.

All engines give the same bits; they differ in speed and in what they need. They are named in `_MAKERS` as
"module:function" and imported when asked for, so that replay needs no compiler unless someone wants one.
"""

import struct
from collections.abc import Callable, Mapping, Sequence
from importlib import import_module
from types import MappingProxyType
from typing import Any, NamedTuple, Protocol, TypeAlias

import numpy as np

from mixer.core.layout import Layout, layout_of
from mixer.core.plan import Plan
from mixer.core.tick import Asked, flat_tick, mix_sticks
from mixer.errors import MissingToolError, OptionError
from mixer.runs.play.feed import Numbers

OneTick: TypeAlias = Callable[[Sequence[int], Sequence[int]], tuple[Sequence[int], Sequence[int]]]
"""(inputs, state) -> (signals, state), for one plan."""


class Engine(Protocol):
    """One board running one plan."""

    @property
    def layout(self) -> Layout:
        """What stands where."""
        ...

    @property
    def state(self) -> tuple[int, ...]:
        """Everything the board remembers now, in the order of the layout."""
        ...

    def reset(self, state: Sequence[int] | None = None) -> None:
        """Power up anew, or go on from a state seen before."""
        ...

    def step(self, inputs: Sequence[int]) -> Sequence[int]:
        """One tick; its signals."""
        ...

    def run(self, inputs: Numbers) -> Numbers:
        """(ticks, inputs) -> (ticks, signals), going on from the present state."""
        ...


class TickEngine:
    """An engine around any function that runs one tick."""

    def __init__(self, plan: Plan, one_tick: OneTick) -> None:
        self.layout = layout_of(plan)
        self._one_tick = one_tick
        self._state: Sequence[int] = self.layout.start

    @property
    def state(self) -> tuple[int, ...]:
        """Everything the board remembers now."""
        return tuple(self._state)

    def reset(self, state: Sequence[int] | None = None) -> None:
        """Power up anew, or go on from a state. Raises ValueError for one of another length."""
        if state is not None and len(state) != len(self.layout.start):
            raise ValueError(f"a state of {len(state)} numbers where the plan has {len(self.layout.start)}")
        self._state = self.layout.start if state is None else tuple(state)

    def step(self, inputs: Sequence[int]) -> Sequence[int]:
        """One tick; its signals."""
        signals, self._state = self._one_tick(inputs, self._state)
        return signals

    def run(self, inputs: Numbers) -> Numbers:
        """Many ticks. Packing each tick's signals at once costs half of what building an array does."""
        width = len(self.layout.signals)
        line = struct.Struct(f"={width}i")
        pack, size, one_tick, state = line.pack_into, line.size, self._one_tick, self._state
        packed = bytearray(len(inputs) * size)
        at = 0
        for values in inputs.tolist():
            signals, state = one_tick(values, state)
            pack(packed, at, *signals)
            at += size
        self._state = state
        return np.frombuffer(packed, dtype=np.int32).reshape(len(inputs), width)


def direct_engine(plan: Plan) -> Engine:
    """The core itself, called as it stands."""
    ask = _SameQuestion()
    return TickEngine(plan, lambda inputs, state: flat_tick(plan, inputs, state, ask))


class _SameQuestion:
    """Keeps the last answer of the stateless half: between two frames nine of ten ticks ask the same."""

    def __init__(self) -> None:
        self._question: tuple[list[int], list[int], int] | None = None
        self._answer: Asked

    def __call__(self, plan: Plan, pulses: list[int], positions: list[int], flipped: int) -> Asked:
        question = (pulses, positions, flipped)
        if question != self._question:
            self._question = question
            self._answer = mix_sticks(plan, pulses, positions, flipped)
        return self._answer


def python_engine(plan: Plan) -> Engine:
    """Straight-line Python generated for this plan."""
    return TickEngine(plan, _function("mixer.lower.run.python:compile_tick")(plan))


_MAKERS: Mapping[str, str] = MappingProxyType(
    {
        "direct": "mixer.runs.play.engines:direct_engine",
        "python": "mixer.runs.play.engines:python_engine",
        "native": "mixer.lower.run.native:NativeEngine",
    }
)
ENGINE_NAMES = tuple(_MAKERS)
DEFAULT_ENGINE = "python"
"""For ticks one by one, where calling C costs more than it saves."""


def make_engine(name: str, plan: Plan) -> Engine:
    """An engine by its name, freshly powered up.

    Raises OptionError for a name that is none, MissingToolError for "native" without a C compiler.
    """
    if name not in _MAKERS:
        raise OptionError(f"there is no engine {name!r}", f"one of {', '.join(ENGINE_NAMES)}")
    made: Engine = _function(_MAKERS[name])(plan)
    return made


class Chosen(NamedTuple):
    """An engine, what it is called, and why it was not a quicker one."""

    engine: Engine
    name: str
    why: str
    """Empty for the quickest there is."""


def quickest_engine(plan: Plan) -> Chosen:
    """For many ticks at once: native where a C compiler is found, else generated Python. Same bits."""
    try:
        return Chosen(make_engine("native", plan), "native", "")
    except MissingToolError as error:
        return Chosen(make_engine(DEFAULT_ENGINE, plan), DEFAULT_ENGINE, error.said)


def _function(address: str) -> Callable[[Plan], Any]:
    module, _, name = address.partition(":")
    found: Callable[[Plan], Any] = getattr(import_module(module), name)
    return found
