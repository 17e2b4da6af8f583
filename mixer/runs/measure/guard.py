"""When the robot was live, when not, and why it stopped."""

from dataclasses import dataclass

import numpy as np

from mixer.core.layout import layout_of
from mixer.core.plan import Guard, Plan
from mixer.runs.clock import TickTime
from mixer.runs.play.stretch import Stretch

MOST_EVENTS = 1000
"""Transitions and losses kept by time; any beyond are counted only, so that memory stays flat."""


@dataclass(frozen=True, slots=True)
class Transition:
    """The guard went from one state to another."""

    at_s: float
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Loss:
    """A time without signal after there had been one."""

    at_s: float
    lasted_s: float
    channels: tuple[str, ...]
    """Those that were lost at any time during it."""
    ended: bool
    """False when the log ends within it."""


@dataclass(frozen=True, slots=True)
class GuardMeasure:
    """The guard over the whole log."""

    seconds: dict[str, float]
    """Time in each state, by its name."""
    transitions: tuple[Transition, ...]
    transitions_total: int
    losses: tuple[Loss, ...]
    losses_total: int


class GuardWatch:
    """Watches the guard's state and the signal."""

    def __init__(self, plan: Plan) -> None:
        places = layout_of(plan).places
        self._names = [channel.name for channel in plan.channels]
        self._state, self._signal = places.guard.state, places.guard.signal
        self._ages = [channel.age for channel in places.channels]
        self._lost_ticks = plan.guard.lost_ticks
        self._in_state = np.zeros(len(Guard), dtype=np.int64)
        self._last_state = int(Guard.SEARCHING)
        self._transitions: list[tuple[int, int, int]] = []
        self._transitions_total = 0
        self._had_signal = False
        self._losses: list[tuple[int, int, int]] = []
        self._losses_total = 0
        self._open: tuple[int, int] | None = None
        """Where the present loss began, and the set of channels lost since, as bits."""
        self._ticks = 0

    def add(self, stretch: Stretch) -> None:
        """The next stretch."""
        states = stretch.signals[:, self._state]
        self._in_state += np.bincount(states, minlength=len(Guard))
        before = np.concatenate(([self._last_state], states[:-1]))
        changes = np.flatnonzero(before != states)
        self._transitions_total += len(changes)
        for at in changes[: MOST_EVENTS - len(self._transitions)].tolist():
            self._transitions.append((stretch.first_tick + at, int(before[at]), int(states[at])))
        self._last_state = int(states[-1])
        self._find_losses(stretch)
        self._ticks = stretch.first_tick + len(states)

    def _find_losses(self, stretch: Stretch) -> None:
        signal = stretch.signals[:, self._signal]
        before = np.concatenate(([int(self._had_signal and self._open is None)], signal[:-1]))
        edges = [*np.flatnonzero(before != signal).tolist(), len(signal)]
        start = 0
        for edge in edges:
            if self._open is not None and edge > start:
                began, lost = self._open
                self._open = began, lost | self._lost_in(stretch.signals[start:edge])
            if edge < len(signal):
                self._turn(stretch.first_tick + edge, has_signal=bool(signal[edge]))
            start = edge

    def _turn(self, tick: int, *, has_signal: bool) -> None:
        if not has_signal:
            self._open = tick, 0
            self._losses_total += 1
        elif self._open is not None:
            self._keep(tick)
            self._open = None
        self._had_signal = True

    def _keep(self, tick: int) -> None:
        if self._open is not None and len(self._losses) < MOST_EVENTS:
            self._losses.append((self._open[0], tick, self._open[1]))

    def _lost_in(self, signals: np.ndarray) -> int:
        lost = (signals[:, self._ages] >= self._lost_ticks).any(axis=0)
        return sum(1 << index for index in np.flatnonzero(lost).tolist())

    def measure(self, time: TickTime) -> GuardMeasure:
        """What has been seen so far."""
        losses = [self._loss(time, *span, ended=True) for span in self._losses]
        if self._open is not None and len(losses) < MOST_EVENTS:
            losses.append(self._loss(time, self._open[0], self._ticks, self._open[1], ended=False))
        return GuardMeasure(
            seconds={state.name.lower(): time.seconds(int(self._in_state[state])) for state in Guard},
            transitions=tuple(
                Transition(time.seconds(tick), Guard(before).name.lower(), Guard(after).name.lower())
                for tick, before, after in self._transitions
            ),
            transitions_total=self._transitions_total,
            losses=tuple(losses),
            losses_total=self._losses_total,
        )

    def _loss(self, time: TickTime, began: int, until: int, lost: int, *, ended: bool) -> Loss:
        names = tuple(name for index, name in enumerate(self._names) if lost >> index & 1)
        return Loss(time.seconds(began), time.seconds(until - began), names, ended)
