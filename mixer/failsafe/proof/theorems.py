"""Proving the rules for all inputs and all states, by induction over the watched tick.

1. The relations of `laws.relations` hold at power-up, and a tick keeps them: those a tick does not keep are
   dropped until the rest keeps itself (the greatest inductive subset of given candidates; C. Flanagan and
   K. R. M. Leino, Houdini, FME 2001). The graph's own value ranges, proven the same way, stand beside them.
2. Each rule then has to follow from them within one tick.
3. Where it does not, a counter-example is sought: from any state in which all relations hold, one tick or a
   few. It counts only when the core itself reproduces it.

Times are bounds in ms from the plan's own counters: silence is counted tick by tick, so "silent for n
ticks means at zero" is a bound of n ticks. What is neither proven nor reproduced is *not settled*.
"""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Any

from mixer.core.plan import Plan
from mixer.failsafe.proof.counter_example import CounterExample
from mixer.failsafe.proof.prover import Prover
from mixer.failsafe.proof.repeatable import repeats_itself
from mixer.laws.rules import REPEATABLE, REPEATABLE_WORDS, Rule, rules_of
from mixer.live.judge.watched import watched_graph

DEFAULT_LIMIT_S = 30.0
LEMMAS = ("readings-true", "flip-turns-round", "guard-true", "stops-true", "asked-by-mix")
"""Rules that the others lean on, settled first: what is proven of a tick may be used about that tick."""


class Outcome(Enum):
    """How a rule ended."""

    PROVEN = "proven"
    COUNTER_EXAMPLE = "counter-example"
    NOT_SETTLED = "not settled"


@dataclass(frozen=True, slots=True)
class RuleProof:
    """One rule of one robot."""

    rule: str
    words: str
    outcome: Outcome
    bound_ms: int | None
    """The proven time, from the tick that read the last good pulse (or disarmed); None without one."""
    seconds: float
    reason: str = ""
    """Why nothing was settled."""
    counter_example: CounterExample | None = None

    def to_dict(self, plan: Plan) -> dict[str, Any]:
        """For JSON and the sheet; without the run time, so that equal profiles give equal text."""
        example = self.counter_example
        return {
            "rule": self.rule,
            "words": self.words,
            "outcome": self.outcome.value,
            "bound_ms": self.bound_ms,
            "reason": self.reason,
            "counter_example": None if example is None else example.to_dict(plan),
        }


@dataclass(frozen=True, slots=True)
class ProofResult:
    """All rules of one robot."""

    plan: Plan
    rules: tuple[RuleProof, ...]
    relations: int
    """Invariants that were proven and used."""
    dropped: tuple[str, ...]
    """Invariants that a tick does not keep: something is wrong with the firmware, or with them."""
    seconds: float

    @property
    def broken(self) -> bool:
        """Whether a rule has a counter-example."""
        return any(item.outcome is Outcome.COUNTER_EXAMPLE for item in self.rules)

    @property
    def proven(self) -> bool:
        """Whether every rule is proven."""
        return all(item.outcome is Outcome.PROVEN for item in self.rules)

    def to_dict(self) -> dict[str, Any]:
        """For JSON and the sheet."""
        return {
            "rules": [item.to_dict(self.plan) for item in self.rules],
            "relations": self.relations,
            "dropped": list(self.dropped),
        }


def prove_rules(
    plan: Plan,
    limit_s: float = DEFAULT_LIMIT_S,
    progress: Callable[[float], None] | None = None,
    keys: Sequence[str] | None = None,
) -> ProofResult:
    """Settle every rule of a plan, or those named, within a time limit for all of them together.

    Raises MissingToolError where z3 is not installed.
    """
    began = time.monotonic()
    watched = watched_graph(plan, for_proof=True)
    prover = Prover(watched, began + limit_s)
    kept, dropped = prover.find_relations()
    rules = [rule for rule in rules_of(plan) if keys is None or rule.key in keys]
    settled: dict[str, RuleProof] = {}
    for number, rule in enumerate(sorted(rules, key=lambda rule: rule.key not in LEMMAS)):
        settled[rule.key] = _settle(prover, plan, rule, min(2 / (len(rules) - number), 1))
        if progress is not None:
            progress((number + 1) / len(rules))
    found = [settled[rule.key] for rule in rules]
    if keys is None or REPEATABLE in keys:
        found.append(_settle_repeatable(plan))
    return ProofResult(plan, tuple(found), len(kept), tuple(dropped), time.monotonic() - began)


def _settle(prover: Prover, plan: Plan, rule: Rule, share: float) -> RuleProof:
    began = time.monotonic()
    answer = prover.settle(rule.key, share)
    outcome = Outcome.PROVEN if answer.proven else Outcome.NOT_SETTLED
    if answer.counter_example is not None:
        outcome = Outcome.COUNTER_EXAMPLE
    bound = rule.bound_ms(plan) if rule.bound_ms is not None and answer.proven else None
    seconds = time.monotonic() - began
    return RuleProof(rule.key, rule.words, outcome, bound, seconds, answer.reason, answer.counter_example)


def _settle_repeatable(plan: Plan) -> RuleProof:
    began = time.monotonic()
    reason = repeats_itself(plan)
    outcome = Outcome.NOT_SETTLED if reason else Outcome.PROVEN
    return RuleProof(REPEATABLE, REPEATABLE_WORDS, outcome, None, time.monotonic() - began, reason)
