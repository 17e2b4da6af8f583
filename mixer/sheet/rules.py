"""The proven rules: all of them, with the time bound where the rule has one."""

from mixer.failsafe.proof.theorems import ProofOutcome, ProofResult, RuleProof
from mixer.sheet.blocks import Bad, Cell, Column, Table
from mixer.sheet.facts import SheetFacts
from mixer.sheet.level import Level

BRIEF = {
    "stops-on-loss": "Radio gone: all outputs at zero",
    "one-bad-channel": "One bad channel stops everything",
    "bridging-ends": "A gap is bridged no longer than this",
    "arming-first": "Nothing moves before arming",
    "hand-arms": "No spike arms",
    "no-self-start": "Nothing starts by itself",
    "disarming-stops": "Disarming stops every output",
    "neutral-rests": "Neutral sticks bring it to rest",
    "asked-by-mix": "Outputs are asked what the mix says",
    "heads-for-sticks": "Outputs get where the sticks point",
    "equal-rows": "Equal mixes do the same",
    "wire-carries": "Wires carry the commands",
    "within-limits": "No output leaves its limits",
    "within-slew": "Slew is kept, except to stop",
    "rest-before-reversing": "Rests before it reverses",
    "closed-stop": "Never into a closed end stop",
    "other-way-free": "Away from an end stop stays free",
    "travel-watched": "No further than its travel",
    "faults-latch": "Faults stay until disarmed",
    "flip-turns-round": "Upside down, neutral stays neutral",
    "readings-true": "Readings are what the wires say",
    "guard-true": "Says live when it is, and why",
    "stops-true": "Allowed is what the stops leave free",
    "ranges": "No number leaves 32 bits",
    "repeatable": "Equal inputs give equal outputs",
}
"""Shorter words for close pages, by the rule's key; a key that is not here keeps its full words."""
NAMES = "names of proven rules"
"""A list like the others: what is left out of it is told as a cut."""
TITLE = "Rules, for all inputs and all states"


def rule_table(facts: SheetFacts, proven: ProofResult, level: Level) -> Table:
    """Rule, time, outcome; what is not proven first, and never folded."""
    unproven = [rule for rule in proven.rules if rule.outcome is not ProofOutcome.PROVEN]
    settled = [rule for rule in proven.rules if rule.outcome is ProofOutcome.PROVEN]
    plain = [rule for rule in settled if rule.bound_ms is None] if level.folded else []
    kept = [rule for rule in (*unproven, *settled) if rule not in plain]
    rows = [_cells(rule, level) for rule in kept]
    notes = _folded(plain, level, facts.command("failsafe"))
    notes += [f"{rule.words} {rule.reason}" for rule in unproven[:2] if rule.reason]
    if level.brief:
        notes[:1] = [" ".join((*notes[:1], f"In full words: {facts.command('failsafe')}"))]
    columns = (Column("Rule", 0), Column("Within", 14, number=True), Column("Outcome", 20))
    shown = level.cut(rows, "rules", facts.command("failsafe"), min(level.results, 24))
    return Table(TITLE, columns, shown, tuple(notes))


def _cells(rule: RuleProof, level: Level) -> tuple[Cell, ...]:
    return _words(rule, level), _bound(rule), _outcome(rule)


def _words(rule: RuleProof, level: Level) -> str:
    return BRIEF.get(rule.rule, rule.words) if level.brief else rule.words


def _folded(rules: list[RuleProof], level: Level, where: str) -> list[str]:
    """Proven rules without a time, in one sentence; as many by name as there is room for."""
    if not rules:
        return []
    words = [_words(rule, level) for rule in rules]
    named = level.cut([word[0].lower() + word[1:] for word in words], NAMES, where, level.names)
    more = f"; and {len(words) - len(named)} more" if len(named) < len(words) else ""
    return [f"Proven as well: {'; '.join(named)}{more}."]


def _bound(rule: RuleProof) -> str:
    return "" if rule.bound_ms is None else f"{rule.bound_ms:g} ms"


def _outcome(rule: RuleProof) -> Cell:
    if rule.outcome is ProofOutcome.PROVEN:
        return "proven"
    words = {ProofOutcome.COUNTER_EXAMPLE: "COUNTER EXAMPLE", ProofOutcome.NOT_SETTLED: "NOT SETTLED"}
    return Bad(words[rule.outcome])
