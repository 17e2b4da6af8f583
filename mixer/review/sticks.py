"""How the sticks were used while the robot was live: where in their travel, in which shape."""

from dataclasses import dataclass

import numpy as np

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import Guard, Plan, StickPlan
from mixer.core.signals import Signals
from mixer.runs.clock import TickTime
from mixer.runs.play.stretch import Numbers, Stretch

BINS = 41
"""An odd number, so that one bin lies around the centre."""


@dataclass(frozen=True, slots=True)
class ShapeUse:
    """One shape of a stick, by the position of the switch that chooses it."""

    position: str
    """``-`` for a stick with one shape."""
    live_s: float
    share: float
    """Of the live time."""
    mean_size: float
    """The stick's mean magnitude in it, a share of its travel."""


@dataclass(frozen=True, slots=True)
class StickUse:
    """One stick over the live time. All shares are of that."""

    name: str
    live_s: float
    in_deadband: float
    """Share in which the deadband made nothing of it."""
    at_full: float
    """Share at either end of its travel."""
    mean_size: float
    histogram: tuple[float, ...]
    """Shares in `BINS` equal parts of the travel, from low end to high end."""
    shapes: tuple[ShapeUse, ...]


class SticksWatch:
    """A sink that watches every stick."""

    def __init__(self, plan: Plan) -> None:
        self._plan, self._layout = plan, layout_of(plan)
        self._sticks = [_StickWatch(stick) for stick in plan.sticks]

    def add(self, stretch: Stretch) -> None:
        """The next stretch."""
        places = self._layout.places
        live = stretch.signals[stretch.signals[:, places.guard.state] == Guard.LIVE]
        if len(live):
            told = self._layout.signals_of(list(live.T))
            for number, watch in enumerate(self._sticks):
                watch.add(number, told)

    def use(self, time: TickTime) -> tuple[StickUse, ...]:
        """What has been seen so far."""
        return tuple(watch.use(self._plan, time) for watch in self._sticks)


class _StickWatch:
    def __init__(self, stick: StickPlan) -> None:
        self._stick = stick
        self._bins = np.zeros(BINS, np.int64)
        shapes = len(stick.shapes)
        self._in_shape, self._size = np.zeros(shapes, np.int64), np.zeros(shapes, np.float64)
        self._resting = self._full = 0

    def add(self, number: int, told: Signals[Numbers]) -> None:
        """Live ticks."""
        scaled, banded = told.sticks[number].scaled, told.sticks[number].banded
        size = np.abs(scaled)
        self._bins += np.bincount((scaled + ONE) * BINS // (2 * ONE + 1), minlength=BINS)
        self._resting += int(np.count_nonzero(banded == 0))
        self._full += int(np.count_nonzero(size >= ONE))
        chooser, shapes = self._stick.chooser, len(self._stick.shapes)
        chosen = np.zeros_like(scaled) if chooser is None else told.switches[chooser].position
        chosen = np.minimum(chosen, shapes - 1)
        self._in_shape += np.bincount(chosen, minlength=shapes)
        self._size += np.bincount(chosen, weights=size, minlength=shapes)

    def use(self, plan: Plan, time: TickTime) -> StickUse:
        ticks = int(self._in_shape.sum())
        whole, chooser = max(ticks, 1), self._stick.chooser
        names = ("-",) if chooser is None else plan.switches[chooser].position_names
        shapes = (
            ShapeUse(name, time.seconds(int(n)), n / whole, size / max(int(n), 1) / ONE)
            for name, n, size in zip(names, self._in_shape.tolist(), self._size.tolist(), strict=False)
        )
        return StickUse(
            name=self._stick.name,
            live_s=time.seconds(ticks),
            in_deadband=self._resting / whole,
            at_full=self._full / whole,
            mean_size=float(self._size.sum()) / whole / ONE,
            histogram=tuple((self._bins / whole).tolist()),
            shapes=tuple(shapes),
        )
