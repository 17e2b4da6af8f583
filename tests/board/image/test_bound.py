"""The bound against what is seen: never below it, and close above it."""

import random
from pathlib import Path

import pytest

from mixer.board.image.avr import step
from mixer.board.image.avr.words import AvrState
from mixer.board.image.bound import Interrupt, interrupt_of, with_interrupts, worst_case
from mixer.board.image.elf import read_image
from mixer.board.image.paths import walk
from mixer.board.image.paths.instruction import Instruction
from mixer.board.image.paths.state import State
from mixer.lower.c.vectors import vector_trace
from tests.board.image.programs import AVR, M0, avr_program, built, m0_program, robot_program, seen
from tests.boards.avr import build_avr, run_avr
from tests.boards.cortex_m0 import build_m0
from tests.lengths import cases
from tests.lower.c_exports import ROBOTS, plan_of_robot, random_rows
from tests.strategies import Size, random_plan

SMALL = Size(sticks=3, switches=2, outputs=4, actuators=1, ticks=8)
avr_needs = pytest.mark.needs_tool("avr-gcc", "simavr")
m0_needs = pytest.mark.needs_tool("arm-none-eabi-gcc", "gcc")
boards = pytest.mark.parametrize(
    "board", [pytest.param(AVR, marks=avr_needs), pytest.param(M0, marks=m0_needs)]
)
CLOSE = 1.25
"""A bound is at most so many times what the vectors show."""


@boards
@pytest.mark.parametrize(
    ("robot", "optimise"),
    cases([("tank_pair", "-O2")], [(robot, how) for robot in sorted(ROBOTS) for how in ("-O2", "-Os")]),
)
def test_a_robot_takes_no_longer_than_proven_and_not_much_less(
    robot: str, optimise: str, board: str
) -> None:
    """Every tick of the robot's vectors: seen <= proven <= 1.25 x seen."""
    elf = robot_program(robot, board, optimise)
    plan = plan_of_robot(robot)
    most = max(row.cycles for row in seen(elf, board, vector_trace(plan)))
    proven = worst_case(read_image(elf)).cycles
    assert most <= proven <= CLOSE * most


@boards
@pytest.mark.parametrize("seed", cases([0], range(1, 10)))
def test_a_random_robot_takes_no_longer_than_proven(seed: int, board: str, tmp_path: Path) -> None:
    """Robots and inputs at random, hostile ones among them."""
    plan = random_plan(random.Random(500 + seed), SMALL)
    elf = built(tmp_path, plan, board, "-Os" if seed % 2 else "-O2")
    most = max(row.cycles for row in seen(elf, board, random_rows(plan, seed, 300)))
    assert most <= worst_case(read_image(elf)).cycles


DIVIDES = """
void __attribute__((noinline)) routine(void)
{
    *(volatile uint32_t *)out = *(volatile uint32_t *)in / ((volatile uint8_t *)in)[4];
}
"""


@avr_needs
def test_the_loop_of_the_librarys_division_is_bounded_by_its_own_counter(tmp_path: Path) -> None:
    """Its way in and its 32 rounds are derived from its code, from a counter in a register."""
    worst = worst_case(avr_program(tmp_path, DIVIDES), "routine")
    (loop,) = worst.loops
    assert loop.rounds == 33
    assert "__udivmodsi4" in loop.where


@m0_needs
def test_the_loop_of_the_arm_librarys_division_is_bounded_too(tmp_path: Path) -> None:
    """It is counted by marks that are shifted out of the quotient; a fourth round has none left."""
    worst = worst_case(m0_program(tmp_path, DIVIDES), "routine")
    assert worst.loops
    assert max(loop.rounds for loop in worst.loops) <= 4


HEADER = """
#include <stdint.h>
struct mix_inputs {
    int32_t x;
    int32_t y;
};
struct mix_state {
    uint8_t none;
};
struct mix_outputs {
    int32_t quotient;
};
void mix_start(struct mix_state *state);
void mix_tick(const struct mix_inputs *in, struct mix_state *state, struct mix_outputs *out);
"""
SOURCE = """
#include "mix.h"
void mix_start(struct mix_state *state)
{
    state->none = 0;
}
void mix_tick(const struct mix_inputs *in, struct mix_state *state, struct mix_outputs *out)
{
    out->quotient = (int32_t)((uint32_t)in->x / (uint32_t)in->y);
    state->none = 0;
}
"""


def division(folder: Path, board: str) -> Path:
    """A program whose tick divides one number by another."""
    (folder / "mix.h").write_text(HEADER, encoding="utf-8")
    (folder / "mix.c").write_text(SOURCE, encoding="utf-8")
    return build_avr(folder) if board == AVR else build_m0(folder)


@boards
def test_a_missed_callee_breaks_the_bound(
    board: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The comparison with what is seen can fail: without what is called the sum is too small."""
    elf = division(tmp_path, board)
    (row,) = seen(elf, board, [(-1, 1)])
    true = walk.Walk._routine

    def without(self: walk.Walk[State], entry: int, states: list[State], home: int | None) -> list[State]:
        before = states[0].cycles
        ended = true(self, entry, states, home)
        for state in ended if home is not None else []:
            state.cycles = before
        return ended

    monkeypatch.setattr(walk.Walk, "_routine", without)
    assert worst_case(read_image(elf)).cycles < row.cycles


@avr_needs
def test_a_counter_one_too_small_breaks_the_bound(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A loop with one round less, as from a constant that is misread, and too little is proven.

    Where every bit of the quotient is a 1, a division takes as long as proven, but for a cycle: the first
    round has no bit to subtract from.
    """
    elf = division(tmp_path, AVR)
    (row,) = run_avr(elf, [(-1, 1)])
    assert worst_case(read_image(elf)).cycles == row.cycles + 1
    true = step._STEPS["ldi"]

    def misread(state: AvrState, ins: Instruction) -> None:
        true(state, ins)
        if ins.operands[1] == 33:
            state.slots[ins.operands[0]] = ~32

    monkeypatch.setattr(step, "_STEPS", {**step._STEPS, "ldi": misread})
    assert worst_case(read_image(elf)).cycles < row.cycles


def test_interrupts_are_added_until_nothing_is_left_to_come() -> None:
    """The example of M. Joseph and P. Pandya's formula, by hand: 100 cycles and 30 more every 80.

    100 takes two of them, 160; at 160 still two have come.
    """
    every_80 = Interrupt("", 30, 0, 1 / 80)
    assert with_interrupts(100, 1, [every_80]) == 160
    assert with_interrupts(101, 1, [every_80]) == 191
    assert with_interrupts(100, 1, []) == 100


def test_interrupts_that_take_all_the_time_leave_no_bound() -> None:
    """Eighty cycles every eighty: the routine never goes on."""
    assert with_interrupts(1, 1, [Interrupt("", 80, 0, 1 / 80)]) is None


HANDLER = """
#include <avr/interrupt.h>
ISR(INT0_vect) { out[0]++; }
void __attribute__((noinline)) routine(void) { out[1] = in[1]; }
"""


@avr_needs
def test_a_handler_is_bounded_by_its_name(tmp_path: Path) -> None:
    """Its own instructions, the jump in the vector table and the entry, and its stack."""
    image = avr_program(tmp_path, HANDLER)
    handler = interrupt_of(image, "__vector_1", 500)
    # push 6 x 2, in, eor, ldi 2 x 1, ld 2, subi 1, st 2, pop 6 x 2, out 1, reti 4; entry 4, jmp 3
    assert handler.cycles == 12 + 2 + 2 + 2 + 1 + 2 + 12 + 1 + 4 + 7
    assert handler.stack == 2 + 6
