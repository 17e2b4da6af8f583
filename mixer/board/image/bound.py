"""The longest that a routine of an image can take and its deepest stack, or the one reason for no bound.

    worst = worst_case(read_image(Path("firmware.elf")))
    worst.cycles, worst.stack

It holds for this very file on its processor, with stores that stay within the objects whose address they
use: for the exported mix the range proof shows that. Interrupts come on top: `with_interrupts`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from mixer.board.image.elf import Image
from mixer.board.image.paths.instruction import Refused
from mixer.board.image.paths.walk import MOST_APART, Machine, Walk
from mixer.board.image.processors import Processor, processor_of
from mixer.errors import ImageError, offer

MIX_TICK = "mix_tick"


@dataclass(frozen=True, slots=True)
class LoopBound:
    """How often a loop goes round at most."""

    where: str
    """Address of its first instruction, and the routine it is in."""
    rounds: int


@dataclass(frozen=True, slots=True)
class WorstCase:
    """What no path through a routine goes beyond."""

    routine: str
    processor: Processor
    cycles: int
    """From the routine's first instruction to the end of its return, no interrupt in between."""
    stack: int
    """Bytes, its own return address included, where the processor keeps that on the stack."""
    loops: tuple[LoopBound, ...]
    """Every loop on the way, with the bound that was derived for it."""
    left: Mapping[int, int] = field(default_factory=dict)
    """Address of each routine that it calls, and the most cycles after which a call of it has returned."""
    sleeps: bool = False
    """Whether it waits for interrupts, which counts as no time."""


@dataclass(frozen=True, slots=True)
class Interrupt:
    """What may come in between."""

    name: str
    cycles: int
    """Of one, everything from leaving the routine to going on with it."""
    stack: int
    per_second: float
    """How often it comes when it comes as often as it can; two are never closer than that says."""


@dataclass(frozen=True, slots=True)
class Given:
    """What is known of a program beside its bytes."""

    room: tuple[int, int] | None = None
    """The first and last address of the memory that is the stack's alone: a store by a computed address
    that lies elsewhere does not mean it."""
    sleeps: bool = False
    """Waiting for an interrupt counts as no time: it sleeps only while nothing is due."""
    without: tuple[str, ...] = ()
    """Routines that are not called meanwhile."""
    apart: int = MOST_APART
    """States kept apart in routines that are called."""


NOTHING_GIVEN = Given()


def worst_case(image: Image, routine: str = MIX_TICK, given: Given = NOTHING_GIVEN) -> WorstCase:
    """The bound of a routine, found by its symbol. Raises ImageError where there is none, and why."""
    processor, begin = processor_of(image), address_of(image, routine)
    without = frozenset(address_of(image, name) for name in given.without)
    try:
        longest = Walk(machine_of(image, processor, given), without, given.apart).longest(begin)
    except Refused as refused:
        raise no_bound(image, routine, refused) from None
    if given.room is not None:
        require_stack(image, routine, longest.stack, given.room)
    loops = [
        LoopBound(image.symbol_at(address), rounds) for address, rounds in sorted(longest.rounds.items())
    ]
    return WorstCase(
        routine, processor, longest.cycles, longest.stack, tuple(loops), longest.left, longest.sleeps
    )


def address_of(image: Image, routine: str) -> int:
    """Where a routine begins. Raises ImageError where there is none of that name."""
    symbol = image.symbols.get(routine)
    if symbol is None or not symbol.is_code:
        names = [symbol.name for symbol in image.symbols.values() if symbol.is_code]
        raise ImageError(f"{image.where} has no routine {routine!r}", offer(routine, names, "routines"))
    return symbol.address


def require_stack(image: Image, routine: str, stack: int, room: tuple[int, int]) -> None:
    """Raise ImageError where a routine takes more bytes of stack than there are from address to address."""
    if stack > room[1] - room[0] + 1:
        raise no_bound(
            image, routine, Refused(address_of(image, routine), f"it wants {stack} bytes of stack")
        )


def no_bound(image: Image, routine: str, refused: Refused) -> ImageError:
    """The one reason, in words."""
    return ImageError(
        f"{image.where}: no bound for {routine}: {refused.why}, at {image.symbol_at(refused.address)}",
        "a bound needs what the exported mix is made of: counted loops, calls by name, one stack",
    )


def machine_of(image: Image, processor: Processor, given: Given) -> Machine[Any]:
    """What an analysis of an image asks."""
    begins = {symbol.address for symbol in image.symbols.values() if symbol.is_code}
    return processor.machine(image.code, begins, given.room, given.sleeps)


def interrupt_of(image: Image, handler: str, per_second: float) -> Interrupt:
    """A handler of the same image, bounded like the routine. Raises ImageError where it cannot be."""
    worst = worst_case(image, handler)
    processor = worst.processor
    cycles, stack = worst.cycles + processor.around_interrupt, worst.stack + processor.interrupt_stack
    return Interrupt(handler, cycles, stack, per_second)


def milliseconds(cycles: int | None, hz: float) -> float | None:
    """How long so many cycles take by a clock; None for what never ends."""
    return None if cycles is None else cycles * 1000 / hz


def with_interrupts(cycles: int, hz: float, interrupts: Sequence[Interrupt]) -> int | None:
    """Cycles from begin to end when interrupts come as often as they may; None where it never ends.

    The response time of the lowest of several tasks, R = C + sum of ceil(R / T) x c (M. Joseph and P.
    Pandya, Computer Journal 29 (1986) 390): the smallest R that is its own next one.
    """
    if sum(interrupt.cycles * interrupt.per_second for interrupt in interrupts) >= hz:
        return None
    whole = cycles
    while True:
        more = cycles + sum(
            -int(-whole * interrupt.per_second // hz) * interrupt.cycles for interrupt in interrupts
        )
        if more == whole:
            return whole
        whole = more
