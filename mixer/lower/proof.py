"""Proving a claim about one tick, for all inputs and all states a run can reach.

The state is any within the ranges that `invariants` has proven to hold from the start on (so the claim
is proven by induction, with those ranges as the invariant). A counter-example is run through the core
itself before it is called one; where the core disagrees, the claim is not settled.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from typing import Any

from mixer.core.layout import layout_of
from mixer.core.ops import Flag, magnitude, negation
from mixer.core.plan import Plan
from mixer.core.tick import tick
from mixer.lower.graph import Graph, Op
from mixer.lower.terms import Encoded, Term, encode, raw, z3_module
from mixer.lower.trace import trace


class Verdict(Enum):
    """How a proof ended."""

    PROVEN = "proven"
    COUNTER_EXAMPLE = "counter-example"
    NOT_SETTLED = "not settled"


@dataclass(frozen=True, slots=True)
class View:
    """One tick as a claim sees it; each value an int, or a term for all ints at once."""

    plan: Plan
    inputs: Mapping[str, Any]
    """By the names of the layout, as are the others."""
    before: Mapping[str, Any]
    after: Mapping[str, Any]
    signals: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Claim:
    """Something that is to hold in every tick."""

    words: str
    holds: Callable[[View], Flag]
    """Written with `+ - *`, comparisons, `&`, `|` and `core.ops`: it runs on terms and ints alike."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a proof ended, and the tick that shows it where the claim is wrong."""

    verdict: Verdict
    claim: str
    inputs: Mapping[str, int] = field(default_factory=dict)
    state: Mapping[str, int] = field(default_factory=dict)
    """Inputs and old state of the counter-example (also of one the core did not confirm), by name."""
    reason: str = ""
    """Why nothing was settled."""


def prove(plan: Plan, claim: Claim, timeout_s: float = 60.0) -> Outcome:
    """Settle a claim about every tick of a plan.

    Raises MissingToolError where z3 is not installed.
    """
    return prove_on(trace(plan), claim, timeout_s)


def prove_on(graph: Graph, claim: Claim, timeout_s: float = 60.0) -> Outcome:
    """As `prove`, for a graph at hand, which must have the signals the claim speaks of.

    First with all products abstracted, which proves most claims at once; then with only those of two
    unknowns abstracted.
    """
    first = _attempt(graph, claim, timeout_s / 2, coarse=True)
    return (
        first
        if first.verdict is not Verdict.NOT_SETTLED
        else _attempt(graph, claim, timeout_s, coarse=False)
    )


def _attempt(graph: Graph, claim: Claim, timeout_s: float, *, coarse: bool) -> Outcome:
    z3 = z3_module()
    encoded = encode(graph, z3.Context(), coarse=coarse)
    held = claim.holds(View(graph.plan, encoded.inputs, encoded.before, encoded.after, encoded.signals))
    if not isinstance(held, Term):
        return Outcome(Verdict.PROVEN, claim.words) if held else _examined(graph, claim, encoded, None)
    solver = z3.Solver(ctx=held.expression.ctx)
    solver.set("timeout", max(1, int(timeout_s * 1000)))
    solver.add(encoded.assumed)
    solver.add(z3.Not(held.expression))
    answer = solver.check()
    if answer == z3.unsat:
        return Outcome(Verdict.PROVEN, claim.words)
    if answer == z3.unknown:
        reason = f"the solver gave up: {solver.reason_unknown()}"
        return Outcome(Verdict.NOT_SETTLED, claim.words, reason=reason)
    return _examined(graph, claim, encoded, solver.model())


def _examined(graph: Graph, claim: Claim, encoded: Encoded, model: Any) -> Outcome:  # noqa: ANN401
    """Run the solver's counter-example through the core. No model means that any tick will do."""
    plan, layout = graph.plan, layout_of(graph.plan)
    inputs = {name: _number(model, value, 0) for name, value in encoded.inputs.items()}
    starts = dict(zip(layout.state, layout.start, strict=True))
    state = {name: _number(model, value, starts[name]) for name, value in encoded.before.items()}
    after = tick(plan, list(inputs.values()), list(state.values()))
    signals = dict(zip(layout.signals, after.signals, strict=True))
    view = View(plan, inputs, state, dict(zip(layout.state, after.state, strict=True)), signals)
    if claim.holds(view):
        reason = "the solver's example relies on a product that does not occur"
        return Outcome(Verdict.NOT_SETTLED, claim.words, inputs, state, reason)
    return Outcome(Verdict.COUNTER_EXAMPLE, claim.words, inputs, state)


def _number(model: Any, value: Any, otherwise: int) -> int:  # noqa: ANN401 - z3 has no types
    if not isinstance(value, Term):
        return int(value)
    if model is None:
        return otherwise
    return int(model.eval(raw(value), model_completion=True).as_long())


def _all(flags: list[Flag]) -> Flag:
    held: Flag = True
    for flag in flags:
        held = flag & held
    return held


def _outputs_within_limits(view: View) -> Flag:
    flags: list[Flag] = []
    for output in view.plan.outputs:
        command = view.signals[f"output.{output.name}.command"]
        wire = view.signals[f"output.{output.name}.wire"]
        flags.append(magnitude(command) <= output.limit)
        flags.append((wire >= output.rest - output.low_span) & (wire <= output.rest + output.high_span))
    return _all(flags)


def _stops_not_driven_into(view: View) -> Flag:
    plan, flags = view.plan, [True]
    for actuator in plan.actuators:
        command = view.signals[f"output.{plan.outputs[actuator.output].name}.command"]
        for stop, safe in ((actuator.out_stop, command <= 0), (actuator.in_stop, command >= 0)):
            if stop >= 0:
                contact = plan.contacts[stop]
                touching = view.inputs[f"contact.{contact.name}"] == contact.closed_reads
                closed = view.signals[f"contact.{contact.name}.closed"] == 1
                flags.append(negation(touching | closed) | safe)
    return _all(flags)


OUTPUTS_WITHIN_LIMITS = Claim("Outputs stay within their limits.", _outputs_within_limits)
STOPS_NOT_DRIVEN_INTO = Claim("Nothing drives into a closed end stop.", _stops_not_driven_into)


def limits_in_order(graph: Graph, timeout_s: float = 60.0) -> Verdict:
    """Whether every CLAMP's lower limit is at most its upper one, as its contract wants."""
    z3 = z3_module()
    solver = z3.Solver(ctx=z3.Context())
    solver.set("timeout", max(1, int(timeout_s * 1000)))
    values = encode(graph, solver.ctx)
    wrong = [
        raw(values.nodes[node.args[1]] > values.nodes[node.args[2]])
        for node in graph.nodes
        if node.op is Op.CLAMP and graph.ranges[node.args[1]].high > graph.ranges[node.args[2]].low
    ]
    if not wrong:
        return Verdict.PROVEN
    solver.add(values.assumed)
    solver.add(z3.Or(wrong))
    answer = solver.check()
    return Verdict.PROVEN if answer == z3.unsat else Verdict.NOT_SETTLED
