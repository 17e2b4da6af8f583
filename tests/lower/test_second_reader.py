"""The exported C, read a second time by a parser and the rules of C99, is shown to be the graph."""

import random
from collections.abc import Callable
from functools import cache
from typing import Any

import pytest

from mixer.core.plan import Plan
from mixer.lower.c import program
from mixer.lower.c.tick import expressions, needed, routines, stores, writer
from mixer.lower.graph.nodes import Range
from mixer.lower.graph.trace import trace
from tests.lengths import cases
from tests.lower.c_exports import ROBOTS, plan_of_robot
from tests.lower.reader.compare import Report, prove_export
from tests.lower.reader.judge import STEPS
from tests.lower.reader.preprocess import UnequalError
from tests.strategies import FULL_SIZE, SMALL_SIZE, random_plan

TANK = plan_of_robot("tank_pair")
TRIO = plan_of_robot("holonomic_trio")
FEW = STEPS // 10
"""What a mistake may cost: right ones need fewer."""
TICK = "void mix_tick(const struct mix_inputs *in, struct mix_state *state, struct mix_outputs *out)\n{"


def text_of(plan: Plan, *, tables: bool = True) -> str:
    """Header and source of an export."""
    return program.header_text(plan, "0" * 12) + program.source_text(plan, "0" * 12, tables=tables)


def prove(plan: Plan, int_width: int, steps: int = STEPS, *, tables: bool = True) -> Report:
    """A plan's export against its own graph."""
    return prove_export(trace(plan), text_of(plan, tables=tables), int_width, steps)


@pytest.mark.parametrize("robot", cases(["tank_pair"], sorted(set(ROBOTS) - {"tank_pair"})))
def test_every_robots_c_is_its_graph(robot: str) -> None:
    """Every member it writes, for all inputs and states, where an int has 16 bits; nothing is left open."""
    assert prove(plan_of_robot(robot), 16).members > 10


def test_it_is_where_an_int_has_32_bits() -> None:
    """The promotions are others there."""
    assert prove(TANK, 32).members > 10


def test_it_is_where_everything_is_calculated() -> None:
    """The form without tables."""
    assert prove(TANK, 16, tables=False).members > 10


@pytest.mark.long
@pytest.mark.parametrize("robot", ROBOTS)
def test_every_robots_c_is_its_graph_where_an_int_has_32_bits(robot: str) -> None:
    """The others as well."""
    assert prove(plan_of_robot(robot), 32).members > 10


SETTLED = (*range(1, 9), 10, 11, 13, 14, 16, 17, 19, 20, 22, 23, 25, 26, 28, 29, 31, 32)
"""All of those tried, each within some seconds; 3 has eighteen motors and takes most of a minute."""


def random_robot(seed: int) -> Plan:
    """Every third is a large one."""
    return random_plan(random.Random(seed), SMALL_SIZE if seed % 3 else FULL_SIZE)


@pytest.mark.long
@pytest.mark.parametrize("seed", SETTLED)
def test_random_robots_c_is_their_graph(seed: int) -> None:
    """Medians, switches, flips and actuators as they come; by turns for either width."""
    assert prove(random_robot(seed), 16 if seed % 2 else 32).members > 5


RARE = {
    "adds one to a sum for a pair of its parts": (
        14,
        "44228u)",
        "44228u) + (stick_stick0_rated == 849 && part14(stick_stick1_curved, 4568u) == 760)",
    ),
    "hands over another number for one value": (
        22,
        "clipped_sum(stick_stick1_command, stick_stick0_command +",
        "clipped_sum(stick_stick1_command, (stick_stick0_command == 573 ? 574 : stick_stick0_command) +",
    ),
}
"""What trials do not meet: the robot, the right text and the wrong one."""


@pytest.mark.long
@pytest.mark.parametrize("mistake", RARE)
def test_a_mistake_in_what_one_number_stands_for_is_found(mistake: str) -> None:
    """Where a sum is tried as one number, or what is handed over stands for a node of the graph."""
    seed, right, wrong = RARE[mistake]
    plan = random_robot(seed)
    text = text_of(plan)
    assert text.count(right) == 1
    with pytest.raises(UnequalError):
        prove_export(trace(plan), text.replace(right, wrong), 16 if seed % 2 else 32, FEW)


PLANTED = {
    "rounds a step too low": ("(int)(1u << (bits - 1u))", "(int)(1u << (bits - 1u)) - 1"),
    "rounds down": (" + (int)(1u << (bits - 1u))", ""),
    "shifts a bit too little": (" >> bits)", " >> (bits - 1u))"),
    "holds a sum the wrong way": ("minimum(a, 16384 - b) + b", "maximum(a, 16384 - b) + b"),
    "forgets a sign": ("x < 0 ? -x : x", "x < 0 ? x : x"),
    "gives no sign back": ("x < 0 ? -amount : amount", "x < 0 ? amount : amount"),
    "keeps a product too narrowly": (
        "(uint16_t)(lower * (uint16_t)factor)",
        "(uint8_t)(lower * (uint16_t)factor)",
    ),
    "loses a member": ("    out->guard_state = (int16_t)state->guard_state;\n", ""),
    "exchanges two outputs": ("out->wire_left", "out->wire_right"),
    "gives one the other's name": ("int16_t wire_left;", "int16_t wire_right;"),
    "counts another member": ("counted(state->guard_held,", "counted(state->guard_off_for,"),
    "counts one less": ("count < most ?", "count + 1 < most ?"),
    "an edge off by one": (" < 125 ", " < 124 "),
    "an end off by one": (" <= ", " < "),
    "scales by a wrong constant": (", 125, 4u)", ", 124, 4u)"),
    "hands over the other pulse": ("(state->channel_steering_pulse)", "(state->channel_throttle_pulse)"),
    "turns an if round": ("if (state->guard_state == 2)", "if (state->guard_state != 2)"),
    "leaves a count out": ("        state->guard_held = counted(state->guard_held, 250u);\n", ""),
    "keeps a number too narrowly": ("int16_t channel_arm_pulse;", "uint8_t channel_arm_pulse;"),
    "starts elsewhere": ("state->guard_state = 0;", "state->guard_state = 1;"),
    "an amount off by one": ("    72, 54, 36,", "    72, 54, 37,"),
    "a slope too steep": ("    0, 18, 24,", "    0, 18, 25,"),
    "a segment begins elsewhere": (" 286, 670,", " 286, 671,"),
    "segments of eight": ("at >> 4", "at >> 3"),
    "reads beyond the table": ("amount_more[at]", "amount_more[at + 1u]"),
    "turns a stick round": ("toward_curved < 0 ?", "toward_curved > 0 ?"),
}


@cache
def right_text() -> tuple[str, str]:
    """The small robot's C before and within its tick."""
    before, found, body = text_of(TANK).partition(TICK)
    return before + found, body


ASKED = (
    "rounds a step too low",
    "holds a sum the wrong way",
    "forgets a sign",
    "keeps a product too narrowly",
    "loses a member",
    "exchanges two outputs",
    "an edge off by one",
    "turns an if round",
    "starts elsewhere",
    "an amount off by one",
    "reads beyond the table",
)
"""Of each kind one in the plain suite, the quickly found ones."""


@pytest.mark.parametrize("mistake", cases(ASKED, [name for name in PLANTED if name not in ASKED]))
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
    signs = "return x < 0 ? -amount : amount;"
    wrong = right.replace(signs, "return amount < 0 ? amount : (int)(((int32_t)x * factor + 2048) >> 12);")
    assert wrong != right
    with pytest.raises(UnequalError, match="> of a negative number is possible"):
        prove_export(trace(TANK), wrong, 16)


Emitter = Callable[..., Any]


def _swapped(emit: Emitter) -> Emitter:
    return lambda op, args, *more: emit(op, args[::-1] if op.value == "sub" else args, *more)


def _wrong_constant(emit: Emitter) -> Emitter:
    return lambda value: emit(value + (value == 655))


def _unclamped(emit: Emitter) -> Emitter:
    return lambda op, args, reach: args[0] if op.value == "minimum" else emit(op, args, reach)


def _scaled_wrongly(emit: Emitter) -> Emitter:
    return lambda number, factor, positive: emit(number, factor + (factor == 682), positive)


def _other_arm(emit: Emitter) -> Emitter:
    return lambda *args: emit(*args)[::-1]


def _too_early(_: Emitter) -> Emitter:
    return lambda *_: 0


def _the_same_for_all(emit: Emitter) -> Emitter:
    return lambda graph, parts: emit(graph, [part._replace(constants=parts[0].constants) for part in parts])


WRONG_EMITTERS: dict[str, tuple[Any, str, Callable[[Emitter], Emitter]]] = {
    "exchanges the operands of a subtraction": (expressions, "_binary", _swapped),
    "writes a constant one too high": (writer, "literal", _wrong_constant),
    "loses every bound": (expressions, "_chosen", _unclamped),
    "scales by a wrong constant": (expressions, "_scaled", _scaled_wrongly),
    "takes one arm for the other": (needed.Needs, "arms", _other_arm),
    "writes a member before its old value is read": (stores, "_first_spot", _too_early),
    "hands all calls the constants of the first": (routines, "_routine", _the_same_for_all),
}


@pytest.mark.parametrize("mistake", cases(list(WRONG_EMITTERS)[:-1], list(WRONG_EMITTERS)[-1:]))
def test_a_wrong_emitter_is_found(mistake: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The emitter itself changed in one place."""
    place, name, change = WRONG_EMITTERS[mistake]
    monkeypatch.setattr(place, name, change(getattr(place, name)))
    with pytest.raises(UnequalError):
        prove(TRIO if "calls" in mistake else TANK, 16, FEW, tables=False)


def test_an_emitter_that_drops_a_cast_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """In one of the functions that it takes from its template."""
    right = program.template_text
    wide, narrow = "(uint32_t)(uint16_t)x * four_times", "(uint16_t)x * four_times"
    monkeypatch.setattr(program, "template_text", lambda name: right(name).replace(wide, narrow))
    with pytest.raises(UnequalError):
        prove(TANK, 16, FEW, tables=False)


@pytest.mark.long
def test_an_emitter_with_wrong_widths_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """It believes that whatever has 32 bits fits where less does."""
    monkeypatch.setattr(expressions, "SHORT", Range(-(2**31), 2**31 - 1))
    with pytest.raises(UnequalError, match=r"overflow|does not fit|not shown"):
        prove(TRIO, 16, FEW, tables=False)
