"""The whole of what a board's firmware does between two ticks, bounded from its image.

The firmware goes round in one loop (`board_round` in its main.c): edges are taken, and where a tick is due
it reads, mixes, gives the outputs and makes a frame; then it sends. A tick that falls due just after the
clock was read waits for the rest of that round, in which nothing else is due, and then comes with the next.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from mixer.board.image.bound import (
    MIX_TICK,
    Given,
    Interrupt,
    WorstCase,
    address_of,
    machine_of,
    milliseconds,
    no_bound,
    require_stack,
    with_interrupts,
    worst_case,
)
from mixer.board.image.elf import RAM_AT, Image, Machine
from mixer.board.image.paths.depth import Deepest
from mixer.board.image.paths.instruction import Refused
from mixer.board.image.paths.walk import MOST_APART
from mixer.board.image.processors import processor_of
from mixer.errors import ImageError

ROUND, TICK, BEGIN, MAIN = "board_round", "board_tick", "board_begin", "main"
OUTPUTS, FORGET = "hal_outputs", "hal_forget_edges"
"""The firmware's functions that its compiler keeps whole; those of its HAL that give the outputs, and that
are called where more edges came than there is room for."""
_NAMES = (ROUND, TICK, BEGIN, MAIN, OUTPUTS, FORGET, MIX_TICK)
_LATE, _ENDLESS = ": TOO LONG", "never ends"
_APART = (4, MOST_APART)
"""States kept apart in routines that are called: with few it takes half the time and proves 3 % more; the
ARM library's division wants many."""


@dataclass(frozen=True, slots=True)
class RoundTime:
    """What no round of a program goes beyond."""

    idle: WorstCase
    """A round in which nothing is due, and no edge was lost."""
    whole: WorstCase
    """Any round: a tick with edges before it and a frame after it, or all begun anew after a late one."""
    outputs: int
    """Cycles from the beginning of a round until its outputs are given."""
    main_stack: int
    """Bytes of the program, its start and all rounds."""
    interrupts: tuple[Interrupt, ...]
    assumed: tuple[str, ...]
    """What the interrupts' rates rest on."""
    hz: float
    tick_ms: int

    @property
    def tick_cycles(self) -> int:
        """Cycles from one tick to the next."""
        return int(self.hz * self.tick_ms / 1000)

    @property
    def cycles(self) -> int | None:
        """Of a whole round, interrupts included; None where they alone take all the time."""
        return with_interrupts(self.whole.cycles, self.hz, self.interrupts)

    @property
    def ms(self) -> float | None:
        """The same in milliseconds."""
        return milliseconds(self.cycles, self.hz)

    @property
    def outputs_after(self) -> int | None:
        """Cycles from a tick's due time until its outputs are given, interrupts included."""
        return with_interrupts(self.idle.cycles + self.outputs, self.hz, self.interrupts)

    @property
    def over_after(self) -> int | None:
        """Cycles from a tick's due time until its round is over."""
        return with_interrupts(self.idle.cycles + self.whole.cycles, self.hz, self.interrupts)

    @property
    def over_after_ms(self) -> float | None:
        """The same in milliseconds."""
        return milliseconds(self.over_after, self.hz)

    @property
    def fits(self) -> bool:
        """Whether every round is over before the next tick is due, so that no tick waits for another."""
        return self.over_after is not None and self.over_after <= self.tick_cycles

    @property
    def stack(self) -> int:
        """Bytes: the program's, and every handler's as if one interrupted the other."""
        return self.main_stack + sum(interrupt.stack for interrupt in self.interrupts)

    def words(self) -> Iterator[str]:
        """One sentence for each thing that is known."""
        if self.cycles is None or self.outputs_after is None or self.over_after is None:
            yield f"a whole round of the firmware {_ENDLESS}: interrupts alone take all its time"
            return
        yield (
            f"a whole round (edges, reading, mix, outputs, frame) takes at most {self.cycles:,} of the "
            f"tick's {self.tick_cycles:,} cycles, {self._ms(self.cycles)} of {self.tick_ms} ms, "
            f"{self.cycles - self.whole.cycles:,} of them interrupts"
        )
        yield (
            f"outputs are given at most {self._ms(self.outputs_after)} ms after a tick is due, and the "
            f"round is over {self._ms(self.over_after)} ms after it{'' if self.fits else _LATE}"
        )
        yield (
            f"the stack takes at most {self.stack:,} bytes: {self.main_stack:,} of the program, "
            f"{self.stack - self.main_stack:,} of interrupts"
        )

    @property
    def late(self) -> str:
        """The sentence that says that a round is over too late; empty where it is not."""
        return "" if self.fits else next(line for line in self.words() if _LATE in line or _ENDLESS in line)

    def rests_on(self) -> Iterator[str]:
        """What that rests on beside what the mix's bound does."""
        most = max(self.whole.loops, key=lambda loop: loop.rounds, default=None)
        if most is not None:
            yield f"{len(self.whole.loops)} loops in a round, none of more than {most.rounds} rounds"
        yield "a computed address that cannot lie in the stack's memory is not the stack's"
        if self.whole.sleeps:
            yield "it sleeps only while nothing is due: its alarm wakes it"
        yield from self.assumed

    def _ms(self, cycles: int) -> str:
        return f"{milliseconds(cycles, self.hz):.3f}"


def is_firmware(image: Image) -> bool:
    """Whether a program has the functions by which its rounds are told."""
    return all(name in image.symbols for name in _NAMES)


def round_time(
    image: Image,
    room: tuple[int, int],
    tick_ms: int,
    *,
    hz: float,
    interrupts: Sequence[Interrupt],
    assumed: Sequence[str] = (),
) -> RoundTime:
    """The bound of a board's program whose stack has this memory for itself, first and last address.

    Raises ImageError with the one reason where there is none.
    """
    _require_room(image, room)
    idle = _bound(image, Given(room, sleeps=True, without=(TICK, BEGIN, FORGET)))
    whole = _bound(image, Given(room, sleeps=True))
    outputs = whole.left[address_of(image, OUTPUTS)]
    deep = _main_stack(image, room)
    return RoundTime(idle, whole, outputs, deep, tuple(interrupts), tuple(assumed), hz, tick_ms)


def _bound(image: Image, given: Given) -> WorstCase:
    """Of a round."""
    few, many = _APART
    try:
        return worst_case(image, ROUND, replace(given, apart=few))
    except ImageError:
        return worst_case(image, ROUND, replace(given, apart=many))


def _require_room(image: Image, room: tuple[int, int]) -> None:
    """Raise ImageError where a variable lies in the stack's memory."""
    for symbol in image.symbols.values():
        if image.machine == Machine.AVR and symbol.address < RAM_AT:
            continue  # a table in flash
        address = symbol.address & ~RAM_AT
        if symbol.size and not symbol.is_code and address <= room[1] and address + symbol.size > room[0]:
            raise no_bound(
                image, ROUND, Refused(symbol.address, f"`{symbol.name}` lies in the stack's memory")
            )


def _main_stack(image: Image, room: tuple[int, int]) -> int:
    machine = machine_of(image, processor_of(image), Given(room, sleeps=True))
    try:
        found = Deepest(machine).bytes_of(address_of(image, MAIN))
    except Refused as refused:
        raise no_bound(image, MAIN, refused) from None
    require_stack(image, MAIN, found, room)
    return found
