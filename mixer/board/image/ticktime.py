"""A bound held against the tick: with interrupts, in milliseconds, in words."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from mixer.board.image.bound import (
    MIX_TICK,
    Interrupt,
    WorstCase,
    milliseconds,
    with_interrupts,
    worst_case,
)
from mixer.board.image.carried import require_mix
from mixer.board.image.elf import Image
from mixer.board.image.rounds import RoundTime


@dataclass(frozen=True, slots=True)
class TickTime:
    """What one tick of a program takes at most."""

    where: str
    """The file it was computed for."""
    sha256: str
    """Of that file."""
    fingerprint: str
    """Of the mix that the file carries."""
    worst: WorstCase
    interrupts: tuple[Interrupt, ...]
    hz: float
    """Clock of the processor."""
    tick_ms: int
    round: RoundTime | None = None
    """Of all that the program does, where it is a board's whole firmware."""

    @property
    def cycles(self) -> int | None:
        """From beginning to end, interrupts included; None where they alone take all the time."""
        return with_interrupts(self.worst.cycles, self.hz, self.interrupts)

    @property
    def ms(self) -> float | None:
        """The same in milliseconds."""
        return milliseconds(self.cycles, self.hz)

    @property
    def fits(self) -> bool:
        """Whether it ends before the next tick begins."""
        return self._mix_fits and (self.round is None or self.round.fits)

    @property
    def _mix_fits(self) -> bool:
        return self.ms is not None and self.ms <= self.tick_ms

    @property
    def late(self) -> str:
        """The sentence that says what does not end in time; empty where all does."""
        if not self._mix_fits:
            return f"{self.worst.routine} {self.words}"
        return "" if self.round is None else self.round.late

    @property
    def stack(self) -> int:
        """Bytes: the routine's, and the deepest of the handlers that are named, one at a time."""
        return self.worst.stack + max((interrupt.stack for interrupt in self.interrupts), default=0)

    @property
    def words(self) -> str:
        """The bound as a sentence without its beginning."""
        clock = f"{self.hz / 1e6:g} MHz"
        if self.cycles is None or self.ms is None:
            return f"never ends at {clock}: interrupts alone take all its time"
        over = "" if self._mix_fits else ", TOO LONG"
        return (
            f"takes at most {self.cycles:,} cycles, {self.ms:.3f} of {self.tick_ms} ms at {clock}{over}, "
            f"and {self.stack:,} bytes of stack"
        )

    def lines(self) -> Iterator[str]:
        """A sentence for each thing that is known."""
        yield f"{self.worst.routine} {self.words}"
        if self.round is not None:
            yield from self.round.words()

    def rests_on(self) -> Iterator[str]:
        """What the bound rests on, and what it does not cover."""
        interrupts = self.interrupts if self.round is None else self.round.interrupts
        yield f"this file, SHA-256 {self.sha256[:16]}..., which carries the mix {self.fingerprint}"
        yield "every path through its instructions that the ranges of their numbers allow"
        loops, most = self.worst.loops, max((loop.rounds for loop in self.worst.loops), default=0)
        many = "one loop, of at most" if len(loops) == 1 else f"{len(loops)} loops, none of more than"
        yield f"{self.worst.routine}: {many} {most:,} rounds" if loops else f"{self.worst.routine}: no loop"
        yield self.worst.processor.times
        yield "stores stay in their objects: shown for the mix by its ranges, not for code of your own"
        if self.round is not None:
            yield from self.round.rests_on()
        if not interrupts:
            yield "no interrupt in between: name each with --interrupt"
        for interrupt in interrupts:
            depth = f"{interrupt.stack} bytes of stack" if interrupt.stack else "its stack not counted"
            often = f"at most {interrupt.per_second:g} times a second, never closer"
            yield f"{interrupt.name} {often}, {interrupt.cycles:,} cycles each, {depth}"
        yield "computed, never measured on a chip"


def tick_time(
    image: Image,
    fingerprint: str,
    tick_ms: int,
    *,
    routine: str = MIX_TICK,
    hz: float | None = None,
    interrupts: Sequence[Interrupt] = (),
) -> TickTime:
    """The bound of a program that carries the mix of this fingerprint; `hz` where its clock is another one.

    Raises ImageError with the one reason where there is no bound, or the mix is another.
    """
    require_mix(image, fingerprint)
    worst = worst_case(image, routine)
    clock = worst.processor.hz if hz is None else hz
    return TickTime(image.where, image.sha256, fingerprint, worst, tuple(interrupts), clock, tick_ms)
