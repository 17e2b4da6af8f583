"""A Cortex-M0+ that counts cycles, for what tests call: an account of its own, apart from `mixer`'s.

Semantics as in the ARMv6-M Architecture Reference Manual (ARM DDI 0419), cycles as in the Cortex-M0+
Technical Reference Manual (ARM DDI 0484C), table 3-1, both written down here a second time. It knows no
interrupts, no peripherals and no waiting: code and data in SRAM. What it computes is compared with the
core, bit for bit.
"""

import struct
import subprocess
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from mixer.lower.run.toolchain import find
from tests.boards.avr import STRICT, Row, formats_of
from tests.boards.cortex_m import ARM_COMPILER
from tests.boards.elf import read_loaded

RAM, RAM_BYTES = 0x20000000, 0x42000
_BACK = 0xFFFFFFFE
"""Where a call returns to, to be noticed."""
_M = 0xFFFFFFFF
FLAGS = ("-mcpu=cortex-m0plus", "-mthumb", "-nostartfiles", "-Wl,-Ttext=0x20000000", "-Wl,-emain", *STRICT)
_MAIN = """
#include "mix.h"
struct mix_inputs now;
struct mix_state state;
struct mix_outputs out;
int main(void)
{
    mix_start(&state);
    for (;;) {
        mix_tick(&now, &state, &out);
    }
}
"""


def build_m0(folder: Path, optimise: str = "-O2") -> Path:
    """The folder's mix.c and a bare main, linked to run from the RP2040's SRAM."""
    main, elf = folder / "m0_main.c", folder / f"m0{optimise}.elf"
    main.write_text(_MAIN, encoding="utf-8")
    command = [*find(ARM_COMPILER), *FLAGS, optimise, f"-I{folder}", str(main), str(folder / "mix.c")]
    subprocess.run([*command, "-o", str(elf)], check=True, timeout=60)
    return elf


class Core:
    """Registers, flags and SRAM."""

    def __init__(self, elf: Path) -> None:
        loaded = read_loaded(elf)
        self.symbols = loaded.symbols
        self.ram = bytearray(b"\xa5" * RAM_BYTES)
        for address, data in loaded.parts:
            self.ram[address - RAM : address - RAM + len(data)] = data
        self.r = [0x5A5A5A5A] * 16
        self.n = self.z = self.c = self.v = False
        self.cycles = 0
        self.lowest = 0
        """Where the stack pointer stood lowest in the last call."""
        self.on_step: Callable[[int], None] = lambda _: None
        """Called with the address of each instruction before it runs."""

    def call(self, routine: str, *arguments: str) -> int:
        """Call a routine with addresses of variables; the cycles until it has returned."""
        self.r[13] = RAM + RAM_BYTES
        self.r[14] = _BACK | 1
        self.r[: len(arguments)] = [self.symbols[name].address for name in arguments]
        self.r[15] = self.symbols[routine].address & ~1
        began = self.cycles
        self.lowest = self.r[13]
        while self.r[15] != _BACK:
            self.on_step(self.r[15])
            self.cycles += self._step()
            self.lowest = min(self.lowest, self.r[13])
        return self.cycles - began

    def place(self, name: str) -> slice:
        """Where a variable lies in `ram`."""
        symbol = self.symbols[name]
        return slice(symbol.address - RAM, symbol.address - RAM + symbol.size)

    def _load(self, address: int, size: int) -> int:
        assert address % size == 0, f"unaligned load at {self.r[15]:#x}"
        at = address - RAM
        assert 0 <= at <= RAM_BYTES - size, f"load outside SRAM: {address:#x}"
        return int.from_bytes(self.ram[at : at + size], "little")

    def _store(self, address: int, size: int, value: int) -> None:
        assert address % size == 0, f"unaligned store at {self.r[15]:#x}"
        at = address - RAM
        assert 0 <= at <= RAM_BYTES - size, f"store outside SRAM: {address:#x}"
        self.ram[at : at + size] = (value & (1 << 8 * size) - 1).to_bytes(size, "little")

    def _nz(self, value: int) -> int:
        value &= _M
        self.n, self.z = bool(value >> 31), not value
        return value

    def _add(self, one: int, other: int, carry: bool) -> int:
        whole = one + other + carry
        value = self._nz(whole)
        self.c = whole > _M
        self.v = bool((one ^ value) & (other ^ value) & 0x80000000)
        return value

    def _step(self) -> int:
        """One instruction; its cycles."""
        at = self.r[15]
        op = self._load(at, 2)
        self.r[15] = at + 2
        top = op >> 12
        if top == 4:
            return self._data(op, at) if op < 0x4800 else self._literal(op, at)
        if top > 12:
            return self._branch(op, at)
        kinds = (*[self._shift_add_move] * 4, None, *[self._memory] * 5, self._form, self._misc, self._many)
        kind = kinds[top]
        assert kind is not None
        return kind(op)

    def _form(self, op: int) -> int:
        """An address from the stack pointer or the program counter, which is already one instruction on."""
        base = self.r[13] if op & 0x800 else self.r[15] + 2 & ~3
        self.r[op >> 8 & 7] = base + 4 * (op & 255) & _M
        return 1

    def _shift_add_move(self, op: int) -> int:
        d, m, five = op & 7, op >> 3 & 7, op >> 6 & 31
        kind = op >> 11
        if kind < 3:
            self._shift_by(d, self.r[m], kind, five or (32 if kind else 0))
        elif kind == 3:
            other = op >> 6 & 7 if op & 0x400 else self.r[op >> 6 & 7]
            subtract = op & 0x200
            self.r[d] = self._add(self.r[m], other ^ _M if subtract else other, bool(subtract))
        else:
            register, number = op >> 8 & 7, op & 255
            if kind == 4:
                self.r[register] = self._nz(number)
            elif kind == 5:
                self._add(self.r[register], number ^ _M, True)
            else:
                self.r[register] = self._add(
                    self.r[register], number if kind == 6 else number ^ _M, kind == 7
                )
        return 1

    def _shift_by(self, d: int, value: int, kind: int, amount: int) -> None:
        """To the left, to the right, to the right with the sign."""
        if amount:
            if kind == 0:
                whole = value << amount
                self.c, value = bool(whole >> 32 & 1), whole & _M
            else:
                signed = value - (1 << 32) if kind == 2 and value >> 31 else value
                self.c, value = bool(signed >> amount - 1 & 1), signed >> amount & _M
        self.r[d] = self._nz(value)

    def _data(self, op: int, at: int) -> int:
        if op & 0x400:
            return self._high(op, at)
        d, m, kind = op & 7, op >> 3 & 7, op >> 6 & 15
        one, other = self.r[d], self.r[m]
        if kind in (2, 3, 4):
            self._shift_by(d, one, kind - 2, min(other & 255, 33))
        elif kind == 7:
            amount = other & 255
            if amount:
                turned = (one >> amount % 32 | one << 32 - amount % 32) & _M
                self.c, one = bool(turned >> 31), turned
            self.r[d] = self._nz(one)
        elif kind in (5, 6, 9, 10, 11):
            left, right, carry = {
                5: (one, other, self.c),
                6: (one, other ^ _M, self.c),
                9: (other ^ _M, 0, True),
                10: (one, other ^ _M, True),
                11: (one, other, False),
            }[kind]
            value = self._add(left, right, carry)
            if kind in (5, 6, 9):
                self.r[d] = value
        else:
            logic = {
                0: one & other,
                1: one ^ other,
                8: one & other,
                12: one | other,
                13: one * other,
                14: one & ~other,
                15: ~other,
            }[kind]
            value = self._nz(logic)
            if kind != 8:
                self.r[d] = value
        return 1

    def _high(self, op: int, at: int) -> int:
        d, m, kind = op & 7 | op >> 4 & 8, op >> 3 & 15, op >> 8 & 3
        value = at + 4 if m == 15 else self.r[m]
        if kind == 3:
            if op & 0x80:
                self.r[14] = at + 2 | 1
            self.r[15] = value & ~1
            return 2
        if kind == 1:
            self._add(self.r[d], value ^ _M, True)
            return 1
        self.r[d] = value if kind == 2 else self.r[d] + value & _M
        return 1

    def _literal(self, op: int, at: int) -> int:
        if op < 0x5000:
            self.r[op >> 8 & 7] = self._load((at + 4 & ~3) + 4 * (op & 255), 4)
        return 2

    def _memory(self, op: int) -> int:
        d, n, five = op & 7, op >> 3 & 7, op >> 6 & 31
        top = op >> 12
        if top == 5:
            address, kind = self.r[n] + self.r[op >> 6 & 7] & _M, op >> 9 & 7
            size, is_load, is_signed = (
                (4, 0, 0), (2, 0, 0), (1, 0, 0), (1, 1, 1), (4, 1, 0), (2, 1, 0), (1, 1, 0), (2, 1, 1),
            )[kind]  # fmt: skip
        else:
            size = {6: 4, 7: 1, 8: 2, 9: 4}[top]
            is_load, is_signed = op >> 11 & 1, 0
            address = self.r[n] + five * size & _M
            if top == 9:
                d, address = op >> 8 & 7, self.r[13] + 4 * (op & 255)
        if is_load:
            value = self._load(address, size)
            if is_signed and value >> 8 * size - 1:
                value |= _M ^ (1 << 8 * size) - 1
            self.r[d] = value
        else:
            self._store(address, size, self.r[d])
        return 2

    def _misc(self, op: int) -> int:
        d, m = op & 7, self.r[op >> 3 & 7]
        if op >> 8 == 0xB0:
            self.r[13] += 4 * (op & 127) * (-1 if op & 0x80 else 1)
        elif op >> 8 == 0xB2:
            wide, sign = ((16, 1), (8, 1), (16, 0), (8, 0))[op >> 6 & 3]
            value = m & (1 << wide) - 1
            self.r[d] = value | (_M ^ (1 << wide) - 1 if sign and value >> wide - 1 else 0)
        elif op >> 9 == 0xB4 >> 1:
            listed = [register for register in range(8) if op >> register & 1] + [14] * (op >> 8 & 1)
            self.r[13] -= 4 * len(listed)
            for place, register in enumerate(listed):
                self._store(self.r[13] + 4 * place, 4, self.r[register])
            return 1 + len(listed)
        elif op >> 9 == 0xBC >> 1:
            return self._pop(op)
        elif op >> 6 == 0xBA00 >> 6:
            self.r[d] = int.from_bytes(m.to_bytes(4, "little"), "big")
        elif op != 0xBF00:
            raise AssertionError(f"{op:#06x} is not known here")
        return 1

    def _pop(self, op: int) -> int:
        listed = [register for register in range(8) if op >> register & 1] + [15] * (op >> 8 & 1)
        for place, register in enumerate(listed):
            self.r[register] = self._load(self.r[13] + 4 * place, 4)
        self.r[13] += 4 * len(listed)
        if op & 0x100:
            self.r[15] &= ~1
            return 3 + len(listed)
        return 1 + len(listed)

    def _many(self, op: int) -> int:
        n = op >> 8 & 7
        listed = [register for register in range(8) if op >> register & 1]
        address = self.r[n]
        for place, register in enumerate(listed):
            if op & 0x800:
                self.r[register] = self._load(address + 4 * place, 4)
            else:
                self._store(address + 4 * place, 4, self.r[register])
        if not op & 0x800 or n not in listed:
            self.r[n] = address + 4 * len(listed)
        return 1 + len(listed)

    def _branch(self, op: int, at: int) -> int:
        if op >> 12 == 13:
            number = op & 255
            if not self._holds(op >> 8 & 15):
                return 1
            self.r[15] = at + 4 + 2 * (number - 256 if number > 127 else number)
            return 2
        if op >> 11 == 0b11100:
            number = op & 0x7FF
            self.r[15] = at + 4 + 2 * (number - 0x800 if number > 0x3FF else number)
            return 2
        second = self._load(at + 2, 2)
        assert (op >> 11, second >> 14) == (0b11110, 3), f"{op:#06x} is not known here"
        sign = op >> 10 & 1
        one, two = ((~(second >> bit) ^ sign) & 1 for bit in (13, 11))
        number = sign << 24 | one << 23 | two << 22 | (op & 0x3FF) << 12 | (second & 0x7FF) << 1
        self.r[14] = at + 4 | 1
        self.r[15] = at + 4 + number - (sign << 25)
        return 3

    def _holds(self, condition: int) -> bool:
        kind = (
            self.z, self.c, self.n, self.v,
            self.c and not self.z, self.n == self.v, not self.z and self.n == self.v,
        )[condition >> 1]  # fmt: skip
        return kind != bool(condition & 1)


def run_m0(elf: Path, rows: Iterable[Sequence[int]], core: Core | None = None) -> list[Row]:
    """Every tick's outputs, state and cycles."""
    core = core or Core(elf)
    header = (elf.parent / "mix.h").read_text(encoding="utf-8")
    # Members lie as the procedure call standard has them: each at a multiple of its size, as here.
    shapes = {name: struct.Struct("@" + format_[1:]) for name, format_ in formats_of(header).items()}
    core.call("mix_start", "state")
    seen = []
    for row in rows:
        packed = shapes["mix_inputs"].pack(*row)
        at = core.place("now").start
        core.ram[at : at + len(packed)] = packed
        cycles = core.call("mix_tick", "now", "state", "out")
        outputs = shapes["mix_outputs"].unpack_from(core.ram, core.place("out").start)
        state = shapes["mix_state"].unpack_from(core.ram, core.place("state").start)
        seen.append(Row(outputs, state, cycles, RAM + RAM_BYTES - core.lowest))
    return seen
