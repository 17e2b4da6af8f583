"""A simulated ATmega328P: the library simavr 1.6 under a run loop in C.

    chip = AvrChip(image_of(elf_bytes, "reader.elf"))
    frames = Decoder().feed(bytes(byte for byte, _ in chip.run(until=chip.hz).sent))

simavr is free software under the GPL, version 3 or later. It is loaded where a machine has it and never
comes with this program; the offsets below are of its 1.6 (offsetof on its header) and are checked on values
that are known. What the loop puts right in it, and what it does not have, stands at the head of
``avr_loop.c`` and ``avr_pwm.c``.
"""

import ctypes as c
import random
from collections.abc import Sequence
from ctypes.util import find_library
from functools import cache
from importlib.resources import files
from typing import Any

from mixer.board.chip.chip import Edge, Reset, Seen, Train, in_turn
from mixer.board.image.elf import RAM_AT, Image, Machine
from mixer.errors import ChipError, ImageError, MissingToolError
from mixer.lower.run.native_build import load

HZ = 16_000_000
FLASH = 0x8000
"""Bytes of flash."""
RAM = range(0x100, 0x900)
PINS = tuple(f"P{port}{bit}" for port in "BCD" for bit in range(8))
"""In the order of the loop's numbers."""
_NUMBERS = {name: number for number, name in enumerate(PINS)}
_FREQUENCY, _VOLTS, _DATA = 64, 68, 11720
_RAMEND, _FLASHEND, _SIGNATURE = 10, 12, 21
_FUNCTIONS = (
    "avr_run", "avr_reset", "avr_io_getirq", "avr_get_interrupt_irq", "avr_raise_irq",
    "avr_irq_register_notify", "avr_cycle_timer_register", "avr_ioctl",
)  # fmt: skip
"""In the order of the loop's `library_t`."""
_ENDS = {
    1: "the program sleeps with interrupts off and never wakes",
    2: "the program crashed",
    3: "the program uses interrupts of the serial port, which this simulated chip does not have",
    5: "a timer drives pins in a mode that this simulated chip does not have",
    4: "this machine has no memory left for what the chip shows",
}


class _Event(c.Structure):
    _fields_ = (("cycle", c.c_uint64), ("pin", c.c_int32), ("level", c.c_int32))


class _List(c.Structure):
    _fields_ = (("items", c.POINTER(_Event)), ("count", c.c_int64), ("room", c.c_int64))


class _Train(c.Structure):
    _fields_ = (
        ("cycle", c.c_uint64),
        ("pin", c.c_int32),
        ("high", c.c_uint32),
        ("period", c.c_uint32),
        ("repeats", c.c_uint32),
    )


class _Trains(c.Structure):
    _fields_ = (("items", c.POINTER(_Train)), ("count", c.c_int64), ("room", c.c_int64))


class _Shown(c.Structure):
    """The part of the loop's `chip_t` that is read here."""

    _fields_ = (("edges", _List), ("sent", _List), ("resets", _List), ("trains", _Trains))


class AvrChip:
    """One ATmega328P at 16 MHz and 5 V, its RAM random at power-up as in life.

    Raises MissingToolError without simavr or a C compiler, ImageError for an image of another chip.
    """

    hz = HZ

    def __init__(self, image: Image, seed: int = 1) -> None:
        if image.machine != Machine.AVR:
            raise ImageError(f"{image.where} is no program for an ATmega328P", "build it for this board")
        self._image = image
        self._random = random.Random(seed)  # noqa: S311  rubbish, no secret
        self._simavr, self._loop = _simavr(), _loop()
        self._avr = self._powered(_flash_of(image))
        self._functions = (c.c_void_p * len(_FUNCTIONS))(
            *(c.cast(getattr(self._simavr, name), c.c_void_p) for name in _FUNCTIONS)
        )
        self._chip = self._loop.chip_open(self._functions, self._avr)
        if not self._chip:
            raise MemoryError
        self._last = 0

    @property
    def cycle(self) -> int:
        """Cycles since power-up."""
        return int(self._loop.chip_now(self._on))

    def run(self, until: int, edges: Sequence[Edge] = ()) -> Seen:
        """Run to a cycle (an instruction may end a few later), driving pins from outside.

        Raises ChipError when the program crashes, ValueError for edges that are not in order of time.
        """
        self._drive(edges)
        failed = self._loop.chip_run(self._on, until)
        shown = _Shown.from_address(self._on)
        seen = Seen(
            in_turn(Edge(event.cycle, PINS[event.pin], event.level) for event in _taken(shown.edges)),
            sorted(
                Train(train.cycle, PINS[train.pin], train.high, train.period, train.repeats)
                for train in _taken(shown.trains)
            ),
            [(event.pin, event.cycle) for event in _taken(shown.sent)],
            [(event.cycle, Reset(event.pin & 15)) for event in _taken(shown.resets)],
        )
        self._loop.chip_forget(self._on)
        if failed:
            raise ChipError(
                f"{self._image.where}: {_ENDS[failed]}, at cycle {self.cycle}", "mend the program"
            )
        return seen

    def set_analog_mv(self, pin: str, millivolts: int) -> None:
        """Put a voltage on an analog input, PC0 to PC5, ADC6 or ADC7; it reads against 5000 mV."""
        number = int(pin.removeprefix("ADC").removeprefix("PC"))
        self._loop.chip_set_analog(self._on, number, millivolts)

    def send(self, data: bytes, at: int) -> None:
        """Bytes into its serial input, the first from a cycle on."""
        self._loop.chip_receive(self._on, data, len(data), at)

    def peek(self, symbol: str) -> bytes:
        """A variable's bytes now. Raises KeyError for a name the image does not have."""
        return c.string_at(self._place(symbol, 0, 0), self._image.symbols[symbol].size)

    def poke(self, symbol: str, data: bytes, offset: int = 0) -> None:
        """Write into a variable. Raises KeyError as `peek` does, ValueError beyond its end."""
        c.memmove(self._place(symbol, offset, len(data)), data, len(data))

    def reset(self, reason: Reset, held: int = 0) -> None:
        """Reset it now and hold it so for some cycles; power makes its RAM random anew."""
        if reason & Reset.POWER:
            self._rubbish()
        self._loop.chip_reset(self._on, int(reason), held)

    def hang(self, symbol: str = "") -> None:
        """From now on the program stands still where it is, or where a function begins, until a reset."""
        self._loop.chip_hang(self._on, self._image.symbols[symbol].address if symbol else -1, 0)

    def halt(self, cycles: int) -> None:
        """For so many cycles the program stands still where it is, interrupts and timers do not."""
        self._loop.chip_hang(self._on, -1, cycles)

    def close(self) -> None:
        """Switch it off."""
        if self._chip:
            self._loop.chip_close(self._chip)
            self._simavr.avr_terminate(self._avr)
            self._chip = None

    @property
    def _on(self) -> int:
        """The chip. Raises ChipError once it is switched off: its memory is another's then."""
        if not self._chip:
            raise ChipError("the simulator has ended: it is switched off", "start anew")
        chip: int = self._chip
        return chip

    def _drive(self, edges: Sequence[Edge]) -> None:
        last = self._last
        for edge in edges:
            if edge.cycle < last:
                raise ValueError(f"an edge at cycle {edge.cycle} after one at {last}")
            last = edge.cycle
        self._last = last
        if edges:
            events = (_Event * len(edges))(*[_Event(at, _NUMBERS[pin], level) for at, pin, level in edges])
            self._loop.chip_drive(self._on, events, len(edges))

    def _place(self, symbol: str, offset: int, size: int) -> int:
        found = self._image.symbols[symbol]
        if found.address < RAM_AT:
            raise KeyError(symbol)
        if offset + size > found.size:
            raise ValueError(f"{symbol} has {found.size} bytes; {size} at {offset} do not fit")
        assert self._on
        return self._data + found.address - RAM_AT + offset

    def _powered(self, flash: bytes) -> int:
        avr: int = self._simavr.avr_make_mcu_by_name(b"atmega328p")
        self._simavr.avr_init(avr)
        known = (
            c.c_uint16.from_address(avr + _RAMEND).value,
            c.c_uint32.from_address(avr + _FLASHEND).value,
            bytes((c.c_uint8 * 3).from_address(avr + _SIGNATURE)),
        )
        if known != (RAM.stop - 1, FLASH - 1, b"\x1e\x95\x0f"):
            raise MissingToolError(f"another simavr than 1.6 is here ({known})", _INSTALL)
        c.c_uint32.from_address(avr + _FREQUENCY).value = HZ
        for at in range(3):
            c.c_uint32.from_address(avr + _VOLTS + 4 * at).value = 5000
        self._simavr.avr_loadcode(avr, flash, len(flash), 0)
        self._data = int(c.c_uint64.from_address(avr + _DATA).value)
        self._rubbish()
        return avr

    def _rubbish(self) -> None:
        c.memmove(self._data + RAM.start, self._random.randbytes(len(RAM)), len(RAM))


_INSTALL = "install simavr's library 1.6 (Debian, Ubuntu: apt-get install libsimavr2)"


def _taken(found: Any) -> list[Any]:  # noqa: ANN401  a list of the loop
    return found.items[: found.count] if found.count else []


def _flash_of(image: Image) -> bytes:
    """What stands in flash: the image's parts at their places, all else erased."""
    flash = bytearray(b"\xff" * FLASH)
    for part in image.parts:
        if part.address >= RAM_AT:  # the fuses and the EEPROM have places beyond
            continue
        if part.address + len(part.data) > FLASH:
            raise ImageError(
                f"{image.where} is larger than the {FLASH} bytes of flash", "take another board"
            )
        flash[part.address : part.address + len(part.data)] = part.data
    return bytes(flash)


@cache
def _simavr() -> c.CDLL:
    try:
        lib = c.CDLL(find_library("simavr") or "libsimavr.so.2")
    except OSError:
        said = "the simulated ATmega328P needs the library simavr, which is not here"
        raise MissingToolError(said, _INSTALL) from None
    lib.avr_make_mcu_by_name.restype = c.c_void_p
    lib.avr_make_mcu_by_name.argtypes = [c.c_char_p]
    lib.avr_loadcode.argtypes = [c.c_void_p, c.c_char_p, c.c_uint32, c.c_uint32]
    for name in ("avr_init", "avr_terminate"):
        getattr(lib, name).argtypes = [c.c_void_p]
    return lib


@cache
def _loop() -> c.CDLL:
    """The run loop, built on first use and kept in the cache."""
    folder = files("mixer.board.chip")
    source = "".join(
        folder.joinpath(name).read_text(encoding="utf-8") for name in ("avr_pwm.c", "avr_loop.c")
    )
    lib = load(source, what="the run loop of the simulated ATmega328P")
    lib.chip_open.restype = c.c_void_p
    lib.chip_open.argtypes = [c.c_void_p, c.c_void_p]
    lib.chip_now.restype = c.c_uint64
    lib.chip_run.argtypes = [c.c_void_p, c.c_uint64]
    lib.chip_drive.argtypes = [c.c_void_p, c.c_void_p, c.c_int64]
    lib.chip_receive.argtypes = [c.c_void_p, c.c_char_p, c.c_int64, c.c_uint64]
    lib.chip_set_analog.argtypes = [c.c_void_p, c.c_int32, c.c_uint16]
    lib.chip_reset.argtypes = [c.c_void_p, c.c_uint8, c.c_uint64]
    lib.chip_hang.argtypes = [c.c_void_p, c.c_int64, c.c_uint64]
    for name in ("chip_now", "chip_forget", "chip_close"):
        getattr(lib, name).argtypes = [c.c_void_p]
    return lib
