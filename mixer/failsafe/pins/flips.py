"""A bit flips in the board's RAM: what comes of each, told from its pins."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import Enum

from mixer.failsafe.pins.chip_only import flips_of, two_states
from mixer.failsafe.pins.run import Judged, Progress, Rig, judged_scripts
from mixer.failsafe.pins.scripts import Script


class Outcome(Enum):
    """What it does to what a robot shows at its pins."""

    HARMLESS = "harmless"
    """Every pin shows what it would have shown."""
    STOPPED = "stopped"
    """It came to rest where it had to drive: by itself, or since it began anew."""
    OTHERWISE = "otherwise"
    """Something else; its words say what."""
    MOVES = "MOVES"
    """Something moved that had to rest."""


@dataclass(frozen=True, slots=True)
class Flip:
    """One flipped bit."""

    where: str
    """Variable and byte: ``state+12``."""
    while_: str
    """``driving`` or ``resting``."""
    outcome: Outcome
    words: str
    """The first difference and for how long there are any; empty where it is harmless."""


def flips(
    rig: Rig,
    variables: Sequence[tuple[str, int]],
    healthy: Sequence[Script],
    progress: Progress | None = None,
) -> tuple[Flip, ...]:
    """A bit of every byte of some variables (name, bytes), once in a drive and once at rest."""
    scripts = [
        (state, flip)
        for state, script in two_states(healthy)
        for name, size in variables
        for flip in flips_of(name, size, script)
    ]
    judged = judged_scripts(rig, [script for _, script in scripts], progress)
    return tuple(_told((state for state, _ in scripts), judged))


def _told(states: Iterable[str], judged: Iterable[Judged]) -> Iterator[Flip]:
    for state, each in zip(states, judged, strict=True):
        where = each.played.script.fault.key.removeprefix("bit.")
        yield Flip(where, state, *_outcome(each))


def _outcome(each: Judged) -> tuple[Outcome, str]:
    differences = each.found.differences
    anew = any(cycle > each.played.onset for cycle, _ in each.played.outside.seen.resets)
    ticks = each.account.ticks
    late = any(at < len(ticks) and ticks[at] > each.played.onset for at in each.account.restarts)
    if not differences:
        return (Outcome.STOPPED, "began anew") if anew or late else (Outcome.HARMLESS, "")
    first, last = differences[0], max(item.ms for item in differences)
    onset = (each.played.onset - each.played.began) * 1000 / each.played.outside.chip.hz
    words = f"{first.output} {first.words}, from {first.ms - onset:.0f} to {last - onset:.0f} ms after it"
    if any(item.moves for item in differences):
        return Outcome.MOVES, words
    if all(item.rests for item in differences):
        return Outcome.STOPPED, words
    return Outcome.OTHERWISE, words
