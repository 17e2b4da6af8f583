"""What the scenarios at the pins came to, a line a fault, as frozen values that print and go to JSON."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Annotated

from pydantic import Field, computed_field

from mixer.core.plan import Plan
from mixer.failsafe.campaign.points import Habit
from mixer.failsafe.campaign.results import ENOUGH, FaultVerdict, any_broken, scenarios_in
from mixer.failsafe.pins.account import Account
from mixer.failsafe.pins.due import LATE
from mixer.failsafe.pins.judge import Found
from mixer.failsafe.pins.play import Played
from mixer.failsafe.pins.promise import promised_ms
from mixer.failsafe.report.stop import Stop
from mixer.faults.fault import Fault
from mixer.faults.power import Hang

MOST_TOLD = 100
"""Breaches of one scenario."""
DISARMS = (Habit.ARM_AGAIN, Habit.ARM_PUSHED, Habit.DISARM)
"""Habits after which a robot that stops may have been stopped by a hand."""


@dataclass(frozen=True, slots=True)
class Breach:
    """What a scenario showed that it must not."""

    lane: int
    """Which of the fault's scenarios."""
    output: str
    ms: float
    """From power-up, by the board's clock."""
    words: str


@dataclass(frozen=True, slots=True)
class Seen:
    """One scenario."""

    fault: str
    moved: bool
    """Whether something moved when the fault set in."""
    last_ms: float | None
    """From the onset to the last moving pulse; None where nothing moved since."""
    reached: bool
    """Whether what goes wrong in the chip was come to at all."""
    by_itself: bool
    """Whether a robot that was live, and that no hand disarmed, stopped."""
    cut: int
    exact: int
    near: int
    late: bool
    """Whether something moved beyond what is promised."""
    breaches: tuple[Breach, ...]


@dataclass(frozen=True, slots=True)
class PinFault:
    """One fault over its scenarios."""

    key: Annotated[str, Field(serialization_alias="fault")]
    words: str
    scenarios: int
    moving: Annotated[int, Field(serialization_alias="moving_at_onset")]
    in_time: int | None
    """Scenarios in which nothing moved beyond the promise; None where nothing has to stop."""
    worst_ms: float | None
    """The longest from the onset to the last moving pulse at any pin, where it has to stop."""
    promised_ms: float | None
    verdict: FaultVerdict
    breaches: tuple[Breach, ...]
    cut: int
    """Servo pulses that a reset cut short."""
    exact: Annotated[int, Field(serialization_alias="held_to_the_count")]
    """Pulses and duties of a robot that may move, held to 1 µs or the very count."""
    near: Annotated[int, Field(serialization_alias="held_nearly")]
    """And those held to some share of the span, as nobody knows what the board had read."""


@dataclass(frozen=True, slots=True)
class PinResult:
    """All of one robot on one board."""

    faults: tuple[PinFault, ...]
    seconds: float
    """Simulated, in all."""
    not_reached: tuple[str, ...] = ()
    """What goes wrong in a chip only where it comes to it, and it did not."""

    @computed_field
    @property
    def scenarios(self) -> int:
        """How many were run."""
        return scenarios_in(self.faults)

    @computed_field
    @property
    def broken(self) -> bool:
        """Whether the pins showed anything they must not, or too long."""
        return any_broken(self.faults)

    @computed_field(alias="nothing_moved")
    @property
    def idle(self) -> bool:
        """Whether too little moved for any of it to mean something."""
        moving = sum(fault.moving for fault in self.faults)
        return self.scenarios >= ENOUGH and 10 * moving < self.scenarios


def seen_of(plan: Plan, stop: Stop, played: Played, account: Account, found: Found) -> Seen:
    """One scenario, judged."""
    script, hz = played.script, played.outside.chip.hz
    last = (
        None if found.last_moving is None else (found.last_moving - _sets_in(played, account)) * 1000 / hz
    )
    promised = promised_ms(plan, stop, script.fault)
    before = account.ticks < played.onset
    live = bool(before.any()) and bool(account.live[before][-1])
    alone = script.habit not in DISARMS or plan.guard.arm is None
    stopped = bool((~account.live[~before]).any()) or any(
        not before[min(at, len(before) - 1)] for at in account.restarts
    )
    return Seen(
        script.fault.key,
        moved=found.moved_at_onset,
        last_ms=last,
        reached=_reached(played, account),
        by_itself=live and alone and stopped,
        cut=found.cut,
        exact=found.exact,
        near=found.near,
        late=promised is not None and last is not None and last > promised,
        breaches=tuple(
            Breach(script.lane, each.output, round(each.ms, 3), each.words)
            for each in found.differences[:MOST_TOLD]
        ),
    )


def _sets_in(played: Played, account: Account) -> int:
    """The onset; of a hang the last tick before it: a loop hangs only where the program comes to it."""
    ends = [cycle for cycle, _ in played.outside.seen.resets if cycle > played.onset]
    if not isinstance(played.script.fault, Hang) or not ends:
        return played.onset
    before = account.ticks[account.ticks < ends[0]]
    return max(int(before[-1]), played.onset)


def _reached(played: Played, account: Account) -> bool:
    """A loop that was not run in the drive does not hang it: ticks go on, and nothing resets the board."""
    if not isinstance(played.script.fault, Hang):
        return True
    ticks = [played.onset, *account.ticks[account.ticks > played.onset].tolist(), played.end]
    longest = max(after - before for before, after in pairwise(ticks))
    reset = any(cycle > played.onset for cycle, _ in played.outside.seen.resets)
    return reset or longest > LATE * played.tick


def result_of(
    plan: Plan, stop: Stop, faults: Sequence[Fault], seen: Sequence[Seen], seconds: float
) -> PinResult:
    """A line for each fault that was played."""
    lines, left_out = [], []
    for fault in faults:
        mine = [each for each in seen if each.fault == fault.key]
        reached = [each for each in mine if each.reached]
        if reached:
            lines.append(_line(promised_ms(plan, stop, fault), fault, reached))
        elif mine:
            left_out.append(fault.key)
    return PinResult(tuple(lines), seconds, tuple(left_out))


def _line(promised: float | None, fault: Fault, mine: Sequence[Seen]) -> PinFault:
    breaches = tuple(breach for each in mine for breach in each.breaches)
    times = [each.last_ms for each in mine if each.last_ms is not None]
    return PinFault(
        key=fault.key,
        words=fault.words,
        scenarios=len(mine),
        moving=sum(each.moved for each in mine),
        in_time=None if promised is None else sum(not each.late for each in mine),
        worst_ms=None if promised is None else round(max(times, default=0.0), 3),
        promised_ms=promised,
        verdict=_verdict(promised, fault, mine),
        breaches=breaches,
        cut=sum(each.cut for each in mine),
        exact=sum(each.exact for each in mine),
        near=sum(each.near for each in mine),
    )


def _verdict(promised: float | None, fault: Fault, mine: Sequence[Seen]) -> FaultVerdict:
    if any(each.breaches or each.late for each in mine):
        return FaultVerdict.BROKEN
    if fault.unseen:
        return FaultVerdict.UNKNOWABLE
    if fault.from_power_up:
        return FaultVerdict.STAYS
    if not any(each.moved for each in mine):
        return FaultVerdict.IDLE
    if promised is not None:
        return FaultVerdict.STOPS
    return FaultVerdict.MAY_STOP if any(each.by_itself for each in mine) else FaultVerdict.DRIVES_ON
