"""Programs run one instruction at a time: where each led, what it cost, and the registers before it."""

import ctypes as c
import struct
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from tests.boards.avr import formats_of
from tests.boards.cortex_m0 import Ticks
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
