"""The processors whose instructions take a known time, and how an image says that it is for one of them."""

from collections.abc import Callable, Container
from dataclasses import dataclass
from typing import Any

from mixer.board.image.avr import timing as avr_timing
from mixer.board.image.avr.machine import Avr
from mixer.board.image.elf import Image, Machine
from mixer.board.image.paths.instruction import Code
from mixer.board.image.paths.intervals import Range
from mixer.board.image.paths.walk import Machine as Walked
from mixer.board.image.thumb import timing as thumb_timing
from mixer.board.image.thumb.machine import Thumb
from mixer.errors import ImageError

_REMEDY = "build for the ATmega328P (avr-gcc -mmcu=atmega328p) or the RP2040 (-mcpu=cortex-m0plus)"
_AVR5 = 5
"""The AVR's instruction set with up to 64 KB of flash, in `e_flags`."""
_ARMV6_M = (11, 12)
"""Tag_CPU_arch of v6-M and v6S-M (Addenda to, and Errata in, the ABI for the Arm Architecture)."""


@dataclass(frozen=True, slots=True)
class Processor:
    """One of them."""

    name: str
    hz: int
    """Its usual clock on the boards with it."""
    machine: Callable[[Code, Container[int], Range | None, bool], Walked[Any]]
    around_interrupt: int
    """Cycles of entering a handler and of coming back, beside the handler's own."""
    interrupt_stack: int
    """Bytes that entering one puts on the stack, beside the handler's own."""
    times: str
    """Where its cycles are from, and under which condition they hold."""


ATMEGA328P = Processor(
    "ATmega328P",
    16_000_000,
    Avr,
    avr_timing.INTERRUPT_ENTRY,
    0,
    "cycles by the ATmega328P's data sheet",
)
RP2040 = Processor(
    "RP2040",
    128_000_000,
    Thumb,
    thumb_timing.INTERRUPT_ENTRY + thumb_timing.INTERRUPT_EXIT,
    thumb_timing.FRAME,
    "cycles by the Cortex-M0+ manual, code and data in SRAM, no other master (DMA, second core) on its bus",
)


def processor_of(image: Image) -> Processor:
    """The one an image is for. Raises ImageError where its instructions' time is not known."""
    if image.machine == Machine.AVR:
        device = (
            image.notes.get(".note.gnu.avr.deviceinfo", b"")
            .rstrip(b"\0")
            .rpartition(b"\0")[2]
            .decode("ascii")
        )
        if image.flags & 0x7F == _AVR5 and (not device or device.startswith("atmega328p")):
            return ATMEGA328P
        raise ImageError(
            f"{image.where} is for {device or 'another AVR'}, whose timing is not known", _REMEDY
        )
    if image.machine == Machine.ARM:
        if _architecture(image.notes.get(".ARM.attributes", b"")) in _ARMV6_M:
            return RP2040
        raise ImageError(f"{image.where} is for an ARM whose timing is not known", _REMEDY)
    raise ImageError(f"{image.where} is for a processor whose timing is not known", _REMEDY)


def _architecture(raw: bytes) -> int:
    """Tag_CPU_arch of the build attributes; 0 where there is none.

    Format: "aeabi" in a section of its own, then tags as ULEB128 with numbers or, at 4, 5 and odd ones
    above 32, texts (the same document, "Encoding").
    """
    at = raw.find(b"aeabi\0")
    if at < 0:
        return 0
    at += 6 + 5  # the file's tag and the length of what follows
    while at < len(raw):
        tag, at = _number(raw, at)
        if tag == 6:
            return _number(raw, at)[0]
        if tag in (4, 5) or (tag > 32 and tag % 2):
            at = raw.index(b"\0", at) + 1
        else:
            _, at = _number(raw, at)
    return 0


def _number(raw: bytes, at: int) -> tuple[int, int]:
    """A number as ULEB128, and where it ends."""
    value = shift = 0
    while raw[at] & 0x80:
        value |= (raw[at] & 0x7F) << shift
        shift, at = shift + 7, at + 1
    return value | raw[at] << shift, at + 1
