"""The ranges against what runs: no register ever holds a number that the analysis excluded."""

import random
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pytest

from mixer.board.image.avr import step
from mixer.board.image.avr.words import AvrState
from mixer.board.image.bound import MIX_TICK
from mixer.board.image.elf import Image, read_image
from mixer.board.image.paths.instruction import Instruction
from mixer.board.image.paths.intervals import Range, hull, signed, unsigned
from mixer.board.image.paths.state import State
from mixer.board.image.paths.walk import Walk
from mixer.board.image.processors import processor_of
from tests.board.image.programs import AVR, M0, built, live_rows, robot_program
from tests.boards.stepping import Step, avr_steps, m0_steps
from tests.lengths import cases
from tests.lower.c_exports import ROBOTS, plan_of_robot, random_rows
from tests.strategies import Size, random_plan

COUNTED = {AVR: 32, M0: 15}
"""Registers that are compared."""
BITS = {AVR: 8, M0: 32}
RETURNED = 0xFFFFFFFE
"""Where the tests' Cortex-M0+ returns to."""
SMALL = Size(sticks=2, switches=2, outputs=3, actuators=1, ticks=8)


class Watched:
    """A machine that notes what is known of its registers before each instruction it runs."""

    def __init__(self, machine: Any, board: str) -> None:  # noqa: ANN401  either processor's
        self._machine, self._board = machine, board
        self.reached: dict[int, list[Range]] = {}

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401
        return getattr(self._machine, name)

    def _note(self, state: State, ins: Instruction) -> None:
        now = [state.reach(value) for value in state.slots[: COUNTED[self._board]]]
        before = self.reached.get(ins.address)
        bits = BITS[self._board]
        self.reached[ins.address] = [hull(*both, bits) for both in zip(before or now, now, strict=True)]

    def step(self, state: State, ins: Instruction) -> None:
        """As the machine's, with a note."""
        self._note(state, ins)
        self._machine.step(state, ins)

    def branch(self, state: State, ins: Instruction, taken: bool) -> bool:
        """As the machine's, with a note."""
        self._note(state, ins)
        return bool(self._machine.branch(state, ins, taken))

    def call(self, state: State, ins: Instruction) -> None:
        """As the machine's, with a note."""
        self._note(state, ins)
        self._machine.call(state, ins)

    def leave(self, state: State, ins: Instruction, home: int | None) -> None:
        """As the machine's, with a note."""
        self._note(state, ins)
        self._machine.leave(state, ins, home)


def reached(image: Image, board: str) -> dict[int, list[Range]]:
    """By address, what the analysis knows of each register there."""
    begins = {symbol.address for symbol in image.symbols.values() if symbol.is_code}
    watched = Watched(processor_of(image).machine(image.code, begins), board)
    Walk(watched).longest(image.symbols[MIX_TICK].address)
    return watched.reached


def outside(steps: Iterable[Step], image: Image, board: str, first: int = 0) -> set[tuple[str, int, int]]:
    """Place, register and number, where a tick holds what was excluded or goes where no path leads.

    Ticks before the `first` are not looked at.
    """
    known = reached(image, board)
    begin, main = image.symbols[MIX_TICK].address, image.symbols["main"]
    wide, bits = BITS[board] // 8, BITS[board]
    found: set[tuple[str, int, int]] = set()
    inside, tick = False, -1
    for ran in steps:
        tick += ran.at == begin
        inside = inside or (ran.at == begin and tick >= first)
        if inside and ran.at not in known:
            found.add((image.symbol_at(ran.at), -1, ran.at))
        for number, reach in enumerate(known.get(ran.at, ()) if inside else ()):
            value = int.from_bytes(ran.registers[wide * number : wide * (number + 1)], "little")
            if not holds(reach, value, bits):
                found.add((image.symbol_at(ran.at), number, value))
        if ran.to == RETURNED or main.address <= ran.to < main.address + main.size:
            inside = False
    return found


def holds(reach: Range, value: int, bits: int) -> bool:
    """Whether a number is in a range, in whichever window the range lies."""
    low, high = unsigned(reach, bits)
    if low <= value <= high:
        low, high = signed(reach, bits)
        return low <= value - (value >> bits - 1 << bits) <= high
    return False


STEPS: dict[str, Callable[..., Iterable[Step]]] = {AVR: avr_steps, M0: m0_steps}
avr_needs = pytest.mark.needs_tool("avr-gcc", "simavr")
m0_needs = pytest.mark.needs_tool("arm-none-eabi-gcc", "gcc")
PROGRAMS = cases(
    [("tank_pair", "-O2", 80)], [(robot, how, 90) for robot in ROBOTS for how in ("-O2", "-Os")]
)


@pytest.mark.parametrize("board", [pytest.param(AVR, marks=avr_needs), pytest.param(M0, marks=m0_needs)])
@pytest.mark.parametrize(("robot", "optimise", "ticks"), PROGRAMS)
def test_no_register_leaves_its_range(robot: str, optimise: str, ticks: int, board: str) -> None:
    """Ticks in which the robot is live: every instruction was foreseen, and so was every number."""
    elf = robot_program(robot, board, optimise)
    rows, first = live_rows(plan_of_robot(robot), ticks)
    assert outside(STEPS[board](elf, rows), read_image(elf), board, first) == set()


@pytest.mark.parametrize("board", [pytest.param(AVR, marks=avr_needs), pytest.param(M0, marks=m0_needs)])
@pytest.mark.parametrize("seed", cases([0], range(1, 8)))
def test_nor_in_the_mix_of_a_random_robot(seed: int, board: str, tmp_path: Path) -> None:
    """Hostile inputs among plausible ones."""
    plan = random_plan(random.Random(300 + seed), SMALL)
    elf = built(tmp_path, plan, board, "-Os" if seed % 2 else "-O2")
    steps = STEPS[board](elf, random_rows(plan, seed, 40))
    assert outside(steps, read_image(elf), board) == set()


@avr_needs
def test_a_wrong_transfer_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """A multiplication that is taken to give at most 255: registers leave what was foreseen."""
    elf = robot_program("tank_pair", AVR, "-O2")
    image = read_image(elf)
    true = step._STEPS["mul"]

    def wrong(state: AvrState, ins: Instruction) -> None:
        true(state, ins)
        state.slots[1] = ~0

    monkeypatch.setattr(step, "_STEPS", {**step._STEPS, "mul": wrong})
    rows, first = live_rows(plan_of_robot("tank_pair"), 80)
    assert outside(avr_steps(elf, rows), image, AVR, first)
