"""Two tunings on the same log: where the outputs part, by how much, and whether the guard agrees.

Outputs are compared by name; those that only one robot has are listed. Both runs must have the same tick,
for otherwise a moment of one has no counterpart in the other.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from pydantic import computed_field

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import Guard, Plan
from mixer.errors import OptionError
from mixer.runs.clock import TickTime, tick_time
from mixer.runs.play.stretch import Stretch


@dataclass(frozen=True, slots=True)
class Difference:
    """How far two series of numbers are apart."""

    largest: float
    mean: float
    """Mean magnitude over the whole log."""
    first_s: float | None
    """When they first part; None when they never do."""
    apart_s: float
    """Time for which they differ at all."""


@dataclass(frozen=True, slots=True)
class OutputDifference:
    """One output of both robots."""

    name: str
    command: Difference
    """As a share of full."""
    wire: Difference | None
    """In µs or duty counts; None when the two wires do not carry the same kind of thing."""


@dataclass(frozen=True, slots=True)
class GuardDifference:
    """The two guards."""

    first_s: float | None
    apart_s: float
    live_only_a_s: float
    live_only_b_s: float


@dataclass(frozen=True, slots=True)
class Comparison:
    """Everything that differs between two runs of one log."""

    robot_a: str
    robot_b: str
    ticks: int
    duration_s: float
    guard: GuardDifference
    outputs: tuple[OutputDifference, ...]
    only_a: tuple[str, ...]
    only_b: tuple[str, ...]

    @computed_field
    @property
    def equal(self) -> bool:
        """Whether both robots would have done exactly the same."""
        apart = [self.guard.apart_s, *(output.command.apart_s for output in self.outputs)]
        wires = [output.wire.apart_s if output.wire else 1.0 for output in self.outputs]
        return not (any(apart) or any(wires) or self.only_a or self.only_b)


class Pair:
    """Two runs of one log, compared stretch by stretch."""

    def __init__(self, plan_a: Plan, plan_b: Plan) -> None:
        """Raises OptionError when the plans' ticks differ."""
        if plan_a.tick_ms != plan_b.tick_ms:
            said = f"{plan_a.name} runs every {plan_a.tick_ms} ms, {plan_b.name} every {plan_b.tick_ms} ms"
            raise OptionError(said, "give both profiles the same tick_ms to compare them")
        self._plans = plan_a, plan_b
        self.names = f"{plan_a.name} and {plan_b.name}"
        kinds_a = {output.name: output.wire for output in plan_a.outputs}
        kinds_b = {output.name: output.wire for output in plan_b.outputs}
        self._both = [name for name in kinds_a if name in kinds_b]
        self._pairs = [(list(kinds_a).index(name), list(kinds_b).index(name)) for name in self._both]
        self._only = [n for n in kinds_a if n not in kinds_b], [n for n in kinds_b if n not in kinds_a]
        self._commands = [_Apart() for _ in self._both]
        self._wires = [_Apart() if kinds_a[n] is kinds_b[n] else None for n in self._both]
        self._guard = _Apart()
        self._live_only = [0, 0]
        self._ticks = 0

    def add(self, a: Stretch, b: Stretch) -> None:
        """The next stretch of both, of equal length."""
        told_a, told_b = (
            layout_of(plan).signals_of(list(stretch.signals.T))
            for plan, stretch in zip(self._plans, (a, b), strict=True)
        )
        for (at_a, at_b), command, wire in zip(self._pairs, self._commands, self._wires, strict=True):
            here, there = told_a.outputs[at_a], told_b.outputs[at_b]
            command.add(self._ticks, here.command, there.command)
            if wire is not None:
                wire.add(self._ticks, here.wire, there.wire)
        state_a, state_b = told_a.guard.state, told_b.guard.state
        self._guard.add(self._ticks, state_a, state_b)
        live_a, live_b = state_a == Guard.LIVE, state_b == Guard.LIVE
        self._live_only[0] += int(np.count_nonzero(live_a & ~live_b))
        self._live_only[1] += int(np.count_nonzero(live_b & ~live_a))
        self._ticks += len(a.signals)

    def comparison(self) -> Comparison:
        """What has been seen so far."""
        time = tick_time(self._plans[0].tick_ms)
        outputs: Sequence[OutputDifference] = [
            OutputDifference(
                name,
                command.difference(time, self._ticks, ONE),
                wire.difference(time, self._ticks, 1) if wire is not None else None,
            )
            for name, command, wire in zip(self._both, self._commands, self._wires, strict=True)
        ]
        guard = self._guard.difference(time, self._ticks, 1)
        return Comparison(
            robot_a=self._plans[0].name,
            robot_b=self._plans[1].name,
            ticks=self._ticks,
            duration_s=time.seconds(self._ticks),
            guard=GuardDifference(guard.first_s, guard.apart_s, *map(time.seconds, self._live_only)),
            outputs=tuple(outputs),
            only_a=tuple(self._only[0]),
            only_b=tuple(self._only[1]),
        )


class _Apart:
    def __init__(self) -> None:
        self._largest = self._sum = self._apart = 0
        self._first: int | None = None

    def add(self, first_tick: int, a: NDArray[np.int32], b: NDArray[np.int32]) -> None:
        apart = np.abs(a.astype(np.int64) - b)
        places = np.flatnonzero(apart)
        if len(places) and self._first is None:
            self._first = first_tick + int(places[0])
        self._largest = max(self._largest, int(apart.max(initial=0)))
        self._sum += int(apart.sum())
        self._apart += len(places)

    def difference(self, time: TickTime, ticks: int, full: int) -> Difference:
        first = None if self._first is None else time.seconds(self._first)
        mean = self._sum / max(ticks, 1) / full
        return Difference(self._largest / full, mean, first, time.seconds(self._apart))
