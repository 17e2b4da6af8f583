"""The tables of cycles against what runs: each edge of the flow, one instruction at a time."""

from collections.abc import Callable, Iterable
from types import MappingProxyType

import pytest

from mixer.board.image.avr import decode as avr
from mixer.board.image.elf import read_image
from mixer.board.image.paths.instruction import Code, Instruction
from mixer.board.image.thumb import decode as thumb
from tests.board.image.programs import AVR, M0, live_rows, robot_program
from tests.boards.stepping import Step, avr_steps, m0_steps, rp2040js_edges
from tests.lengths import cases
from tests.lower.c_exports import ROBOTS, plan_of_robot

BETWEEN = 0xFFFFFFFE
"""Where the tests' Cortex-M0+ returns to between its ticks."""
Edge = tuple[int, int, int]
"""From, to, cycles."""


def edges_of(steps: Iterable[Step]) -> set[Edge]:
    """Every way the program went, each once."""
    return {(step.at, step.to, step.cycles) for step in steps}


def wrong_times(
    edges: Iterable[Edge], code: Code, decode: Callable[[Code, int], Instruction]
) -> list[tuple[str, int, int]]:
    """Name, cycles taken and cycles by the table, where they differ."""
    found = []
    for at, to, took in edges:
        ins = decode(code, at)
        branched = to != ins.end and ins.name in (
            "b.c",
            "brbs",
            "brbc",
            "cpse",
            "sbrc",
            "sbrs",
            "sbic",
            "sbis",
        )
        table = ins.taken if branched else ins.cycles
        if took != table:
            found.append((ins.name, took, table))
    return found


PROGRAMS = cases(
    [("tank_pair", "-O2", 60)], [(robot, how, 400) for robot in ROBOTS for how in ("-O2", "-Os")]
)


@pytest.mark.needs_tool("avr-gcc", "simavr")
@pytest.mark.parametrize(("robot", "optimise", "ticks"), PROGRAMS)
def test_every_edge_on_the_avr_takes_what_the_table_says(robot: str, optimise: str, ticks: int) -> None:
    """Until the robot has been live for a while, in simavr, its times its own: none differs."""
    elf = robot_program(robot, AVR, optimise)
    rows, _ = live_rows(plan_of_robot(robot), ticks)
    edges = edges_of(avr_steps(elf, rows))
    assert len(edges) > 300
    assert wrong_times(edges, read_image(elf).code, avr.decode) == []


@pytest.mark.needs_tool("arm-none-eabi-gcc", "gcc")
@pytest.mark.parametrize(("robot", "optimise", "ticks"), PROGRAMS)
def test_every_edge_on_the_m0_takes_what_the_table_says(robot: str, optimise: str, ticks: int) -> None:
    """The same against the tests' own Cortex-M0+, with cycles written down from the manual once more."""
    elf = robot_program(robot, M0, optimise)
    rows, _ = live_rows(plan_of_robot(robot), ticks)
    edges = {edge for edge in edges_of(m0_steps(elf, rows)) if edge[1] != BETWEEN}
    assert len(edges) > 200
    assert wrong_times(edges, read_image(elf).code, thumb.decode) == []


CHEAPER = {"pop.pc": 1, "push": 1}
"""Where rp2040js counts less: of the registers that a push puts on the stack and a return takes from it, it
leaves LR and PC out, though the manual's N is all elements. The larger number is proven with."""


@pytest.mark.needs_tool("arm-none-eabi-gcc", "node", "rp2040js")
@pytest.mark.parametrize(("robot", "optimise", "ticks"), PROGRAMS)
def test_every_edge_on_the_m0_takes_what_rp2040js_says(robot: str, optimise: str, ticks: int) -> None:
    """A third account of the cycles, by others (MIT): it differs where `CHEAPER` says, nowhere else."""
    elf = robot_program(robot, M0, optimise)
    rows, _ = live_rows(plan_of_robot(robot), ticks)
    wrong = wrong_times(rp2040js_edges(elf, rows), read_image(elf).code, thumb.decode)
    assert {(name, table - took) for name, took, table in wrong} <= set(CHEAPER.items())


@pytest.mark.needs_tool("avr-gcc", "simavr")
@pytest.mark.parametrize("name", ["mul", "ldd", "push", "ret", "brbs", "movw"])
def test_one_instruction_too_cheap_is_found(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A table that is one cycle short anywhere: the comparison names that instruction, and it alone."""
    elf = robot_program("tank_pair", AVR, "-Os")
    edges = edges_of(avr_steps(elf, live_rows(plan_of_robot("tank_pair"), 20)[0]))
    short = {**avr.CYCLES, name: avr.CYCLES[name] - 1}
    monkeypatch.setattr(avr, "CYCLES", MappingProxyType(short))
    wrong = wrong_times(edges, read_image(elf).code, avr.decode)
    assert {found.partition(".")[0] for found, _, _ in wrong} == {name}
