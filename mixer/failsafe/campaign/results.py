"""What a campaign says: one line a fault, as frozen values that print, go to JSON and to the sheet."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import partial
from typing import Annotated, Protocol

from pydantic import Field, PlainSerializer, computed_field

from mixer.core.plan import Plan
from mixer.failsafe.campaign.tally import NEVER, Stopped, Tally
from mixer.faults.fault import Fault
from mixer.laws.rules import rules_of


class FaultVerdict(Enum):
    """How a fault ended over all its scenarios."""

    STAYS = "stays at rest until armed"
    """It begins with switching on, and no run moved before it had been armed (rule `arming-first`)."""
    STOPS = "stops"
    """Everything came to zero within the promised time."""
    DRIVES_ON = "drives on as the hands say"
    """It needs no stop: every rule held, and no run stopped that no hand had stopped."""
    MAY_STOP = "may stop by itself"
    """It needs no stop and every rule held, but some runs stopped, for a while or to the end."""
    IDLE = "nothing moved"
    """In no run did anything move when the fault set in: that it rests afterwards says nothing."""
    UNKNOWABLE = "firmware cannot know"
    """Nothing that reaches the board tells it from a healthy robot: only what a person does helps."""
    BROKEN = "BROKEN"
    """A rule broke, or what the firmware can see did not stop the robot in time."""

    @property
    def fine(self) -> bool:
        """Whether the firmware did all there was to do, and that is enough."""
        return self not in (FaultVerdict.IDLE, FaultVerdict.UNKNOWABLE, FaultVerdict.BROKEN)


ENOUGH = 24
"""Scenarios of one fault in which something has to be moving; fewer may all stand by chance."""
MUST_STOP = "must-stop"
MUST_STOP_WORDS = "What the firmware can see has to stop the robot in time, whatever the rules say."
"""Judged by the campaign itself, from the commands alone."""


HIDDEN = Field(exclude=True)
"""Not in the JSON, which is made of these types: a field has its own name there, or the one it gives."""
Metres = Annotated[float, PlainSerializer(partial(round, ndigits=4))]


class Line(Protocol):
    """What every table has of each of its faults."""

    @property
    def scenarios(self) -> int:
        """How many were run."""

    @property
    def verdict(self) -> FaultVerdict:
        """How they ended."""


def scenarios_in(lines: Iterable[Line]) -> int:
    """How many were run in a whole table."""
    return sum(line.scenarios for line in lines)


def any_broken(lines: Iterable[Line]) -> bool:
    """Whether one of a table's faults showed what it must not."""
    return any(line.verdict is FaultVerdict.BROKEN for line in lines)


@dataclass(frozen=True, slots=True)
class BrokenRule:
    """A rule that did not hold under a fault."""

    rule: str
    words: str
    scenarios: int
    lane: int
    """The first scenario in which it broke; `record_scenario` sets it up again."""
    tick: int


@dataclass(frozen=True, slots=True)
class Witness:
    """How many runs reached what a rule is about, and one of them."""

    rule: str
    scenarios: int
    fault: str = ""
    lane: int = -1
    tick: Annotated[int, HIDDEN] = -1


@dataclass(frozen=True, slots=True)
class FaultResult:
    """One line of the table."""

    key: Annotated[str, Field(serialization_alias="fault")]
    words: str
    scenarios: int
    moving: Annotated[int, Field(serialization_alias="moving_at_onset")]
    """Scenarios in which something moved when the fault set in."""
    verdict: FaultVerdict
    neutral_ms: int | None
    """The longest time from onset to all outputs at zero; None where the robot need or does not stop."""
    neutral_lane: Annotated[int, HIDDEN]
    rolled_m: tuple[Metres, ...]
    """The longest way from the onset on, for each thing the controllers may do at zero; empty: no stop."""
    rolled_lanes: Annotated[tuple[int, ...], HIDDEN]
    broken: tuple[BrokenRule, ...]
    advice: str
    by_itself: Stopped = NEVER
    """How many runs stopped though no hand had stopped them."""
    from_power_up: Annotated[bool, HIDDEN] = False
    """Whether its runs begin with the board just powered up, so that nothing can move yet."""
    away_m: Annotated[Metres | None, Field(serialization_alias="drove_on_m")] = None
    """How far it came with every output told zero, where something drives on by itself: no stop."""


@dataclass(frozen=True, slots=True)
class CampaignResult:
    """The whole table."""

    seed: int
    engine: str
    seconds: float
    faults: tuple[FaultResult, ...]
    witnesses: tuple[Witness, ...]
    """For each rule, in their order, how often a run had something to say about it."""
    pairs: str = ""
    """Which habits of the operator met which states of the guard, under every fault."""
    rolls: tuple[str, ...] = ()
    """What the wheels' controllers do at zero, for each of the ways rolled; empty without physics."""

    @property
    def longest_loss_ms(self) -> int | None:
        """From the loss of every channel to all outputs at zero; None where that was not measured."""
        return next((fault.neutral_ms for fault in self.faults if fault.key == "all-lost"), None)

    @property
    def broken_rules(self) -> frozenset[str]:
        """Keys of the rules that broke under some fault."""
        return frozenset(item.rule for fault in self.faults for item in fault.broken)

    @computed_field(alias="nothing_moved")
    @property
    def idle(self) -> tuple[str, ...]:
        """Faults under which nothing was moving when they set in: nothing has been tried."""
        tried = (f for f in self.faults if f.scenarios >= ENOUGH and not f.from_power_up)
        return tuple(fault.key for fault in tried if not fault.moving)

    @computed_field
    @property
    def unreached(self) -> tuple[str, ...]:
        """Rules that no run had anything to say about."""
        return tuple(witness.rule for witness in self.witnesses if not witness.scenarios)

    @computed_field
    @property
    def scenarios(self) -> int:
        """How many were run."""
        return scenarios_in(self.faults)

    @computed_field
    @property
    def broken(self) -> bool:
        """Whether any rule broke anywhere."""
        return any_broken(self.faults)


def result_of(
    plan: Plan,
    faults: Sequence[Fault],
    tallies: Sequence[Tally],
    seed: int,
    engine: str,
    seconds: float,
    pairs: str = "",
    rolls: tuple[str, ...] = (),
) -> CampaignResult:
    """The table of all tallies; `rolls` says what their ways rolled hang on."""
    lines = tuple(_line(plan, fault, tally) for fault, tally in zip(faults, tallies, strict=True))
    witnesses = tuple(_witness(rule.key, at, tallies) for at, rule in enumerate(rules_of(plan)))
    return CampaignResult(seed, engine, seconds, lines, witnesses, pairs, rolls)


def longest(ways: Iterable[tuple[float, ...]]) -> tuple[float, ...]:
    """The longest of several faults' ways, for each thing the controllers may do at zero."""
    told = [way for way in ways if way]
    return tuple(max(column) for column in zip(*told, strict=True))


def _witness(rule: str, number: int, tallies: Sequence[Tally]) -> Witness:
    reached = [(tally.key, *tally.reached[number]) for tally in tallies if number in tally.reached]
    if not reached:
        return Witness(rule, 0)
    key, _, lane, tick = reached[0]
    return Witness(rule, sum(count for _, count, _, _ in reached), key, lane, tick)


def _line(plan: Plan, fault: Fault, tally: Tally) -> FaultResult:
    rules = rules_of(plan)
    broken = [
        BrokenRule(rules[number].key, rules[number].words, count, lane, tick)
        for number, (count, lane, tick) in sorted(tally.broken.items())
    ]
    if fault.must_stop and tally.kept_moving:
        lane, tick = tally.late
        broken.append(BrokenRule(MUST_STOP, MUST_STOP_WORDS, tally.kept_moving, lane, tick))
    ticks = tally.neutral_ticks
    return FaultResult(
        key=fault.key,
        words=fault.words,
        scenarios=tally.scenarios,
        moving=tally.moving,
        verdict=_verdict(fault, tally, bool(broken)),
        neutral_ms=None if ticks is None else ticks * plan.tick_ms,
        neutral_lane=tally.neutral_lane,
        rolled_m=tuple(way for way, _ in tally.rolled),
        rolled_lanes=tuple(lane for _, lane in tally.rolled),
        away_m=tally.away_m,
        broken=tuple(broken),
        by_itself=tally.by_itself,
        advice=fault.advice,
        from_power_up=fault.from_power_up,
    )


def _verdict(fault: Fault, tally: Tally, broken: bool) -> FaultVerdict:
    """What the fault itself says must happen decides, once nothing is broken; else what the runs did."""
    if broken:
        return FaultVerdict.BROKEN
    if fault.unseen or fault.runs_away:
        return FaultVerdict.UNKNOWABLE
    if fault.from_power_up:
        return FaultVerdict.STAYS
    if not tally.moving:
        return FaultVerdict.IDLE
    if fault.must_stop:
        return FaultVerdict.STOPS
    return FaultVerdict.MAY_STOP if tally.by_itself.stopped else FaultVerdict.DRIVES_ON
