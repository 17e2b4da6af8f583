"""Each example robot's mix on the boards: flash, RAM, cycles and stack, seen and proven.

    python tests/bench/bench_board.py [ROBOT ...]

Aim: seen <= proven <= 1.25 x seen, for every robot, board and flag. Seen are the most of all ticks of the
robot's own vectors, on simavr's ATmega328P and on the tests' Cortex-M0+ (tests/boards/cortex_m0.c); proven
is what `stickwright tick` says of the same file. 16,000 cycles are 1 ms at 16 MHz, 128,000 on the RP2040.
Flash is what mix.c adds to a program that does nothing, the compiler's own library routines included; stack
is a tick's, its return address among it where the processor keeps that there.
"""

import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from mixer.board.image.bound import WorstCase, worst_case
from mixer.board.image.elf import read_image
from mixer.lower.c.vectors import vector_trace

sys.path.insert(0, str(Path(__file__).parents[2]))  # run as a file, Python looks beside it only

from tests.boards.avr import Row, build_avr, flash_and_ram, run_avr
from tests.boards.cortex_m0 import build_m0, bytes_and_ram, run_m0
from tests.lower.c_exports import ROBOTS, plan_of_robot, write_export

BUILDS = {"ATmega328P": (build_avr, run_avr, flash_and_ram), "RP2040": (build_m0, run_m0, bytes_and_ram)}
HEAD = (
    "robot",
    "board",
    "flags",
    "flash",
    "RAM",
    "cycles seen: min, mean, max",
    "proven",
    "proven / seen",
    "ms",
    "stack seen, proven",
)


class Measured(NamedTuple):
    """One robot on one board with one flag."""

    flash: int
    ram: int
    rows: Sequence[Row]
    worst: WorstCase


def measure(robot: str, board: str, optimise: str) -> Measured:
    """Build it, run all its vectors, bound it."""
    build, run, sizes = BUILDS[board]
    plan = plan_of_robot(robot)
    with tempfile.TemporaryDirectory() as name:
        folder = write_export(Path(name), plan)
        flash, ram = sizes(folder, optimise)
        elf = build(folder, optimise)
        return Measured(flash, ram, run(elf, vector_trace(plan)), worst_case(read_image(elf)))


def line(robot: str, board: str, optimise: str) -> str:
    """A row of the table."""
    found = measure(robot, board, optimise)
    cycles = [row.cycles for row in found.rows]
    stack = max(row.stack for row in found.rows)
    proven, most = found.worst.cycles, max(cycles)
    cells = (
        robot,
        board,
        optimise,
        f"{found.flash:,}",
        str(found.ram),
        f"{min(cycles):,}, {sum(cycles) // len(cycles):,}, {most:,}",
        f"{proven:,}",
        f"{proven / most:.2f}",
        f"{proven * 1000 / found.worst.processor.hz:.3f}",
        f"{stack}, {found.worst.stack}",
    )
    return f"| {' | '.join(cells)} |"


def main() -> None:
    """Print the table as Markdown."""
    print(f"| {' | '.join(HEAD)} |")  # noqa: T201
    print("|" + "---|" * len(HEAD))  # noqa: T201
    for robot in sys.argv[1:] or ROBOTS:
        for board in BUILDS:
            for optimise in ("-O2", "-Os"):
                print(line(robot, board, optimise), flush=True)  # noqa: T201


if __name__ == "__main__":
    main()
