"""The solver settles claims about every tick; a false one comes with a tick that the core confirms."""

import builtins
import random

import pytest
from hypothesis import given, settings

from mixer.core.layout import layout_of
from mixer.core.ops import ONE, Flag
from mixer.core.plan import Plan
from mixer.core.tick import tick
from mixer.errors import MissingToolError
from mixer.lower.proof import (
    OUTPUTS_WITHIN_LIMITS,
    STOPS_NOT_DRIVEN_INTO,
    Claim,
    Outcome,
    Verdict,
    View,
    limits_in_order,
    prove,
)
from mixer.lower.terms import encode, raw, z3_module
from mixer.lower.trace import trace
from mixer.testing.inputs import rows
from tests.lower.robots import carrier
from tests.strategies import plans

pytestmark = [pytest.mark.needs_tool("z3"), pytest.mark.timeout(300)]


@pytest.mark.parametrize(
    "claim", [OUTPUTS_WITHIN_LIMITS, STOPS_NOT_DRIVEN_INTO], ids=lambda claim: claim.words
)
def test_rules_are_proven_for_the_carrier(claim: Claim) -> None:
    """For all inputs and all states a run can reach."""
    assert prove(carrier(), claim).verdict is Verdict.PROVEN


@settings(max_examples=6)
@given(plan=plans())
def test_rules_are_proven_for_random_robots(plan: Plan) -> None:
    """And not by an accident of one robot."""
    assert prove(plan, OUTPUTS_WITHIN_LIMITS).verdict is Verdict.PROVEN
    assert prove(plan, STOPS_NOT_DRIVEN_INTO).verdict is Verdict.PROVEN


@settings(max_examples=10)
@given(plan=plans())
def test_clamps_have_their_limits_in_order(plan: Plan) -> None:
    """The contract of CLAMP, which no bounds alone can show for a slew."""
    assert limits_in_order(trace(plan)) is Verdict.PROVEN


def command_after(plan: Plan, outcome: Outcome, output: str) -> int:
    """The counter-example, run through the core."""
    after = tick(plan, list(outcome.inputs.values()), list(outcome.state.values()))
    return after.signals[layout_of(plan).index(f"output.{output}.command")]


def test_a_false_claim_gives_a_tick_that_shows_it() -> None:
    """The control: a claim that is wrong is refuted, and the core agrees."""
    plan = carrier()
    never = Claim(
        "The left screw never retracts.", lambda view: view.signals["output.left_screw.command"] >= 0
    )
    outcome = prove(plan, never)
    assert outcome.verdict is Verdict.COUNTER_EXAMPLE
    assert tuple(outcome.inputs) == layout_of(plan).inputs
    assert tuple(outcome.state) == layout_of(plan).state
    assert command_after(plan, outcome, "left_screw") < 0


def test_one_too_strict_by_one_is_refuted() -> None:
    """The proof is sharp: full output is reached, and one less than full is not a limit."""

    def below_full(view: View) -> Flag:
        return view.signals["output.left_screw.command"] < ONE

    outcome = prove(carrier(), Claim("Never full.", below_full))
    assert outcome.verdict is Verdict.COUNTER_EXAMPLE
    assert command_after(carrier(), outcome, "left_screw") == ONE


def test_what_needs_a_product_is_not_claimed() -> None:
    """Where an abstracted product leads the solver astray, nothing is called proven or refuted."""

    def exact(view: View) -> Flag:
        return view.signals["stick.throttle.curved"] != 5

    outcome = prove(carrier(), Claim("Expo never gives exactly 5.", exact), timeout_s=10)
    assert outcome.verdict in (Verdict.NOT_SETTLED, Verdict.COUNTER_EXAMPLE)
    if outcome.verdict is Verdict.NOT_SETTLED:
        assert outcome.reason


def test_terms_mean_what_the_core_does() -> None:
    """With inputs and old state pinned to a real tick, the core's own result is a solution."""
    plan = carrier()
    graph, z3 = trace(plan), z3_module()
    state = list(layout_of(plan).start)
    for number, row in enumerate(rows(plan, 400, random.Random(4))):
        after = tick(plan, row, state)
        if number % 100 == 99:
            encoded = encode(graph, z3.Context())
            solver = z3.Solver(ctx=raw(next(iter(encoded.inputs.values()))).ctx)
            solver.add(encoded.assumed)
            pinned = [*zip(encoded.inputs.values(), row, strict=True)]
            pinned += zip(encoded.before.values(), state, strict=True)
            pinned += zip(encoded.signals.values(), after.signals, strict=True)
            pinned += zip(encoded.after.values(), after.state, strict=True)
            for value, number_ in pinned:
                solver.add(raw(value == number_))
            assert solver.check() == z3.sat
        state = after.state


def test_two_ticks_can_be_chained() -> None:
    """The state after one tick is the state before the next: no command jumps by more than two steps."""
    plan, z3 = carrier(), z3_module()
    context = z3.Context()
    first = encode(trace(plan), context, "0 ", coarse=True)
    second = encode(trace(plan), context, "1 ", first.after, coarse=True)
    solver = z3.Solver(ctx=context)
    solver.add(first.assumed + second.assumed)
    name = "output.front_left.command"
    jump = second.signals[name] - first.before[name]
    solver.push()
    solver.add(raw(jump > 2 * 400))
    grows = raw((first.before[name] >= 0) & (jump > 2 * 160))
    assert solver.check() == z3.sat, "a command may fall to 0 at once, from below too"
    solver.pop()
    solver.add(grows)
    assert solver.check() == z3.unsat


def test_without_the_solver_the_remedy_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """No traceback of an import, but what to install."""
    real = builtins.__import__

    def without(name: str, *rest: object) -> object:
        if name == "z3":
            raise ImportError(name)
        return real(name, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(MissingToolError, match="pip install"):
        z3_module()
