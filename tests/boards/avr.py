"""The exported mix on a simulated ATmega328P: compiled, fed row by row, timed in cycles.

`run_avr(build_avr(folder), rows)` gives outputs, state and cycles of every tick.
The folder holds mix.c and mix.h.
"""

import re
import struct
import subprocess
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from mixer.lower.run.toolchain import Tool, find
from tests.boards.elf import read_firmware
from tests.boards.simavr import ProgramBoard

AVR_COMPILER = Tool(
    "the AVR compiler", ("avr-gcc",), "STICKWRIGHT_AVR_CC", "install gcc-avr and avr-libc (apt-get)"
)
STRICT = ("-std=c99", "-Wall", "-Wextra", "-Wpedantic", "-Wconversion", "-Werror")
FLAGS = ("-mmcu=atmega328p", "-DF_CPU=16000000UL", *STRICT)
HERE = Path(__file__).parent
_RETURN = 4
"""Cycles of the one instruction of `nothing`."""
_UNTOUCHED = 0xA5


@dataclass(frozen=True, slots=True)
class Row:
    """What one tick left behind, as the structs of mix.h hold it, and what it took."""

    outputs: tuple[int, ...]
    state: tuple[int, ...]
    cycles: int
    """From the routine's first instruction to the end of its return."""
    stack: int = 0
    """Bytes that were written below the caller's stack, the return address among them."""


@dataclass(slots=True)
class _Feeder:
    board: ProgramBoard
    rows: Iterable[Sequence[int]]
    formats: dict[str, str]
    states: Iterable[Sequence[int]] = ()
    """What to find as the state before each tick; where they end, what the last tick left."""
    seen: list[Row] = field(default_factory=list)
    began: int = 0
    took: int = 0
    calling: int | None = None
    """Cycles of the call around a routine of nothing but its return."""
    deepest: int = 0

    def __post_init__(self) -> None:
        self.rows, self.states = iter(self.rows), iter(self.states)
        self.board.on_port("B", self.at)

    def at(self, place: int) -> None:
        """The program has come to a place of avr_main.c."""
        if place == 1:
            row = next(self.rows, None)  # type: ignore[call-overload]
            self.board.write("more", bytes([row is not None]))
            if row is not None:
                self.board.write("now", struct.pack(self.formats["mix_inputs"], *row))
            state = next(self.states, None)  # type: ignore[call-overload]
            if state is not None:
                self.board.write("state", struct.pack(self.formats["mix_state"], *state))
        elif place == 2:
            self.board.fill_below_stack(_UNTOUCHED)
            self.began = self.board.cycle
        elif place == 3:
            self.took = self.board.cycle - self.began
            self.deepest = self.board.written_below_stack(_UNTOUCHED)
            if self.calling is None:
                self.calling = self.took - _RETURN
        else:
            cycles = self.took - (self.calling or 0)
            self.seen.append(Row(self._numbers("out"), self._numbers("state"), cycles, self.deepest))

    def _numbers(self, name: str) -> tuple[int, ...]:
        kind = {"out": "mix_outputs", "state": "mix_state"}[name]
        return struct.unpack(self.formats[kind], self.board.read(name))


def formats_of(header: str) -> dict[str, str]:
    """How `struct` reads each struct of mix.h on a board that packs them, by the types its text gives."""
    letters = {"int8_t": "b", "uint8_t": "B", "int16_t": "h", "uint16_t": "H", "int32_t": "i"}
    return {
        name: "<" + "".join(letters[kind] for kind in re.findall(r"^ +(\w+) \w+;", body, re.MULTILINE))
        for name, body in re.findall(r"^struct (\w+) \{\n(.*?)^\};", header, re.MULTILINE | re.DOTALL)
    }


def build_avr(folder: Path, optimise: str = "-O2", *flags: str) -> Path:
    """The program for the board, linked from the folder's mix.c and avr_main.c."""
    elf = folder / f"mix{optimise}.elf"
    command = [*find(AVR_COMPILER), *FLAGS, optimise, *flags, f"-I{folder}", str(HERE / "avr_main.c")]
    subprocess.run([*command, str(folder / "mix.c"), "-o", str(elf)], check=True, timeout=60)
    return elf


def run_avr(elf: Path, rows: Iterable[Sequence[int]], states: Iterable[Sequence[int]] = ()) -> list[Row]:
    """Every tick's outputs, state and cycles, from a board whose RAM holds rubbish at power-up.

    `states` are put in place of what the tick before left, member by member.
    """
    board = ProgramBoard(elf)
    try:
        header = (elf.parent / "mix.h").read_text(encoding="utf-8")
        feeder = _Feeder(board, rows, formats_of(header), states)
        board.run_until_asleep(most_cycles=20_000_000_000)
        return feeder.seen
    finally:
        board.close()


def flash_and_ram(folder: Path, optimise: str = "-O2") -> tuple[int, int]:
    """Bytes of flash that mix.c adds to a program that does nothing, and of RAM in the three structs."""
    firmware = read_firmware(build_avr(folder, optimise))
    empty = folder / "empty.c"
    empty.write_text("int main(void) { for (;;) { } }\n", encoding="utf-8")
    bare = folder / "empty.elf"
    subprocess.run(
        [*find(AVR_COMPILER), *FLAGS, optimise, str(empty), "-o", str(bare)], check=True, timeout=60
    )
    flash = firmware.flash_used - read_firmware(bare).flash_used
    return flash, sum(firmware.symbols[name].size for name in ("now", "state", "out"))
