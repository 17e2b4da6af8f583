"""The longest that a routine of an image can take and its deepest stack, or the one reason for no bound.

    worst = worst_case(read_image(Path("firmware.elf")))
    worst.cycles, worst.stack

It holds for this very file on its processor, with stores that stay within the objects whose address they
use: for the exported mix the range proof shows that. Interrupts come on top: `with_interrupts`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from mixer.board.image.elf import Image
from mixer.board.image.paths.instruction import Refused
from mixer.board.image.paths.walk import Walk
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


@dataclass(frozen=True, slots=True)
class Interrupt:
    """What may come in between."""

    name: str
    cycles: int
    """Of one, everything from leaving the routine to going on with it."""
    stack: int
    per_second: float
    """How often it comes when it comes as often as it can; two are never closer than that says."""


def worst_case(image: Image, routine: str = MIX_TICK) -> WorstCase:
    """The bound of a routine, found by its symbol. Raises ImageError where there is none, and why."""
    processor = processor_of(image)
    symbol = image.symbols.get(routine)
    if symbol is None or not symbol.is_code:
        names = [symbol.name for symbol in image.symbols.values() if symbol.is_code]
        raise ImageError(f"{image.where} has no routine {routine!r}", offer(routine, names, "routines"))
    try:
        longest = walk_of(image, processor).longest(symbol.address)
    except Refused as refused:
        place = image.symbol_at(refused.address)
        raise ImageError(
            f"{image.where}: no bound for {routine}: {refused.why}, at {place}",
            "a bound needs what the exported mix is made of: counted loops, calls by name, one stack",
        ) from None
    loops = [
        LoopBound(image.symbol_at(address), rounds) for address, rounds in sorted(longest.rounds.items())
    ]
    return WorstCase(routine, processor, longest.cycles, longest.stack, tuple(loops))


def walk_of(image: Image, processor: Processor) -> Walk[Any]:
    """An analysis of an image, to be begun."""
    begins = {symbol.address for symbol in image.symbols.values() if symbol.is_code}
    return Walk(processor.machine(image.code, begins))


def interrupt_of(image: Image, handler: str, per_second: float) -> Interrupt:
    """A handler of the same image, bounded like the routine. Raises ImageError where it cannot be."""
    worst = worst_case(image, handler)
    processor = worst.processor
    cycles, stack = worst.cycles + processor.around_interrupt, worst.stack + processor.interrupt_stack
    return Interrupt(handler, cycles, stack, per_second)


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
