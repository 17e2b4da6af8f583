"""Programs to bound: a robot's mix for each processor, and C made up for one test."""

import subprocess
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

from mixer.board.image.elf import Image, read_image
from mixer.core.layout import layout_of
from mixer.core.plan import Guard, Plan
from mixer.core.tick import flat_tick
from mixer.lower.c.vectors import vector_trace
from mixer.lower.run.toolchain import find
from tests.boards.avr import AVR_COMPILER, Row, build_avr, run_avr
from tests.boards.cortex_m import ARM_COMPILER
from tests.boards.cortex_m0 import build_m0, run_m0
from tests.lower.c_exports import plan_of_robot, write_mix

AVR, M0 = "avr", "m0"


def built(folder: Path, plan: Plan, board: str, optimise: str) -> Path:
    """The mix of a plan as a program for a board."""
    write_mix(folder, plan)
    return build_avr(folder, optimise) if board == AVR else build_m0(folder, optimise)


@cache
def robot_program(robot: str, board: str, optimise: str) -> Path:
    """The mix of an example robot, built once for all tests."""
    return built(Path(mkdtemp(prefix="stickwright-test-")), plan_of_robot(robot), board, optimise)


def seen(elf: Path, board: str, rows: Sequence[tuple[int, ...]]) -> list[Row]:
    """What every tick left behind, and its cycles."""
    return run_avr(elf, rows) if board == AVR else run_m0(elf, rows)


def live_rows(plan: Plan, ticks: int) -> tuple[list[tuple[int, ...]], int]:
    """The plan's vectors until it has been live for so many ticks, and the first of these."""
    rows, layout = vector_trace(plan), layout_of(plan)
    state: Sequence[int] = layout.start
    for first, row in enumerate(rows):
        after = flat_tick(plan, row, state)
        state = after.state
        if after.signals[layout.places.guard.state] == Guard.LIVE:
            return rows[: first + ticks], first
    raise AssertionError(f"{plan.name} never goes live")


_AVR_MAIN = """
#include <stdint.h>
volatile uint8_t in[8];
volatile uint8_t out[8];
{}
int main(void) {{ for (;;) {{ routine(); }} }}
"""


def avr_program(folder: Path, text: str, *flags: str, device: str = "atmega328p") -> Image:
    """C with a function `routine` that reads `in` and writes `out`, for the ATmega328P."""
    source, elf = folder / "made.c", folder / "made.elf"
    source.write_text(_AVR_MAIN.format(text), encoding="utf-8")
    command = [
        *find(AVR_COMPILER),
        f"-mmcu={device}",
        "-Os",
        "-std=gnu99",
        *flags,
        str(source),
        "-o",
        str(elf),
    ]
    subprocess.run(command, check=True, timeout=60)
    return read_image(elf)


def m0_program(folder: Path, text: str, *flags: str) -> Image:
    """The same for the RP2040."""
    source, elf = folder / "made_m0.c", folder / "made_m0.elf"
    source.write_text(_AVR_MAIN.format(text), encoding="utf-8")
    command = [*find(ARM_COMPILER), "-mcpu=cortex-m0plus", "-mthumb", "-Os", "-std=gnu99", "-nostartfiles"]
    command += ["-Wl,-Ttext=0x20000000", "-Wl,-emain", *flags, str(source), "-o", str(elf)]
    subprocess.run(command, check=True, timeout=60)
    return read_image(elf)
