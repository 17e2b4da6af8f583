"""The fail-safe table: kinds of faults with the worst time, the worst way rolled, and the verdict.

Faults of a kind share a line, and the verdict says how many of them it is about. What cannot be seen by
firmware names the check by hand that finds it.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from mixer.failsafe.campaign.results import CampaignResult, FaultResult, FaultVerdict, longest
from mixer.sheet.blocks import Bad, Cell, Column, Table
from mixer.sheet.checks import CheckList
from mixer.sheet.facts import SheetFacts
from mixer.sheet.level import Level


@dataclass(frozen=True, slots=True)
class Kind:
    """Faults that a reader takes for one thing."""

    words: str
    families: tuple[str, ...]
    check: str = ""
    """Key of the check by hand that finds what the firmware cannot see."""


KINDS = (
    Kind("No fault", ("none",)),
    Kind("Radio gone", ("all-lost",)),
    Kind("Two at once", ("two",), "directions"),
    Kind("One channel's wire off", ("channel-lost",)),
    Kind("Last frame repeated", ("repeats-last", "foreign", "two-receivers"), "off"),
    Kind("Preset pulses sent", ("preset",), "off"),
    Kind("Pulses out of range", ("too-short", "too-long", "just-below", "just-above")),
    Kind("Stuck, frozen, swapped", ("lowest", "highest", "frozen", "swapped", "reversed"), "directions"),
    Kind(
        "Noise, missing frames",
        ("spikes", "burst", "slow", "jitter", "doubled", "faster", "intermittent", "flicker"),
    ),
    Kind("Power-up, reset, sag", ("power-up", "reset", "reset-loop", "sag-reset")),
    Kind("Tick too slow, hang", ("overrun", "slow-clock", "fast-clock", "hang", "other-firmware"), "tick"),
    Kind("Contact stuck, bouncing", ("stuck-open", "stuck-closed", "cable-off", "bounces"), "stops"),
    Kind("Stops swapped, closed", ("stops-swapped", "both-closed"), "stops"),
    Kind("Motor off, stalled, jam", ("motor-gone", "stalled", "jammed", "out-of-step"), "directions"),
    Kind("Controller stuck on", ("stuck-on",), "switch"),
)


SEVERAL = {
    FaultVerdict.STOPS: "stop",
    FaultVerdict.MAY_STOP: "may stop",
    FaultVerdict.DRIVES_ON: "drive on",
    FaultVerdict.STAYS: "stay at rest",
    FaultVerdict.IDLE: "did not move",
}
"""What becomes of some faults of a kind, after their number."""


def fault_table(facts: SheetFacts, simulated: CampaignResult, checks: CheckList, level: Level) -> Table:
    """One line a kind, what is broken first; a broken one is never folded away."""
    rows: list[tuple[bool, tuple[Cell, ...]]] = []
    folded: dict[bool, list[Kind]] = {False: [], True: []}
    for kind, faults in _by_kind(simulated.faults):
        calm = all(f.verdict.fine and f.neutral_ms is None for f in faults)
        if level.folded and calm:
            folded[any(f.verdict is FaultVerdict.MAY_STOP for f in faults)].append(kind)
        else:
            rows.append(
                (all(f.verdict is not FaultVerdict.BROKEN for f in faults), _row(kind, faults, checks))
            )
    rows.sort(key=lambda row: row[0])
    kept = level.cut(rows, "kinds of faults", facts.command("failsafe", "--each"), min(level.results, 24))
    notes = (*_folded(folded), *_unseen(simulated), _times(facts, simulated))
    both = len(simulated.rolls) > 1
    return Table(
        "Fail-safe in simulation",
        (
            Column("Fault", 0),
            Column("To zero", 14, number=True),
            Column("Rolled", 19 if both else 12, number=True),
            Column("Verdict", 36 if both else 43),
        ),
        tuple(row for _, row in kept),
        (" ".join(notes),) if level.folded else notes,
    )


def _times(facts: SheetFacts, simulated: CampaignResult) -> str:
    """What was run, and what the times are: fault detection and fault reaction together (IEC 61508-4)."""
    stop = facts.stop
    return (
        f"{simulated.scenarios} runs of {simulated.seconds:g} s, seed {simulated.seed}. To zero: "
        f"worst from onset; of a loss, detection ≤ {stop.detected_ms:g} ms, reaction ≤ "
        f"{stop.reaction_ms:g} ms. Rolled: {'/'.join(simulated.rolls) or 'no physics'}."
    )


def _by_kind(faults: Iterable[FaultResult]) -> list[tuple[Kind, list[FaultResult]]]:
    """Kinds in their order, then families that no kind knows, each as its own."""
    place = {family: kind for kind in KINDS for family in kind.families}
    members: dict[Kind, list[FaultResult]] = {kind: [] for kind in KINDS}
    for fault in faults:
        family = fault.key.partition(".")[0]
        members.setdefault(place.get(family, Kind(family, (family,))), []).append(fault)
    return [(kind, found) for kind, found in members.items() if found]


def _row(kind: Kind, faults: list[FaultResult], checks: CheckList) -> tuple[Cell, ...]:
    times = [fault.neutral_ms for fault in faults if fault.neutral_ms is not None]
    ways = longest(fault.rolled_m for fault in faults)
    return (
        kind.words,
        f"{max(times):g} ms" if times else "",
        f"{'/'.join(f'{way:.2f}' for way in ways)} m" if ways else "",
        _verdict(kind, faults, checks),
    )


def _verdict(kind: Kind, faults: list[FaultResult], checks: CheckList) -> Cell:
    """The worst first; numbers where not all are alike."""
    counts = Counter(fault.verdict for fault in faults)
    if counts[FaultVerdict.BROKEN]:
        return Bad(f"{_part(counts[FaultVerdict.BROKEN], len(faults))}BROKEN")
    if counts[FaultVerdict.UNKNOWABLE]:
        number = checks.number(kind.check)
        see = f": check {number}" if number else ""
        return f"{_part(counts[FaultVerdict.UNKNOWABLE], len(faults))}cannot know{see}"
    if len(counts) == 1:
        return next(iter(counts)).value
    return ", ".join(f"{counts[ends]} {words}" for ends, words in SEVERAL.items() if counts[ends])


def _part(part: int, whole: int) -> str:
    return "" if part == whole else f"{part} of {whole} "


def _folded(kinds: Mapping[bool, list[Kind]]) -> Iterator[str]:
    """Kinds under which every fault holds and none has to stop the robot; apart, those that may."""
    for may_stop, words in ((False, "Fine as well"), (True, "Held, may stop by itself")):
        names = ", ".join(kind.words[0].lower() + kind.words[1:] for kind in kinds[may_stop])
        if names:
            yield f"{words}: {names}."


def _unseen(simulated: CampaignResult) -> Iterator[str]:
    """What "cannot know" means, where something is."""
    if any(fault.verdict is FaultVerdict.UNKNOWABLE for fault in simulated.faults):
        yield "Cannot know: nothing the firmware reads tells it; only a hand helps."
