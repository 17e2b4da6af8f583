"""An ATmega328P in simulation: libsimavr, loaded through ctypes, in lockstep with the test.

    board = Simulator(Path("firmware.elf"))
    board.on_port("B", lambda value: ...)      # called when the program writes PORTB
    board.at(1600, lambda: board.set_pin("B", 0, 1))
    board.run_until_asleep()                   # until the program sleeps with interrupts off

The library's own structure is read at fixed offsets (simavr 1.6, x86-64); `_check_layout` compares what
stands there with the ATmega328P's signature, RAM end and flash end before anything is trusted.

What simavr 1.6 leaves out: interrupt entry costs no cycles (data sheet: 4), a byte on the UART takes
about 11 bit times, the TEMP byte of 16-bit registers is not modelled. Cycle counts of plain code match
the data sheet. RAM starts as zeros here, as it does not on a board: `fill_ram` changes that.
"""

import ctypes
from collections.abc import Callable
from ctypes.util import find_library
from pathlib import Path
from typing import Any

from tests.boards.elf import Firmware, Symbol, read_firmware

_RAMEND, _FLASHEND, _SIGNATURE = 10, 12, 21
_FREQUENCY, _CYCLE, _CYCLE_LIMIT, _SLEEP, _DATA = 64, 80, 96, 168, 11720
_BURST = (
    100_000  # cycles in one call of the library; pins, timers and sleep act at their cycle all the same
)
_DONE, _CRASHED = 6, 7
_PORT_WRITTEN = 10  # IOPORT_IRQ_REG_PORT; 0 to 7 are the pins
_RAM_START = 0x100

_NOTIFY = ctypes.CFUNCTYPE(None, ctypes.c_void_p, ctypes.c_uint32, ctypes.c_void_p)
_TIMER = ctypes.CFUNCTYPE(ctypes.c_uint64, ctypes.c_void_p, ctypes.c_uint64, ctypes.c_void_p)
_SLEEPER = ctypes.CFUNCTYPE(None, ctypes.c_void_p, ctypes.c_uint64)


def simavr_path() -> str | None:
    """Where the library is, or None: apt-get install libsimavr2."""
    return find_library("simavr")


def _load() -> ctypes.CDLL:
    path = simavr_path()
    assert path is not None, "libsimavr is missing: apt-get install libsimavr2"
    library = ctypes.CDLL(path)
    pointer, word, index = ctypes.c_void_p, ctypes.c_uint32, ctypes.c_int
    for name, gives, takes in (
        ("avr_make_mcu_by_name", pointer, [ctypes.c_char_p]),
        ("avr_init", index, [pointer]),
        ("avr_run", index, [pointer]),
        ("avr_terminate", None, [pointer]),
        ("avr_loadcode", None, [pointer, ctypes.c_char_p, word, word]),
        ("avr_io_getirq", pointer, [pointer, word, index]),
        ("avr_irq_register_notify", None, [pointer, _NOTIFY, pointer]),
        ("avr_raise_irq", None, [pointer, word]),
        ("avr_cycle_timer_register", None, [pointer, ctypes.c_uint64, _TIMER, pointer]),
    ):
        function = getattr(library, name)
        function.restype, function.argtypes = gives, takes
    return library


class Simulator:
    """One board with one program in its flash, from reset."""

    def __init__(self, elf: Path, hz: int = 16_000_000) -> None:
        self.firmware: Firmware = read_firmware(elf)
        self._library = _load()
        self._avr = self._library.avr_make_mcu_by_name(b"atmega328p")
        self._library.avr_init(self._avr)
        self._kept: list[Any] = []
        self._failure: BaseException | None = None
        self._check_layout()
        self._at(_FREQUENCY, ctypes.c_uint32).value = hz
        self._at(_CYCLE_LIMIT, ctypes.c_uint64).value = _BURST
        self._library.avr_loadcode(self._avr, self.firmware.flash, len(self.firmware.flash), 0)
        sleeper = self._keep(_SLEEPER(lambda _avr, _cycles: None))
        self._at(_SLEEP, ctypes.c_void_p).value = ctypes.cast(sleeper, ctypes.c_void_p).value

    def close(self) -> None:
        """Free the library's memory; the board is gone after that."""
        self._library.avr_terminate(self._avr)

    @property
    def cycle(self) -> int:
        """Clock cycles since reset."""
        return int(self._at(_CYCLE, ctypes.c_uint64).value)

    def symbol(self, name: str) -> Symbol:
        """The place of a global variable."""
        return self.firmware.symbols[name]

    def read(self, name: str) -> bytes:
        """The bytes of a global variable now."""
        place = self.symbol(name)
        return ctypes.string_at(self._ram + place.address, place.size)

    def write(self, name: str, value: bytes) -> None:
        """Put bytes into a global variable."""
        place = self.symbol(name)
        assert len(value) <= place.size, f"{name} has {place.size} bytes, not {len(value)}"
        ctypes.memmove(self._ram + place.address, value, len(value))

    def fill_ram(self, value: int) -> None:
        """What stands in RAM before the program starts."""
        size = self._at(_RAMEND, ctypes.c_uint16).value + 1 - _RAM_START
        ctypes.memset(self._ram + _RAM_START, value, size)

    def irq(self, kind: bytes, port: str, index: int) -> int:
        """The library's handle of one wire: kind b"iog" with a port, b"uar" with "0"."""
        number = int.from_bytes(kind + port.encode("ascii"), "big")
        return int(self._library.avr_io_getirq(self._avr, number, index))

    def notify(self, irq: int, callback: Callable[[int], None]) -> None:
        """Call with the new value whenever the wire is driven."""
        wrapped = self._keep(_NOTIFY(lambda _irq, value, _param: self._guarded(callback, value)))
        self._library.avr_irq_register_notify(irq, wrapped, None)

    def on_port(self, port: str, callback: Callable[[int], None]) -> None:
        """Call with the port's value whenever the program writes it."""
        self.notify(self.irq(b"iog", port, _PORT_WRITTEN), callback)

    def set_pin(self, port: str, pin: int, level: int) -> None:
        """Drive a pin from outside, now."""
        self._library.avr_raise_irq(self.irq(b"iog", port, pin), level)

    def at(self, cycle: int, callback: Callable[[], None]) -> None:
        """Call at a cycle from now on (at most 64 may wait); late by one instruction at most."""

        def once(_avr: int, _when: int, _param: int) -> int:
            self._guarded(lambda _: callback(), 0)
            return 0

        wrapped = self._keep(_TIMER(once))
        self._library.avr_cycle_timer_register(self._avr, max(1, cycle - self.cycle), wrapped, None)

    def run_until_asleep(self, most_cycles: int = 2_000_000_000) -> None:
        """Run until the program sleeps with interrupts off. A crash or a program without end raises."""
        end = self.cycle + most_cycles
        state = 0
        while state != _DONE:
            state = self._library.avr_run(self._avr)
            if self._failure is not None:
                raise self._failure
            assert state != _CRASHED, f"the program crashed at cycle {self.cycle}"
            assert self.cycle < end, f"the program still runs after {most_cycles} cycles"

    def run_to(self, cycle: int) -> None:
        """Run until a cycle is reached (a cycle timer ends it, so that it never overshoots by much)."""
        reached: list[int] = []
        limit = self._at(_CYCLE_LIMIT, ctypes.c_uint64)

        def stop() -> None:
            reached.append(1)
            limit.value = 1  # ends the burst at the next instruction

        self.at(cycle, stop)
        while not reached:
            state = self._library.avr_run(self._avr)
            if self._failure is not None:
                raise self._failure
            assert state not in (_DONE, _CRASHED), f"the program stopped at cycle {self.cycle}"
        limit.value = _BURST

    @property
    def _ram(self) -> int:
        return int(self._at(_DATA, ctypes.c_void_p).value)

    def _at(self, offset: int, kind: Any) -> Any:  # noqa: ANN401
        return kind.from_address(self._avr + offset)

    def _keep(self, callback: Any) -> Any:  # noqa: ANN401
        self._kept.append(callback)
        return callback

    def _guarded(self, callback: Callable[[int], None], value: int) -> None:
        """An exception inside a ctypes callback would be printed and lost: keep it for the run loop."""
        try:
            callback(value)
        except BaseException as error:
            self._failure = self._failure or error

    def _check_layout(self) -> None:
        found = (
            bytes(self._at(_SIGNATURE, ctypes.c_uint8 * 3)),
            self._at(_RAMEND, ctypes.c_uint16).value,
            self._at(_FLASHEND, ctypes.c_uint32).value,
        )
        assert found == (b"\x1e\x95\x0f", 0x8FF, 0x7FFF), f"this libsimavr is laid out otherwise: {found}"
