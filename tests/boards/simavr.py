"""A simulated ATmega328P that calls its test at each write to a port: the library simavr 1.6 by ctypes.

board = ProgramBoard(Path("firmware.elf"))
board.on_port("B", lambda value: ...)      # called when the program writes PORTB
board.run_until_asleep()                   # until the program sleeps with interrupts off

For programs that compute and are fed row by row, without interrupts. Whole firmware runs on
`mixer.board.chip.avr`, which has no calls back into the test and puts right what the library leaves out.
"""

import ctypes as c
import random
from collections.abc import Callable
from ctypes.util import find_library
from pathlib import Path
from typing import Any

from tests.boards.elf import read_firmware

MHZ = 16
RAM = range(0x100, 0x900)
LONGEST_RUN = 1 << 20
_FREQUENCY, _VOLTS, _CYCLE, _LIMIT, _SLEEP, _DATA = 64, 68, 80, 96, 168, 11720
_RAMEND, _FLASHEND, _SIGNATURE = 10, 12, 21
"""Offsets into ``avr_t`` of 1.6 (offsetof on its header), checked on known values."""
_DONE, _CRASHED = 6, 7
_PORT = 0x696F6700
_PORT_WRITTEN = 10  # IOPORT_IRQ_REG_PORT; 0 to 7 are the pins
_NOTIFY = c.CFUNCTYPE(None, c.c_void_p, c.c_uint32, c.c_void_p)
_SLEEPER = c.CFUNCTYPE(None, c.c_void_p, c.c_uint64)


def _library() -> c.CDLL:
    lib = c.CDLL(find_library("simavr") or "libsimavr.so.2")
    lib.avr_make_mcu_by_name.restype = c.c_void_p
    lib.avr_io_getirq.restype = c.c_void_p
    lib.avr_io_getirq.argtypes = [c.c_void_p, c.c_uint32, c.c_int]
    lib.avr_irq_register_notify.argtypes = [c.c_void_p, c.c_void_p, c.c_void_p]
    lib.avr_loadcode.argtypes = [c.c_void_p, c.c_char_p, c.c_uint32, c.c_uint32]
    for name in ("avr_init", "avr_run", "avr_terminate"):
        getattr(lib, name).argtypes = [c.c_void_p]
    return lib


class ProgramBoard:
    """One board with one program in its flash, from reset; RAM is random until the program writes it."""

    def __init__(self, elf: Path, seed: int = 1) -> None:
        firmware = read_firmware(elf)
        self._symbols = firmware.symbols
        self._callbacks: list[Any] = []
        self._failure: BaseException | None = None
        self._lib = _library()
        self._avr = self._lib.avr_make_mcu_by_name(b"atmega328p")
        self._lib.avr_init(self._avr)
        self._check_layout()
        self._at(c.c_uint32, _FREQUENCY).value = MHZ * 1_000_000
        for at in range(3):
            self._at(c.c_uint32, _VOLTS + 4 * at).value = 5000
        self._lib.avr_loadcode(self._avr, firmware.flash, len(firmware.flash), 0)
        c.memmove(self._data + RAM.start, random.Random(seed).randbytes(len(RAM)), len(RAM))
        self._no_sleep = _SLEEPER(lambda _avr, _cycles: None)
        self._at(c.c_void_p, _SLEEP).value = c.cast(self._no_sleep, c.c_void_p).value

    @property
    def cycle(self) -> int:
        """Cycles since power-up."""
        return int(self._at(c.c_uint64, _CYCLE).value)

    def read(self, name: str) -> bytes:
        """The bytes of a global variable now."""
        place = self._symbols[name]
        return c.string_at(self._data + place.address, place.size)

    def write(self, name: str, value: bytes) -> None:
        """Put bytes into a global variable."""
        place = self._symbols[name]
        assert len(value) <= place.size, f"{name} has {place.size} bytes, not {len(value)}"
        c.memmove(self._data + place.address, value, len(value))

    def fill_below_stack(self, byte: int) -> None:
        """Put one byte into all memory that the stack can still grow into, down to the variables."""
        c.memset(self._data + self._end_of_variables(), byte, self._stack() + 1 - self._end_of_variables())

    def written_below_stack(self, byte: int) -> int:
        """How many bytes below the stack, from the lowest that is not this one on."""
        room = c.string_at(
            self._data + self._end_of_variables(), self._stack() + 1 - self._end_of_variables()
        )
        return len(room.lstrip(bytes([byte])))

    def on_port(self, port: str, callback: Callable[[int], None]) -> None:
        """Call with the port's value whenever the program writes it."""

        def guarded(_irq: int, value: int, _param: int) -> None:
            try:
                callback(value)
            except BaseException as error:  # ctypes would print it and go on
                self._failure = self._failure or error

        wrapped = _NOTIFY(guarded)
        self._callbacks.append(wrapped)
        irq = self._lib.avr_io_getirq(self._avr, _PORT + ord(port), _PORT_WRITTEN)
        self._lib.avr_irq_register_notify(irq, c.cast(wrapped, c.c_void_p), None)

    def run_until_asleep(self, most_cycles: int) -> None:
        """Run until the program sleeps with interrupts off. A crash or a program without end raises."""
        self._at(c.c_uint64, _LIMIT).value = LONGEST_RUN
        end = self.cycle + most_cycles
        state = 0
        while state != _DONE:
            state = self._lib.avr_run(self._avr)
            if self._failure is not None:
                raise self._failure
            assert state != _CRASHED, f"the program crashed at cycle {self.cycle}"
            assert self.cycle < end, f"the program still runs after {most_cycles} cycles"

    def close(self) -> None:
        """Switch it off."""
        self._lib.avr_terminate(self._avr)

    def _stack(self) -> int:
        return int.from_bytes(c.string_at(self._data + 0x5D, 2), "little")

    def _end_of_variables(self) -> int:
        return self._symbols["__bss_end"].address

    def _at(self, kind: type, offset: int):  # noqa: ANN202
        return kind.from_address(self._avr + offset)

    def _check_layout(self) -> None:
        known = (
            self._at(c.c_uint16, _RAMEND).value,
            self._at(c.c_uint32, _FLASHEND).value,
            bytes(self._at(c.c_uint8 * 3, _SIGNATURE)),
        )
        assert known == (0x8FF, 0x7FFF, b"\x1e\x95\x0f"), f"another simavr than 1.6: {known}"
        self._data = self._at(c.c_uint64, _DATA).value
