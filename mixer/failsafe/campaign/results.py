"""What a campaign says: one line a fault, as frozen values that print, go to JSON and to the sheet."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Any

from mixer.core.plan import Plan
from mixer.failsafe.campaign.tally import Tally
from mixer.faults.fault import Fault
from mixer.laws.rules import rules_of


class Verdict(Enum):
    """How a fault ended over all its scenarios."""

    HOLDS = "holds"
    BROKEN = "broken"
    UNSEEN = "cannot be seen by firmware"


@dataclass(frozen=True, slots=True)
class BrokenRule:
    """A rule that did not hold under a fault."""

    rule: str
    words: str
    scenarios: int
    lane: int
    """The first scenario in which it broke; `record_scenario` sets it up again."""
    tick: int

    def to_dict(self) -> dict[str, Any]:
        """For JSON."""
        return {
            "rule": self.rule,
            "words": self.words,
            "scenarios": self.scenarios,
            "lane": self.lane,
            "tick": self.tick,
        }


@dataclass(frozen=True, slots=True)
class FaultResult:
    """One line of the table."""

    key: str
    words: str
    scenarios: int
    moving: int
    """Scenarios in which something moved when the fault set in."""
    verdict: Verdict
    neutral_ms: int | None
    """The longest time from onset to all outputs at zero; None where the robot need or does not stop."""
    neutral_lane: int
    distance_m: float | None
    """The longest way rolled from the onset on."""
    distance_lane: int
    broken: tuple[BrokenRule, ...]
    advice: str

    def to_dict(self) -> dict[str, Any]:
        """For JSON and the sheet."""
        return {
            "fault": self.key,
            "words": self.words,
            "scenarios": self.scenarios,
            "moving_at_onset": self.moving,
            "verdict": self.verdict.value,
            "neutral_ms": self.neutral_ms,
            "distance_m": None if self.distance_m is None else round(self.distance_m, 4),
            "broken": [item.to_dict() for item in self.broken],
            "advice": self.advice,
        }


@dataclass(frozen=True, slots=True)
class CampaignResult:
    """The whole table."""

    seed: int
    engine: str
    seconds: float
    faults: tuple[FaultResult, ...]

    @property
    def scenarios(self) -> int:
        """How many were run."""
        return sum(fault.scenarios for fault in self.faults)

    @property
    def broken(self) -> bool:
        """Whether any rule broke anywhere."""
        return any(fault.verdict is Verdict.BROKEN for fault in self.faults)

    def to_dict(self) -> dict[str, Any]:
        """For JSON and the sheet."""
        return {
            "seed": self.seed,
            "engine": self.engine,
            "seconds": self.seconds,
            "scenarios": self.scenarios,
            "broken": self.broken,
            "faults": [fault.to_dict() for fault in self.faults],
        }


def result_of(
    plan: Plan, faults: Sequence[Fault], tallies: Sequence[Tally], seed: int, engine: str, seconds: float
) -> CampaignResult:
    """The table of all tallies."""
    lines = tuple(_line(plan, fault, tally) for fault, tally in zip(faults, tallies, strict=True))
    return CampaignResult(seed, engine, seconds, lines)


def _line(plan: Plan, fault: Fault, tally: Tally) -> FaultResult:
    rules = rules_of(plan)
    broken = tuple(
        BrokenRule(rules[number].key, rules[number].words, count, lane, tick)
        for number, (count, lane, tick) in sorted(tally.broken.items())
    )
    stays_unseen = fault.unseen if not fault.radio_gone else tally.kept_moving > 0
    verdict = Verdict.BROKEN if broken else Verdict.UNSEEN if stays_unseen else Verdict.HOLDS
    ticks = tally.neutral_ticks
    return FaultResult(
        key=fault.key,
        words=fault.words,
        scenarios=tally.scenarios,
        moving=tally.moving,
        verdict=verdict,
        neutral_ms=None if ticks is None else ticks * plan.tick_ms,
        neutral_lane=tally.neutral_lane,
        distance_m=tally.distance_m,
        distance_lane=tally.distance_lane,
        broken=broken,
        advice=fault.advice,
    )
