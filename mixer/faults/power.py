"""Faults of the board's supply and of its time."""

from dataclasses import dataclass

from mixer.faults.fault import At, Fault, Flags


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
    """The firmware takes too long: some ticks are never run."""

    every: int = 2
    """One tick in so many is run."""

    def misses(self, at: At) -> Flags | None:
        """All others."""
        where: Flags = at.on & (at.since % self.every != 0)
        return where


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
class SlowClock(Fault):
    """The board's clock runs slow: it runs fewer ticks than it counts."""

    every: int = 10
    """One tick in so many is not run."""

    def misses(self, at: At) -> Flags | None:
        """That one."""
        where: Flags = at.on & (at.since % self.every == self.every - 1)
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
