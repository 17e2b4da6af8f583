"""A simulated ATmega328P board: the library simavr 1.6 through ctypes, in step with the test.

There is no wall clock. Every edge on a pin, and every stop, is an event of the simulator's own clock, so
that a run is repeatable to the cycle. simavr enters an interrupt in no time where the datasheet gives 4
cycles; those are added here. It does not model the pin synchroniser (1 to 2 cycles, the same for every
edge), the latch that 16-bit registers share, nor baud rates that do not match; nothing is claimed from it
about those.

The offsets into ``avr_t`` are those of 1.6 (offsetof on its header); `Board` checks them on known values.
"""

import ctypes as c
import random
import struct
from collections.abc import Callable, Iterable, Iterator
from ctypes.util import find_library
from heapq import merge
from itertools import count
from typing import NamedTuple

MHZ = 16
RAM = range(0x100, 0x900)
LONGEST_RUN = 1 << 20
_FREQUENCY, _VOLTS, _CYCLE, _LIMIT, _SLEEP, _DATA = 64, 68, 80, 96, 168, 11720
_RAMEND, _FLASHEND, _SIGNATURE = 10, 12, 21
_PORT, _UART, _UART_FLAGS, _ADC = 0x696F6700, 0x75617230, 0x75617330, 0x61646320
_RUNNING, _ANY_INTERRUPT, _UART_OUTPUT = 1, 0xFF, 1
_STOPPED_STATES = {6, 7}

_TIMER = c.CFUNCTYPE(c.c_uint64, c.c_void_p, c.c_uint64, c.c_void_p)
_NOTIFY = c.CFUNCTYPE(None, c.c_void_p, c.c_uint32, c.c_void_p)
_SLEEPER = c.CFUNCTYPE(None, c.c_void_p, c.c_uint64)


class Edge(NamedTuple):
    """A level on a pin from a cycle on."""

    cycle: int
    port: str
    pin: int
    level: int


def flash_of(elf: bytes) -> bytes:
    """The flash image of an AVR ELF file: its loadable parts at their physical addresses."""
    start, size, parts = *struct.unpack_from("<I", elf, 28), *struct.unpack_from("<HH", elf, 42)
    image = bytearray()
    for n in range(parts):
        kind, at, _, physical, length = struct.unpack_from("<5I", elf, start + n * size)
        if kind == 1 and length and physical < 0x8000:
            image.extend(b"\xff" * (physical + length - len(image)))
            image[physical : physical + length] = elf[at : at + length]
    return bytes(image)


def _library() -> c.CDLL:
    lib = c.CDLL(find_library("simavr") or "libsimavr.so.2")
    lib.avr_make_mcu_by_name.restype = c.c_void_p
    lib.avr_io_getirq.restype = lib.avr_get_interrupt_irq.restype = c.c_void_p
    lib.avr_io_getirq.argtypes = [c.c_void_p, c.c_uint32, c.c_int]
    lib.avr_get_interrupt_irq.argtypes = [c.c_void_p, c.c_uint8]
    lib.avr_raise_irq.argtypes = [c.c_void_p, c.c_uint32]
    lib.avr_irq_register_notify.argtypes = [c.c_void_p, _NOTIFY, c.c_void_p]
    lib.avr_cycle_timer_register.argtypes = [c.c_void_p, c.c_uint64, _TIMER, c.c_void_p]
    lib.avr_ioctl.argtypes = [c.c_void_p, c.c_uint32, c.c_void_p]
    lib.avr_loadcode.argtypes = [c.c_void_p, c.c_char_p, c.c_uint32, c.c_uint32]
    for name in ("avr_init", "avr_run", "avr_terminate"):
        getattr(lib, name).argtypes = [c.c_void_p]
    return lib


class Board:
    """One powered board running one program, its RAM random at first as in life."""

    def __init__(self, elf: bytes, seed: int = 1) -> None:
        self._lib = _library()
        self._avr = self._lib.avr_make_mcu_by_name(b"atmega328p")
        self._lib.avr_init(self._avr)
        self._check_layout()
        self._at(c.c_uint32, _FREQUENCY).value = MHZ * 1_000_000
        for at in range(3):
            self._at(c.c_uint32, _VOLTS + 4 * at).value = 5000
        image = flash_of(elf)
        self._lib.avr_loadcode(self._avr, image, len(image), 0)
        c.memmove(self._data + RAM.start, random.Random(seed).randbytes(len(RAM)), len(RAM))
        self._edges: Iterator[Edge] = iter(())
        self._next: Edge | None = None
        self._failure: BaseException | None = None
        self.sent = bytearray()
        """Everything the board's serial port has sent."""
        self._hook()

    @property
    def cycle(self) -> int:
        """Cycles since power-up."""
        return self._at(c.c_uint64, _CYCLE).value

    def set_pin(self, port: str, pin: int, level: int) -> None:
        """Drive a pin now."""
        irq = self._lib.avr_io_getirq(self._avr, _PORT + ord(port), pin)
        self._lib.avr_raise_irq(irq, level)

    def set_analog_mv(self, channel: int, millivolts: int) -> None:
        """Put a voltage on an analog input."""
        self._lib.avr_raise_irq(self._lib.avr_io_getirq(self._avr, _ADC, channel), millivolts)

    def play(self, *tracks: Iterable[Edge]) -> None:
        """Drive the pins by these tracks from now on, each in order of time."""
        self._edges = merge(*tracks)
        self._next = next(self._edges, None)
        if self._next:
            wait = max(self._next.cycle - self.cycle, 1)
            self._lib.avr_cycle_timer_register(self._avr, wait, self._on_edge, None)

    def run_until(self, cycle: int) -> None:
        """Run to a cycle. Raises RuntimeError when the program crashes.

        A reset of the board forgets all timers, so after one the stop may come late and no edges come.
        """
        self._stopped = False
        self._at(c.c_uint64, _LIMIT).value = LONGEST_RUN
        self._lib.avr_cycle_timer_register(self._avr, max(cycle - self.cycle, 1), self._on_stop, None)
        while not self._stopped and self.cycle < cycle + LONGEST_RUN:
            if self._lib.avr_run(self._avr) in _STOPPED_STATES:
                raise RuntimeError(f"the program crashed at cycle {self.cycle}")
        if self._failure:
            raise self._failure

    def run_seconds(self, seconds: float) -> None:
        """Run on for so long."""
        self.run_until(self.cycle + round(seconds * MHZ * 1e6))

    def take(self) -> bytes:
        """What the serial port has sent since the last call."""
        data = bytes(self.sent)
        self.sent.clear()
        return data

    def close(self) -> None:
        """Switch it off."""
        self._lib.avr_terminate(self._avr)

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

    def _hook(self) -> None:
        """Callbacks are kept on the object: ctypes does not keep them."""
        self._on_edge = _TIMER(self._edge)
        self._on_stop = _TIMER(self._stop)
        self._on_byte = _NOTIFY(lambda _irq, value, _param: self.sent.append(value & 0xFF))
        self._on_interrupt = _NOTIFY(self._enter_interrupt)
        self._no_sleep = _SLEEPER(lambda _avr, _cycles: None)
        self._at(c.c_void_p, _SLEEP).value = c.cast(self._no_sleep, c.c_void_p).value
        flags = c.c_uint32(0)
        self._lib.avr_ioctl(self._avr, _UART_FLAGS, c.byref(flags))
        uart = self._lib.avr_io_getirq(self._avr, _UART, _UART_OUTPUT)
        self._lib.avr_irq_register_notify(uart, self._on_byte, None)
        size = self._irq_size()
        running = self._lib.avr_get_interrupt_irq(self._avr, _ANY_INTERRUPT) + _RUNNING * size
        self._lib.avr_irq_register_notify(running, self._on_interrupt, None)

    def _irq_size(self) -> int:
        first, second = (self._lib.avr_io_getirq(self._avr, _PORT + ord("B"), pin) for pin in (0, 1))
        return second - first

    def _edge(self, _avr: int, when: int, _param: int) -> int:
        try:
            while self._next and self._next.cycle <= when:
                self.set_pin(self._next.port, self._next.pin, self._next.level)
                self._next = next(self._edges, None)
        except BaseException as error:  # ctypes would print it and go on
            self._failure, self._next = error, None
        return self._next.cycle if self._next else 0

    def _stop(self, _avr: int, _when: int, _param: int) -> int:
        self._stopped = True
        return 0

    def _enter_interrupt(self, _irq: int, vector: int, _param: int) -> None:
        if vector:
            self._at(c.c_uint64, _CYCLE).value += 4


def pulses(
    port: str,
    pin: int,
    width_us: Callable[[int], float],
    period_us: float,
    offset_us: float = 0.0,
    number: int | None = None,
) -> Iterator[Edge]:
    """A pulse train, endless unless a number is given. `width_us` gives the n-th width."""
    for n in count() if number is None else range(number):
        rise = round((offset_us + n * period_us) * MHZ)
        yield Edge(rise, port, pin, 1)
        yield Edge(rise + round(width_us(n) * MHZ), port, pin, 0)
