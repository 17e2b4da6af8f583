"""All scenarios of one robot's image, on as many chips at once as there are processors.

A chip runs in its own process or outside the interpreter's lock, so that threads are enough; what they
played is judged in portions, many scripts side by side.
"""

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from contextlib import ExitStack, closing
from dataclasses import dataclass
from threading import Event
from typing import NamedTuple

from mixer.board.chip.chip import Chip
from mixer.board.pins.wires import Pins
from mixer.core.plan import Plan
from mixer.failsafe.campaign.run import Request
from mixer.failsafe.pins.account import Account, accounts_of
from mixer.failsafe.pins.judge import Found, judged
from mixer.failsafe.pins.play import Played, Player
from mixer.failsafe.pins.results import PinResult, Seen, result_of, seen_of
from mixer.failsafe.pins.scripts import Script, faults_at_pins, scripts_of
from mixer.failsafe.pins.wires.outside import Outside
from mixer.failsafe.report.stop import Stop
from mixer.faults.fault import Fault

PORTION = 48
"""Scripts that are judged side by side; their edges are kept until then."""
TELL_EVERY_S = 0.2

Progress = Callable[[float], None]
"""Called with the share of the work that is done, 0 to 1."""


@dataclass(frozen=True)
class Rig:
    """An image, ready to be played on."""

    plan: Plan
    stop: Stop
    pins: Pins
    power_up: Callable[[], Chip]
    """Makes another chip with the image."""
    jobs: int = 0
    """Chips at once; 0 for as many as there are processors."""


class Judged(NamedTuple):
    """One played script and what is to be said of it."""

    played: Played
    account: Account
    found: Found


def run_at_pins(rig: Rig, request: Request, progress: Progress | None = None) -> PinResult:
    """The campaign's faults: `request.scenarios` of them or a few more."""
    faults = faults_at_pins(rig.plan, round(request.frame_ms * 1000) if rig.pins.train else 0)
    return lines_of(rig, faults, judged_scripts(rig, list(scripts_of(request, faults)), progress))


def lines_of(rig: Rig, faults: Sequence[Fault], judged: Iterable[Judged]) -> PinResult:
    """A line for each fault."""
    seen: list[Seen] = []
    seconds = 0.0
    for each in judged:
        seen.append(seen_of(rig.plan, rig.stop, each.played, each.account, each.found))
        seconds += (each.played.end - each.played.began) / each.played.outside.chip.hz
    return result_of(rig.plan, rig.stop, faults, seen, seconds)


def judged_scripts(
    rig: Rig, scripts: Sequence[Script], progress: Progress | None = None
) -> Iterator[Judged]:
    """Every script, played and judged, in their order."""
    for portion in _played(rig, scripts, progress or (lambda _: None)):
        for played, account in zip(portion, accounts_of(rig.plan, portion), strict=True):
            yield Judged(played, account, judged(rig.plan, played, account))


def _played(rig: Rig, scripts: Sequence[Script], progress: Progress) -> Iterator[list[Played]]:
    """Portion by portion, in order; how far it has come is told all the time."""
    jobs = rig.jobs or os.cpu_count() or 1
    done, ends = list[Script](), Event()
    with ExitStack() as stack:
        chips = [stack.enter_context(closing(rig.power_up())) for _ in range(min(jobs, len(scripts)))]
        pool = stack.enter_context(ThreadPoolExecutor(len(chips)))
        stack.callback(ends.set)
        for first in range(0, len(scripts), PORTION):
            portion = scripts[first : first + PORTION]
            shares = [portion[number :: len(chips)] for number in range(len(chips))]
            running = [
                pool.submit(_play, rig, chip, share, done, ends)
                for chip, share in zip(chips, shares, strict=True)
            ]
            while wait(running, TELL_EVERY_S).not_done:
                progress(len(done) / len(scripts))
            progress(len(done) / len(scripts))
            parts = [job.result() for job in running]
            yield [parts[at % len(chips)][at // len(chips)] for at in range(len(portion))]


def _play(rig: Rig, chip: Chip, scripts: Sequence[Script], done: list[Script], ends: Event) -> list[Played]:
    """On one chip, as long as it goes on; then on another. What is through joins `done`.

    None is begun once it all `ends`: who interrupts it waits for the scripts under way, not for a portion.
    """
    found = []
    with ExitStack() as stack:
        for script in scripts:
            if ends.is_set():
                break
            found.append(Player(rig.plan, Outside(chip, rig.pins)).play(script))
            done.append(script)
            if found[-1].astray:
                chip = stack.enter_context(closing(rig.power_up()))
    return found
