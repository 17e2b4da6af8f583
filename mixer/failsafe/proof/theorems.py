"""Proving the rules for all inputs and all states, by induction over the watched tick.

1. The relations of `laws.relations` hold at power-up, and a tick keeps them: those a tick does not keep are
   dropped until the rest keeps itself (the greatest inductive subset of given candidates; C. Flanagan and
   K. R. M. Leino, Houdini, FME 2001). The graph's own value ranges, proven the same way, stand beside them.
2. Each rule then has to follow from them within one tick.
3. Where it does not, many runs from power-up are tried (`hunt`). One that breaks the rule is a
   counter-example; it counts only when the core itself, run tick by tick, breaks the rule as well.

Times are bounds in ms from the plan's own counters: silence is counted tick by tick, so "silent for n
ticks means at zero" is a bound of n ticks. What is neither proven nor reproduced is *not settled*.
"""

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import cache
from typing import Annotated

from pydantic import Field, InstanceOf, PlainSerializer

from mixer.core.plan import Plan
from mixer.failsafe.proof.asking import in_own_thread
from mixer.failsafe.proof.counter_example import CounterExample, confirmed
from mixer.failsafe.proof.hunt import Runs, breaking_runs
from mixer.failsafe.proof.prover import DEFAULT_STEPS, Answer, Prover
from mixer.failsafe.proof.repeatable import repeats_itself
from mixer.laws.rules import RANGES, RANGES_WORDS, REPEATABLE, REPEATABLE_WORDS, Rule, rules_of
from mixer.live.judge.watched import Watched, watched_graph
from mixer.lower.graph.ranges import report_on

LEMMAS = ("readings-true", "flip-turns-round", "guard-true", "stops-true", "asked-by-mix")
"""Rules that the others lean on, settled first: what is proven of a tick may be used about that tick."""


BREAKS = Answer(proven=False, reason="breaks in a run from power-up")
UNBOUNDED = Answer(proven=False, reason="some number may leave 32 bits, so nothing is proven of the board")


ByName = Annotated[InstanceOf[CounterExample], PlainSerializer(CounterExample.by_name)]


class ProofOutcome(Enum):
    """How a rule ended."""

    PROVEN = "proven"
    COUNTER_EXAMPLE = "counter-example"
    NOT_SETTLED = "not settled"


@dataclass(frozen=True, slots=True)
class RuleProof:
    """One rule of one robot."""

    rule: str
    words: str
    outcome: ProofOutcome
    bound_ms: int | None
    """The proven time, from the tick that read the last good pulse (or disarmed); None without one."""
    reason: str = ""
    """Why nothing was settled."""
    counter_example: ByName | None = None


@dataclass(frozen=True, slots=True)
class ProofResult:
    """All rules of one robot."""

    plan: Annotated[InstanceOf[Plan], Field(exclude=True)]
    rules: tuple[RuleProof, ...]
    relations: int
    """Invariants that were proven and used."""
    dropped: tuple[str, ...]
    """Invariants that a tick does not keep: something is wrong with the firmware, or with them."""
    seconds: Annotated[float, Field(exclude=True)]
    """How long it took; not in the JSON, so that equal profiles give equal text."""

    @property
    def broken(self) -> bool:
        """Whether a rule has a counter-example."""
        return any(item.outcome is ProofOutcome.COUNTER_EXAMPLE for item in self.rules)

    @property
    def proven(self) -> bool:
        """Whether every rule is proven."""
        return all(item.outcome is ProofOutcome.PROVEN for item in self.rules)


def prove_rules(
    plan: Plan,
    steps: int = DEFAULT_STEPS,
    progress: Callable[[float], None] | None = None,
    keys: Sequence[str] | None = None,
) -> ProofResult:
    """Settle every rule of a plan, or those named, with so many steps of the solver for each question.

    Raises MissingToolError where z3 is not installed.
    """
    began = time.monotonic()
    watched = watched_graph(plan, for_proof=True)
    rules = [rule for rule in rules_of(plan) if keys is None or rule.key in keys]
    keys_asked = [rule.key for rule in rules]
    runs = cache(lambda: breaking_runs(watched))
    answers, kept, dropped = in_own_thread(lambda: _answers(watched, keys_asked, steps, runs, progress))
    unproven = [key for key in keys_asked if not answers[key].proven]
    broken = _broken_from_power_up(watched, unproven, runs()) if unproven else {}
    found = [_settled(plan, rule, answers[rule.key], broken.get(rule.key)) for rule in rules]
    for key, settle in ((REPEATABLE, _settle_repeatable), (RANGES, _settle_ranges)):
        if keys is None or key in keys:
            found.append(settle(watched))
    return ProofResult(plan, tuple(found), kept, dropped, time.monotonic() - began)


def _answers(
    watched: Watched,
    rules: Sequence[str],
    steps: int,
    breaking: Callable[[], Runs],
    progress: Callable[[float], None] | None,
) -> tuple[Mapping[str, Answer], int, tuple[str, ...]]:
    """What becomes of each rule, how many relations are kept, which are dropped.

    Rules that follow are settled in two questions, lemmas first; what does not follow is asked one by one.
    Where a tick does not keep its relations, rules that break in a run need not be asked about at all.
    """
    if not report_on(watched.graph).ok:
        return dict.fromkeys(rules, UNBOUNDED), 0, ()
    prover = Prover(watched, steps)
    kept, dropped = prover.find_relations()
    answers = dict.fromkeys(breaking(), BREAKS) if dropped else {}
    open_ones = [key for key in rules if key not in answers]
    lemmas = [key for key in LEMMAS if key in open_ones]
    others = [key for key in open_ones if key not in LEMMAS]
    for together in (lemmas, others):
        if dropped or not prover.settle_together(together):
            for key in together:
                answers[key] = prover.settle(key)
                if progress is not None:
                    progress(len(answers) / len(rules))
        else:
            answers.update(dict.fromkeys(together, Answer(proven=True)))
    return answers, len(kept), tuple(dropped)


def _broken_from_power_up(
    watched: Watched, rules: Sequence[str], runs: Runs
) -> Mapping[str, CounterExample]:
    """Counter-examples for some of the rules, each run again tick by tick with the core itself."""
    examples = (confirmed(watched.plan, key, watched.start, runs[key]) for key in rules if key in runs)
    return {example.rule: example for example in examples if example is not None}


def _settled(plan: Plan, rule: Rule, answer: Answer, example: CounterExample | None) -> RuleProof:
    outcome = ProofOutcome.PROVEN if answer.proven else ProofOutcome.NOT_SETTLED
    outcome = outcome if example is None else ProofOutcome.COUNTER_EXAMPLE
    bound = rule.bound_ms(plan) if rule.bound_ms is not None and answer.proven else None
    reason = answer.reason if example is None else ""
    return RuleProof(rule.key, rule.words, outcome, bound, reason, example)


def _settle_repeatable(watched: Watched) -> RuleProof:
    reason = repeats_itself(watched.plan)
    outcome = ProofOutcome.NOT_SETTLED if reason else ProofOutcome.PROVEN
    return RuleProof(REPEATABLE, REPEATABLE_WORDS, outcome, None, reason)


def _settle_ranges(watched: Watched) -> RuleProof:
    """The proof counts with whole numbers of any size; a board does not. Firmware and rules alike."""
    report = report_on(watched.graph)
    reason = "; ".join(map(str, (*report.overflows, *report.undefined)))
    outcome = ProofOutcome.NOT_SETTLED if reason else ProofOutcome.PROVEN
    return RuleProof(RANGES, RANGES_WORDS, outcome, None, reason)
