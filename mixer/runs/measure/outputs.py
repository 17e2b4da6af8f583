"""What each output was told, and what held it back.

Each tick of an output, `wanted` is what gain, breakaway and limit made of the mix; the interlock
narrows that to `allowed`; slew and the rest before a reversal delay it into `command`. Comparing these
stages tells who held it back.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import ActuatorPlan, Guard, OutputPlan, Plan
from mixer.core.signals import ActuatorSignals, OutputSignals
from mixer.runs.clock import TickTime
from mixer.runs.play.stretch import Numbers, Stretch


@dataclass(frozen=True, slots=True)
class OutputMeasure:
    """One output over the whole log. Commands as a share of full, times in s."""

    name: str
    peak: float
    """The largest magnitude it was told."""
    mean: float
    """The mean of the command while live; forward positive."""
    mean_magnitude: float
    """The mean of the command's magnitude while live."""
    over_range_s: float
    """Live, and the mix asked for more than full, so that the group's policy changed this output."""
    at_full_s: float
    """Live, and the mix gives exactly full."""
    saturated_s: float
    """Either of the two."""
    at_limit_s: float
    """Live, and held by the output's own limit below full."""
    slew_limited_s: float
    """On its way to what is wanted, held back by the slew."""
    reversal_rest_s: float
    """At zero although the other direction is wanted: resting before the reversal."""
    reversals: int
    """How many times it went from one direction to the other."""


@dataclass(frozen=True, slots=True)
class ActuatorMeasure:
    """One actuator over the whole log."""

    name: str
    vetoes: int
    """How many times the interlock began to hold it back while it was wanted to move."""
    vetoed_s: float
    out_blocked_s: float
    """Time for which extending was not allowed."""
    in_blocked_s: float
    """Time for which retracting was not allowed."""
    fault_s: float
    """Time for which both end stops were closed long enough to be a fault."""


class OutputsWatch:
    """Watches all outputs and actuators."""

    def __init__(self, plan: Plan) -> None:
        places = layout_of(plan).places
        self._state = places.guard.state
        self._live = 0
        vetoes = {
            actuator.output: _VetoWatch(actuator, at)
            for actuator, at in zip(plan.actuators, places.actuators, strict=True)
        }
        self._watches = [
            _OutputWatch(output, at, vetoes.get(number))
            for number, (output, at) in enumerate(zip(plan.outputs, places.outputs, strict=True))
        ]

    def add(self, stretch: Stretch) -> None:
        """The next stretch."""
        live = stretch.signals[:, self._state] == Guard.LIVE
        self._live += int(np.count_nonzero(live))
        for watch in self._watches:
            watch.add(stretch.signals, live)

    def outputs(self, time: TickTime) -> tuple[OutputMeasure, ...]:
        """What has been seen of the outputs so far."""
        return tuple(watch.measure(time, self._live) for watch in self._watches)

    def actuators(self, time: TickTime) -> tuple[ActuatorMeasure, ...]:
        """What has been seen of the actuators so far."""
        return tuple(watch.veto.measure(time) for watch in self._watches if watch.veto is not None)


class _OutputWatch:
    def __init__(self, output: OutputPlan, at: OutputSignals[int], veto: "_VetoWatch | None") -> None:
        self._places = (at.mixed, at.blended, at.wanted, at.command)
        self._plan = output
        self.veto = veto
        self._peak = 0
        self._sum = 0
        self._magnitudes = 0
        self._over = self._full = self._saturated = self._limited = self._slewed = self._rested = 0
        self._way = self._reversals = 0

    def add(self, signals: Numbers, live: NDArray[np.bool_]) -> None:
        mixed, blended, wanted, command = (np.ascontiguousarray(signals[:, at]) for at in self._places)
        allowed = self.veto.add(signals, wanted, live) if self.veto is not None else wanted
        size = np.abs(command)
        self._peak = max(self._peak, int(size.max()))
        self._sum += int(command.sum(where=live, dtype=np.int64))
        self._magnitudes += int(size.sum(where=live, dtype=np.int64))
        over = live & (blended != mixed)
        full = live & ~over & (np.abs(blended) >= ONE)
        self._over += _count(over)
        self._full += _count(full)
        self._saturated += _count(over | full)
        if self._plan.limit < ONE:
            self._limited += _count(live & (np.abs(wanted) >= self._plan.limit))
        held = command != allowed
        at_zero = command == 0
        self._slewed += _count(held & ~at_zero)
        self._rested += _count(held & at_zero)
        ways = np.sign(command[~at_zero])
        if len(ways):
            self._reversals += _count(ways[1:] != ways[:-1]) + (self._way * int(ways[0]) < 0)
            self._way = int(ways[-1])

    def measure(self, time: TickTime, live: int) -> OutputMeasure:
        full = ONE * max(live, 1)
        return OutputMeasure(
            name=self._plan.name,
            peak=self._peak / ONE,
            mean=self._sum / full,
            mean_magnitude=self._magnitudes / full,
            over_range_s=time.seconds(self._over),
            at_full_s=time.seconds(self._full),
            saturated_s=time.seconds(self._saturated),
            at_limit_s=time.seconds(self._limited),
            slew_limited_s=time.seconds(self._slewed),
            reversal_rest_s=time.seconds(self._rested),
            reversals=self._reversals,
        )


class _VetoWatch:
    def __init__(self, actuator: ActuatorPlan, at: ActuatorSignals[int]) -> None:
        self._name = actuator.name
        self._places = at
        self._was = False
        self._vetoes = self._vetoed = self._out = self._in = self._fault = 0

    def add(self, signals: Numbers, wanted: Numbers, live: NDArray[np.bool_]) -> Numbers:
        """Count, and give back what the interlock left of `wanted`."""
        low, high, fault = (np.ascontiguousarray(signals[:, at]) for at in self._places)
        allowed: Numbers = np.minimum(np.maximum(wanted, low), high)
        veto = live & (allowed != wanted)
        before = np.concatenate(([self._was], veto[:-1]))
        self._vetoes += _count(veto & ~before)
        self._was = bool(veto[-1])
        self._vetoed += _count(veto)
        self._out += _count(high < ONE)
        self._in += _count(low > -ONE)
        self._fault += _count(fault > 0)
        return allowed

    def measure(self, time: TickTime) -> ActuatorMeasure:
        seconds: Sequence[float] = [
            time.seconds(n) for n in (self._vetoed, self._out, self._in, self._fault)
        ]
        return ActuatorMeasure(self._name, self._vetoes, *seconds)


def _count(flags: NDArray[np.bool_]) -> int:
    return int(np.count_nonzero(flags))
