"""What speaks against this robot, the worst first: the page's first line, and why the command fails."""

from collections.abc import Iterator
from dataclasses import dataclass

from mixer.failsafe.campaign.results import FaultVerdict
from mixer.failsafe.proof.theorems import ProofOutcome
from mixer.link.rehearse.report import Outcome
from mixer.sheet.facts import SheetFacts
from mixer.sizing.finding import Verdict


@dataclass(frozen=True, slots=True)
class Concern:
    """One thing a person at the event should know before anything else."""

    words: str
    fails: bool
    """Something does not hold; otherwise something is not known, or was not asked."""


def concerns(facts: SheetFacts) -> tuple[Concern, ...]:
    """Everything that speaks against the robot: what is broken, what is not settled, what is not known."""
    broken = (*_broken_rules(facts), *_broken_faults(facts), *_promise(facts))
    failing = (*broken, *_late(facts), *_rehearsal(facts), *_pit(facts), *_unsettled(facts), *_over(facts))
    return (*(Concern(words, fails=True) for words in failing), *_unknown(facts))


def _broken_rules(facts: SheetFacts) -> Iterator[str]:
    for rule in facts.proven.rules if facts.proven else ():
        if rule.outcome is ProofOutcome.COUNTER_EXAMPLE:
            yield f"broken by a counter-example: {rule.words}"


def _broken_faults(facts: SheetFacts) -> Iterator[str]:
    for fault in facts.simulated.faults if facts.simulated else ():
        if fault.verdict is FaultVerdict.BROKEN:
            rules = ", ".join(item.rule for item in fault.broken)
            yield f"broken under {fault.key}: {rules or fault.words}"


def _rehearsal(facts: SheetFacts) -> Iterator[str]:
    found = facts.rehearsed
    if found is not None and not found.passed:
        steps = (f"{v.step}: {v.outcome}" for v in found.verdicts if v.outcome is not Outcome.PASSED)
        yield f"the rehearsal with this receiver, {next(steps, 'not gone through')}"


def _pit(facts: SheetFacts) -> Iterator[str]:
    found = facts.pit
    if found is None:
        return
    if found.fingerprint != facts.profile_fingerprint:
        yield f"the pit check of {found.begun} is of {found.fingerprint}, another tuning or loadout"
    if not found.ready:
        first = next((f"{step.step}: {step.outcome}" for step in found.open), "it was left unfinished")
        yield f"the pit check of {found.begun}, {first}"


def _promise(facts: SheetFacts) -> Iterator[str]:
    stop = facts.stop
    if not stop.kept:
        yield f"the promised time to stop, {stop.promised_ms:g} ms; it takes {stop.worst_ms:g} ms"


def _late(facts: SheetFacts) -> Iterator[str]:
    if facts.tick is not None and not facts.tick.fits:
        yield f"the compiled program's {facts.tick.late}"


def _unsettled(facts: SheetFacts) -> Iterator[str]:
    for rule in facts.proven.rules if facts.proven else ():
        if rule.outcome is ProofOutcome.NOT_SETTLED:
            yield f"not settled: {rule.words}"


def _over(facts: SheetFacts) -> Iterator[str]:
    for finding in facts.size.findings:
        if finding.verdict is Verdict.OVER:
            yield f"over its limit: {finding.label}"


def _unknown(facts: SheetFacts) -> Iterator[Concern]:
    """What nobody has looked at, then what firmware can never see, then what to think again about."""
    if facts.proven is None:
        yield Concern("the rules are not proven on this sheet", fails=False)
    if facts.simulated is None:
        yield Concern("faults are not simulated on this sheet", fails=False)
    if facts.rehearsed is None:
        yield Concern("nobody has tried what this receiver does when its radio goes", fails=False)
    unseen = [
        f
        for f in (facts.simulated.faults if facts.simulated else ())
        if f.verdict is FaultVerdict.UNKNOWABLE
    ]
    if unseen:
        words = f"{len(unseen)} faults no firmware can see, {unseen[0].key} the first of them"
        yield Concern(f"{words}: the robot drives on", fails=False)
    for warned in facts.warnings:
        yield Concern(warned.words, fails=False)
