"""A bit flips in the board's RAM: what comes of each, told from its pins.

Many are flipped in one run, `APART_MS` apart, while the hands hold on. Those after which every pin shows
what it would have shown are harmless; one after which they do not is told by what they show until the next,
or, where that is not over by then, is flipped once more in a run of its own, and those behind it are tried
anew. One that made the board begin anew, and nothing else, has been told: it rests until a hand arms it.
What C says is constant has a run of its own at once: a board that looks after that begins anew.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from mixer.board.image.fields import Slot
from mixer.failsafe.pins.chip_only import two_states
from mixer.failsafe.pins.judge import Difference
from mixer.failsafe.pins.run import Judged, Progress, Rig, judged_scripts
from mixer.failsafe.pins.scripts import Script
from mixer.failsafe.pins.wires.outside import Outside
from mixer.faults.fault import Fault, digest

APART_MS = 120
"""From one bit to the next: as long as a watchdog may wait, and some servo pulses."""
FRAME_MS = 20
"""The receiver's (`frame_ms` of the campaign)."""
IN_ONE_RUN = 16
LASTS_MS = 1000
"""How long one that is not over by then is looked at."""
SETTLED_MS = 40
"""It is over when everything is right for so long before the next: two servo periods."""


class Outcome(Enum):
    """What it does to what a robot shows at its pins."""

    HARMLESS = "harmless"
    """Every pin shows what it would have shown."""
    STOPPED = "stopped"
    """It came to rest where it had to drive: by itself, or since it began anew."""
    ASTRAY = "astray"
    """The program went where no simulated chip follows it; a real one has its watchdog left."""
    OTHERWISE = "otherwise"
    """Something else; its words say what."""
    MOVES = "MOVES"
    """Something moved that had to rest."""


@dataclass(frozen=True, slots=True)
class Flip:
    """One flipped bit."""

    where: str
    """The slot as C says it, and the bit's number: ``state.guard_state:3``."""
    while_: str
    """``driving`` or ``resting``."""
    outcome: Outcome
    words: str
    """The first difference and for how long there are any; empty where it is harmless."""


def flips(
    rig: Rig, slots: Sequence[Slot], healthy: Sequence[Script], progress: Progress | None = None
) -> tuple[Flip, ...]:
    """A bit of every slot, once in a drive and once at rest."""
    states = list(two_states(healthy))
    found = list[Flip]()
    for state, script in states:
        found += _in_one_state(rig, state, script, slots)
        if progress is not None:
            progress(len(found) / (len(states) * len(slots)))
    return tuple(found)


def _in_one_state(rig: Rig, state: str, script: Script, slots: Sequence[Slot]) -> list[Flip]:
    """What is behind one that lasts waits for the next round; those that last run alone in the end."""
    tries = [_Try(slot, digest(slot.name) % (8 * slot.size)) for slot in slots]
    found, lasting = dict[_Try, Flip](), list[_Try]()
    alone = [[each] for each in tries if each.slot.constant]
    left = [each for each in tries if not each.slot.constant]
    while left or alone:
        runs = [*alone, *(left[first : first + IN_ONE_RUN] for first in range(0, len(left), IN_ONE_RUN))]
        left, alone = [], []
        for run, windows in zip(runs, _played(rig, script, runs, APART_MS), strict=True):
            lasts = next((at for at, window in enumerate(windows) if window.lasts), len(run))
            over = lasts + (lasts < len(run) and windows[lasts].anew)
            found |= {
                each: Flip(each.name, state, window.outcome, window.words)
                for each, window in zip(run[:over], windows, strict=False)
            }
            lasting += run[over : lasts + 1]
            left += run[lasts + 1 :]
    for each, (window,) in zip(
        lasting, _played(rig, script, [[each] for each in lasting], LASTS_MS), strict=True
    ):
        found[each] = Flip(each.name, state, window.outcome, window.words)
    return [found[each] for each in tries]


@dataclass(frozen=True, slots=True)
class _Try:
    """A bit to flip."""

    slot: Slot
    bit: int

    @property
    def name(self) -> str:
        return f"{self.slot.name}:{self.bit}"

    def act(self, outside: Outside) -> None:
        """Flip it."""
        at = self.slot.offset + self.bit // 8
        was = outside.chip.peek(self.slot.symbol)[at]
        outside.chip.poke(self.slot.symbol, bytes([was ^ (1 << self.bit % 8)]), at)


class _Window(NamedTuple):
    """What the pins showed from one flip to the next."""

    outcome: Outcome
    words: str
    lasts: bool
    """Whether it was not over when the next came."""
    anew: bool
    """Whether the board began anew and showed nothing else."""


def _played(
    rig: Rig, script: Script, runs: Sequence[Sequence[_Try]], apart_ms: int
) -> Iterator[list[_Window]]:
    scripts = [_script(script, run, rig.plan.tick_ms, apart_ms) for run in runs]
    if not scripts:
        return
    for judged in judged_scripts(rig, scripts):
        yield list(_windows(judged, rig.plan.tick_ms))


def _script(script: Script, run: Sequence[_Try], tick_ms: int, apart_ms: int) -> Script:
    """The same drive, its last frame again and again, with one flip after the other."""
    apart, onset = apart_ms // tick_ms, script.onset
    frame = max(FRAME_MS // tick_ms, 1)
    again = onset - frame + np.arange(len(run) * apart) % frame
    rows = np.concatenate([np.arange(onset), again])
    calm = np.zeros(len(rows), np.bool_)
    return replace(
        script,
        fault=Fault("bits", "Bits flip in RAM."),
        pulses=script.pulses[rows],
        contacts=script.contacts[rows],
        resets=calm,
        held=calm,
        may_stray=True,
        acts=tuple((onset + at * apart, each.act) for at, each in enumerate(run)),
    )


def _windows(judged: Judged, tick_ms: int) -> Iterator[_Window]:
    played = judged.played
    hz = played.outside.chip.hz
    began = [played.first + round(tick * hz * tick_ms / 1000) for tick, _ in played.script.acts]
    anew = [cycle for cycle, _ in played.outside.seen.resets]
    anew += [
        int(judged.account.ticks[at]) for at in judged.account.restarts if at < len(judged.account.ticks)
    ]
    for first, last in pairwise([*began, played.end]):
        ms = [(cycle - played.began) * 1000 / hz for cycle in (first, last)]
        mine = [each for each in judged.found.differences if ms[0] <= each.ms < ms[1]]
        again = any(first < cycle <= last for cycle in anew)
        astray = played.astray and last >= played.end
        lasts = again or astray or any(each.ms > ms[1] - SETTLED_MS for each in mine)
        outcome, words = _outcome(mine, ms[0], again=again, astray=astray)
        yield _Window(outcome, words, lasts, again and outcome is Outcome.STOPPED)


def _outcome(
    differences: Sequence[Difference], onset_ms: float, *, again: bool, astray: bool
) -> tuple[Outcome, str]:
    if astray and not differences:
        return Outcome.ASTRAY, "the simulated chip goes no further"
    if not differences:
        return (Outcome.STOPPED, "began anew") if again else (Outcome.HARMLESS, "")
    first = min(differences, key=lambda each: each.ms)
    last = max(each.ms for each in differences)
    words = (
        f"{first.output} {first.words}, from {first.ms - onset_ms:.0f} to {last - onset_ms:.0f} ms after it"
    )
    if again:
        words += ", then it began anew"
    if any(each.moves for each in differences):
        return Outcome.MOVES, words
    if astray:
        return Outcome.ASTRAY, words
    if all(each.rests for each in differences):
        return Outcome.STOPPED, words
    return Outcome.OTHERWISE, words
