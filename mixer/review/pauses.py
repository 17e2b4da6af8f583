"""When and why the robot was not live, and each channel's gaps by time."""

from dataclasses import dataclass

import numpy as np

from mixer.core.layout import layout_of
from mixer.core.plan import Guard, Plan
from mixer.core.signals import Signals
from mixer.review.spans import Span, Spans
from mixer.runs.clock import US_PER_MS, TickTime
from mixer.runs.explain.reasons import faults_in, lost_in, not_neutral_in
from mixer.runs.log.read import GAP_US
from mixer.runs.play.stretch import Stretch

WAITS = (
    "a fault",
    "signal",
    "the arm switch",
    "sticks at neutral",
    "the hold time, or the switch seen off",
)
"""What a robot that is not live waits for, first things first."""


@dataclass(frozen=True, slots=True)
class Pause:
    """A time in which the robot was not live."""

    at_s: float
    lasted_s: float
    why: str
    """What kept it from being live when it began."""
    was_live: bool
    """Whether it had been live just before."""
    by_hand: bool
    """Whether neither a loss nor a fault was why."""
    ended: bool

    @property
    def began(self) -> str:
        """What happened, in a word or two."""
        if not self.was_live:
            return "not live"
        return "disarmed" if self.by_hand else "stopped"


@dataclass(frozen=True, slots=True)
class Gap:
    """A time without a good pulse on some channels."""

    channels: tuple[str, ...]
    at_s: float
    lasted_s: float
    lost: bool
    """Whether it was long enough to stop the robot."""


class PausesWatch:
    """A sink that watches the guard and the age of every channel's last good pulse."""

    def __init__(self, plan: Plan) -> None:
        self._plan, self._layout = plan, layout_of(plan)
        self._least = max(GAP_US // US_PER_MS // plan.tick_ms, 1)
        self.pauses = Spans()
        self.gaps = [Spans() for _ in plan.channels]
        self._waits = np.zeros(len(WAITS), np.int64)

    def add(self, stretch: Stretch) -> None:
        """The next stretch."""
        told = self._layout.signals_of(list(stretch.signals.T))
        guard = told.guard
        resting = guard.state != Guard.LIVE
        self.pauses.add(stretch, resting)
        for channel, spans in zip(told.channels, self.gaps, strict=True):
            spans.add(stretch, channel.age >= min(self._least, self._plan.guard.lost_ticks))
        if resting.any():
            faulted = (guard.state == Guard.FAULTED) | (guard.fault != 0)
            waits = [faulted, guard.signal == 0, guard.armed == 0, guard.neutral == 0]
            first = np.select(waits, range(len(waits)), len(waits))
            self._waits += np.bincount(first[resting], minlength=len(WAITS))

    def paused(self, time: TickTime) -> tuple[Pause, ...]:
        """The times in which the robot was not live, in their order."""
        return tuple(self._pause(span, time) for span in self.pauses.found())

    def waited(self, time: TickTime) -> dict[str, float]:
        """Seconds by what the robot waited for while it was not live."""
        return {
            words: time.seconds(ticks) for words, ticks in zip(WAITS, self._waits.tolist(), strict=True)
        }

    def gapped(self, time: TickTime) -> tuple[Gap, ...]:
        """Gaps of `GAP_US` and longer, in the order of time; channels that go and come together are one."""
        early = min(self._least, self._plan.guard.lost_ticks)
        together: dict[tuple[int, int], list[str]] = {}
        for channel, spans in zip(self._plan.channels, self.gaps, strict=True):
            for span in spans.found():
                began = max(span.first_tick - early, 0)
                together.setdefault((began, span.first_tick + span.ticks), []).append(channel.name)
        return tuple(
            Gap(
                tuple(names),
                time.seconds(began),
                time.seconds(until - began),
                lost=until - began > self._plan.guard.lost_ticks,
            )
            for (began, until), names in sorted(together.items())
        )

    def _pause(self, span: Span, time: TickTime) -> Pause:
        signals = self._layout.signals_of(span.row)
        by_hand = not (faults_in(self._plan, signals) or lost_in(self._plan, signals))
        return Pause(
            at_s=time.seconds(span.first_tick),
            lasted_s=time.seconds(span.ticks),
            why=why_stopped(self._plan, signals),
            was_live=span.first_tick > 0,
            by_hand=by_hand,
            ended=span.ended,
        )


def why_stopped(plan: Plan, signals: Signals[int]) -> str:
    """What keeps a robot from being live, or ended that, in the words of `explain`."""
    reasons = [*faults_in(plan, signals), *lost_in(plan, signals)]
    arm = plan.guard.arm
    if not reasons and arm is not None and not signals.guard.armed:
        switch = plan.switches[arm.switch]
        reasons = [f"{switch.name} is {switch.position_names[signals.switches[arm.switch].position]}"]
    return "; ".join(reasons or not_neutral_in(plan, signals)) or "not armed since"
