"""The simulated ATmega328P of `tests.link.simavr`, seen through a program's variables and ports.

board = ProgramBoard(Path("firmware.elf"))
board.on_port("B", lambda value: ...)      # called when the program writes PORTB
board.run_until_asleep()                   # until the program sleeps with interrupts off
"""

import ctypes as c
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.boards.elf import read_firmware
from tests.link.simavr import LONGEST_RUN, Board

_CYCLE_LIMIT, _DONE, _CRASHED = 96, 6, 7
_PORT = 0x696F6700
_PORT_WRITTEN = 10  # IOPORT_IRQ_REG_PORT; 0 to 7 are the pins
_NOTIFY = c.CFUNCTYPE(None, c.c_void_p, c.c_uint32, c.c_void_p)


class ProgramBoard(Board):
    """One board with one program in its flash, from reset; RAM is random until the program writes it."""

    def __init__(self, elf: Path) -> None:
        super().__init__(elf.read_bytes())
        self._symbols = read_firmware(elf).symbols
        self._callbacks: list[Any] = []
        self._lib.avr_irq_register_notify.argtypes = [c.c_void_p, c.c_void_p, c.c_void_p]

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

    def _stack(self) -> int:
        return int.from_bytes(c.string_at(self._data + 0x5D, 2), "little")

    def _end_of_variables(self) -> int:
        return self._symbols["__bss_end"].address

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
        self._at(c.c_uint64, _CYCLE_LIMIT).value = LONGEST_RUN
        end = self.cycle + most_cycles
        state = 0
        while state != _DONE:
            state = self._lib.avr_run(self._avr)
            if self._failure is not None:
                raise self._failure
            assert state != _CRASHED, f"the program crashed at cycle {self.cycle}"
            assert self.cycle < end, f"the program still runs after {most_cycles} cycles"
