"""Faults of one kind as one line: the table a person reads."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from mixer.failsafe.campaign.results import BrokenRule, CampaignResult, FaultResult, FaultVerdict, longest
from mixer.failsafe.campaign.tally import NEVER


@dataclass(frozen=True, slots=True)
class Family:
    """All faults whose keys begin alike, or one of them."""

    name: str
    scenarios: int
    neutral_ms: int | None
    rolled_m: tuple[float, ...]
    away_m: float | None
    verdict_words: str
    """What the runs showed; how many stopped by themselves beside it."""
    broken: tuple[BrokenRule, ...]


def families_of(result: CampaignResult, *, each: bool = False) -> tuple[Family, ...]:
    """In the order of the catalogue; `each` keeps every fault on its own."""
    members: dict[str, list[FaultResult]] = {}
    for fault in result.faults:
        members.setdefault(fault.key if each else fault.key.partition(".")[0], []).append(fault)
    return tuple(_family(name, faults) for name, faults in members.items())


def _family(name: str, faults: Sequence[FaultResult]) -> Family:
    times = [fault.neutral_ms for fault in faults if fault.neutral_ms is not None]
    aways = [fault.away_m for fault in faults if fault.away_m is not None]
    rules: dict[str, BrokenRule] = {}
    for fault in faults:
        for item in fault.broken:
            rules.setdefault(item.rule, item)
    return Family(
        name=name if len(faults) == 1 else f"{name} (x{len(faults)})",
        scenarios=sum(fault.scenarios for fault in faults),
        neutral_ms=max(times, default=None),
        rolled_m=longest(fault.rolled_m for fault in faults),
        away_m=max(aways, default=None),
        verdict_words=verdict_words_of(Counter(fault.verdict for fault in faults)) + _by_itself(faults),
        broken=tuple(rules.values()),
    )


def _by_itself(faults: Sequence[FaultResult]) -> str:
    """In how many runs a robot stopped that no hand had stopped, of those that may."""
    found = NEVER
    for fault in faults:
        if fault.verdict is FaultVerdict.MAY_STOP:
            found = found.plus(fault.by_itself)
    if not found.stopped:
        return ""
    return f": {found.stopped} of {found.driven} driven runs, {found.to_the_end} to the end"


def verdict_words_of(verdicts: Counter[FaultVerdict]) -> str:
    """The worst first; counts only where members differ."""
    order = [verdict for verdict in reversed(FaultVerdict) if verdicts[verdict]]
    if len(order) == 1:
        return order[0].value
    return ", ".join(f"{verdict.value} ({verdicts[verdict]})" for verdict in order)
