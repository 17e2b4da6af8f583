"""Faults of the board's supply and of its time."""

from dataclasses import dataclass

import numpy as np

from mixer.faults.fault import At, Fault, Flags, Received

WATCHDOG_MS = 64
"""What the watchdog of an exported firmware waits for (WATCHDOG_MS of its config.h) ..."""
WATCHDOG_OFF = 0.1
"""... and how far the oscillator behind it may be off (ATmega328P data sheet: 128 kHz, about 10 %)."""


def watchdog_ticks(tick_ms: int) -> int:
    """The longest it may take, in ticks."""
    return -(-round(WATCHDOG_MS * (1 + WATCHDOG_OFF) * 10) // (10 * tick_ms))


@dataclass(frozen=True, slots=True)
class PowerUp(Fault):
    """The robot is switched on while the radio already says something; `from_power_up` says the rest."""


@dataclass(frozen=True, slots=True)
class Reset(Fault):
    """The board starts anew while it drives."""

    def resets(self, at: At) -> Flags | None:
        """Once, at the onset."""
        where: Flags = at.since == 0
        return where


@dataclass(frozen=True, slots=True)
class ResetLoop(Fault):
    """The board starts anew again and again, as with a battery that sags under every start."""

    period_ticks: int = 100

    def resets(self, at: At) -> Flags | None:
        """At the onset and every period after it."""
        where: Flags = at.on & (at.since % self.period_ticks == 0)
        return where


@dataclass(frozen=True, slots=True)
class Overrun(Fault):
    """The firmware takes too long: some ticks are never run, and the next one comes late."""

    every: int = 2
    """One tick in so many is run."""
    once: bool = False
    """Whether that happens once only."""

    def misses(self, at: At) -> Flags | None:
        """All others."""
        where: Flags = at.on & (at.since % self.every != 0)
        return where & (at.since < self.every) if self.once else where


@dataclass(frozen=True, slots=True)
class SagReset(Fault):
    """The battery sags under load until the board starts anew."""

    share: float = 0.5
    """The mean share of the outputs' limits that the battery cannot bear."""

    def resets(self, at: At) -> Flags | None:
        """Whenever the outputs draw that much."""
        where: Flags = at.on & (at.load > self.share)
        return where


@dataclass(frozen=True, slots=True)
class WrongClock(Fault):
    """The board's clock is wrong: a fast one runs more ticks than time has, and finds every pulse too long.

    A slow one misses ticks. With a fast one it is the frames that come late, as the board sees it.
    """

    percent: int = 10
    """How much too fast; negative for too slow."""

    def receive(self, received: Received, at: At) -> Received:
        """Each pulse as that clock measures it, when it says the frame has come."""
        level = np.where(at.on, received.level * (100 + self.percent) // 100, received.level)
        if self.percent <= 0:
            return Received(level, received.arrives)
        now, before = (
            (at.since - back) * 100 // (at.frame_ticks * (100 + self.percent)) for back in (0, 1)
        )
        return Received(level, np.where(at.on, now != before, received.arrives))

    def misses(self, at: At) -> Flags | None:
        """Of a slow clock the ticks it lacks."""
        if self.percent >= 0:
            return None
        now, after = ((at.since + more) * -self.percent // 100 for more in (0, 1))
        where: Flags = at.on & (now != after)
        return where


@dataclass(frozen=True, slots=True)
class Hang(Fault):
    """The firmware hangs, its outputs as they stand, until a watchdog starts the board anew."""

    ticks: int = 100
    """What the watchdog waits for."""

    def misses(self, at: At) -> Flags | None:
        """Nothing runs until then."""
        where: Flags = at.on & (at.since < self.ticks)
        return where

    def resets(self, at: At) -> Flags | None:
        """Then the board starts anew."""
        where: Flags = at.since == self.ticks
        return where
