"""Programs run one instruction at a time: where each led, what it cost, and the registers before it."""

import ctypes as c
import json
import struct
import subprocess
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from mixer.board.chip.node import NODE, simulator_folder
from mixer.lower.run.toolchain import find
from tests.boards.avr import formats_of
from tests.boards.cortex_m0 import Ticks
from tests.boards.elf import read_loaded
from tests.boards.simavr import ProgramBoard

_PROGRAM_COUNTER, _CYCLE_LIMIT, _DONE = 204, 96, 6
"""Offsets of simavr 1.6's `avr_t` beside those that `Board` checks, and the state of having ended."""


class Step(NamedTuple):
    """One instruction that ran."""

    at: int
    to: int
    cycles: int
    registers: bytes
    """Before it: on the AVR 32 bytes, on ARM 16 words."""


class _Stepper(ProgramBoard):
    def steps(self) -> Iterator[Step]:
        """Until the program sleeps."""
        self._at(c.c_uint64, _CYCLE_LIMIT).value = 1
        counter = self._at(c.c_uint32, _PROGRAM_COUNTER)
        state = 0
        while state != _DONE:
            at, before, registers = counter.value, self.cycle, c.string_at(self._data, 32)
            state = self._lib.avr_run(self._avr)
            if self._failure is not None:
                raise self._failure
            yield Step(at, counter.value, self.cycle - before, registers)


def avr_steps(elf: Path, rows: Iterable[Sequence[int]]) -> Iterator[Step]:
    """Every instruction of `tests/boards/avr_main.c` with the rows as inputs."""
    board = _Stepper(elf)
    waiting = iter(rows)
    inputs = formats_of((elf.parent / "mix.h").read_text(encoding="utf-8"))["mix_inputs"]

    def at(place: int) -> None:
        if place == 1:
            row = next(waiting, None)
            board.write("more", bytes([row is not None]))
            if row is not None:
                board.write("now", struct.pack(inputs, *row))

    board.on_port("B", at)
    try:
        yield from board.steps()
    finally:
        board.close()


def m0_steps(elf: Path, rows: Iterable[Sequence[int]]) -> Iterator[Step]:
    """Every instruction of the ticks, on the Cortex-M0+ of the tests."""
    ticks = Ticks(elf)
    for row in rows:
        for ran in ticks.tick(row, steps=True)[1]:
            yield Step(ran.at, ran.to, ran.cycles, bytes(ran.r))


def rp2040js_edges(elf: Path, rows: Sequence[Sequence[int]]) -> list[tuple[int, int, int]]:
    """From, to and cycles of everything that runs in these ticks on the core of rp2040js, each once."""
    loaded = read_loaded(elf)
    kinds = formats_of((elf.parent / "mix.h").read_text(encoding="utf-8"))["mix_inputs"]
    program = {
        "parts": [[address, list(data)] for address, data in loaded.parts],
        "symbols": {name: symbol.address & ~1 for name, symbol in loaded.symbols.items()},
        "rows": [list(struct.pack("@" + kinds[1:], *row)) for row in rows],
    }
    script = Path(__file__).with_name("m0_edges.mjs")
    command = [*find(NODE), str(script), str(simulator_folder())]
    done = subprocess.run(
        command, input=json.dumps(program), capture_output=True, text=True, check=True, timeout=60
    )
    return [(at, to, cycles) for at, to, cycles in json.loads(done.stdout)]
