"""The difference between two tunings on one log, shared out among the keys that make it."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np

from mixer.errors import StickwrightError
from mixer.profile.edit.differences import Change
from mixer.review.why.between import Between
from mixer.review.why.effects import EFFECTS, UNITS, HalfStick, half_stick
from mixer.review.why.runs import Runs
from mixer.review.why.shares import Shares, orders_for, shares_of
from mixer.runs.play.stretch import Floats

MOSTLY = 0.8
"""The shortest time that holds so much of what a key changes is when it mostly does."""


@dataclass(frozen=True, slots=True)
class Part:
    """One key's part in the difference, or that of keys that cannot be changed apart."""

    changes: tuple[str, ...]
    share: float
    """Of the whole; below 0 where it makes the two more alike."""
    error: float
    """Standard error of the share; 0 where it is exact."""
    alone: float
    """Difference that it makes alone: mean over outputs and time, as a share of full."""
    from_s: float | None
    until_s: float | None
    """When it mostly does, alone; None where it does nothing alone."""
    half: HalfStick | None
    effects: dict[str, float]
    """What it does to each of `EFFECTS`, in their units; over all keys they add up to b less a."""


@dataclass(frozen=True, slots=True)
class Why:
    """Everything that makes two tunings differ on a log."""

    whole: float
    """Mean difference of the commands, over outputs and time, as a share of full."""
    method: str
    parts: tuple[Part, ...]
    """The largest share first."""
    idle: tuple[str, ...]
    """Keys that differ and change neither firmware nor physics."""
    a: dict[str, float]
    b: dict[str, float]
    """The effects of either tuning; empty of what only physics knows where there is none."""
    units: dict[str, str]


def explain_difference(between: Between, runs: Runs, progress: Callable[[float], None]) -> Why:
    """Put keys over one at a time and together. Raises LogError, OptionError, ProfileError."""
    idle = between.settle()
    while True:
        try:
            return _Explainer(between, runs, progress).why(idle)
        except _CannotBe as refused:
            between.join(refused.members)


class _CannotBe(Exception):  # noqa: N818  no error of anybody's: these go together
    """A set of players that makes no robot."""

    def __init__(self, members: frozenset[int]) -> None:
        super().__init__()
        self.members = members


class _Explainer:
    def __init__(self, between: Between, runs: Runs, progress: Callable[[float], None]) -> None:
        self._between, self._runs, self._progress = between, runs, progress
        self._count, self._done = len(between.players), 0
        self._all_runs = orders_for(self._count) * self._count or 2**self._count
        self._alone: dict[int, Floats] = {}

    def why(self, idle: tuple[tuple[int, ...], ...]) -> Why:
        nobody, everybody = frozenset[int](), frozenset(range(self._count))
        worth = cache(self._worth)
        first = worth(nobody)  # the run that all others are compared with
        last = worth(everybody)
        for player in everybody:
            worth(frozenset((player,)))
        found = shares_of(self._count, worth)
        parts = [self._part(player, found, float(last[0])) for player in sorted(everybody)]
        names = EFFECTS if self._runs.physics else EFFECTS[-2:]
        picked = [EFFECTS.index(name) + 1 for name in names]
        return Why(
            whole=float(last[0]),
            method=_method(found),
            parts=tuple(sorted(parts, key=lambda part: -abs(part.share))),
            idle=tuple(map(self._words, idle)),
            a={name: float(first[at]) for name, at in zip(names, picked, strict=True)},
            b={name: float(last[at]) for name, at in zip(names, picked, strict=True)},
            units=dict(zip(EFFECTS, UNITS, strict=True)),
        )

    def _worth(self, members: frozenset[int]) -> Floats:
        """Difference from the first tuning, then the effects."""
        try:
            apart, effects = self._runs.drive(self._between.profile(members))
        except StickwrightError:
            if len(members) in (0, self._count):
                raise
            raise _CannotBe(members if len(members) > 1 else frozenset(range(self._count))) from None
        self._done += 1
        self._progress(min(self._done / self._all_runs, 1.0))
        if len(members) == 1:
            self._alone[next(iter(members))] = apart
        return np.array([apart.mean(), *effects])

    def _part(self, player: int, found: Shares, whole: float) -> Part:
        own, error = found.shares[player], found.errors[player]
        apart = self._alone[player]
        here = self._between.profile(frozenset((player,))).plan()
        first = self._between.profile(frozenset()).plan()
        span = mostly(apart, first.tick_ms / 1000)
        names = EFFECTS if self._runs.physics else EFFECTS[-2:]
        return Part(
            changes=tuple(str(change) for change in self._changes(player)),
            share=float(own[0]) / whole if whole else 0.0,
            error=float(error[0]) / whole if whole else 0.0,
            alone=float(apart.mean()),
            from_s=None if span is None else span[0],
            until_s=None if span is None else span[1],
            half=half_stick(first, here),
            effects={name: float(own[1 + EFFECTS.index(name)]) for name in names},
        )

    def _changes(self, player: int) -> list[Change]:
        return [self._between.changes[number] for number in self._between.players[player]]

    def _words(self, numbers: tuple[int, ...]) -> str:
        return "; ".join(str(self._between.changes[number]) for number in numbers)


def _method(found: Shares) -> str:
    how = "every combination tried" if not found.orders else f"{found.orders} orders drawn, seed 1"
    return f"Shapley values (1953), {how}"


def mostly(apart: Floats, tick_s: float) -> tuple[float, float] | None:
    """The shortest time, in whole tenths of a second, that holds `MOSTLY` of a series; None for none."""
    every = max(round(0.1 / tick_s), 1)
    sums = np.concatenate([[0.0], np.cumsum(np.add.reduceat(apart, np.arange(0, len(apart), every)))])
    if not sums[-1]:
        return None
    ends = np.searchsorted(sums, sums + MOSTLY * sums[-1] * (1 - 1e-12))
    starts = np.flatnonzero(ends < len(sums))
    best = int(starts[np.argmin(ends[starts] - starts)])
    return best * every * tick_s, float(min(int(ends[best]) * every, len(apart)) * tick_s)
