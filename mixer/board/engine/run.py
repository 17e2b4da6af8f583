"""One image on one chip, a tick at a time: what its wires are given, what it read, what its pins show.

    run = ImageRun(chip, pins, tick_ms, levels)
    ticks = run.feed(rows)           # those that are through; later rows may be on their wires already
    ticks += run.finish()

A row's tick is the board's tick in which its pulses end, so rows and ticks go together one to one. Some
ticks lie between the two calls: pulses begin before the tick in which they end, and a frame tells of a
tick after it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from mixer.board.chip.chip import Chip, Edge, Reset
from mixer.board.engine.receiver import Receiver
from mixer.board.engine.shown import PinHistory
from mixer.board.frames import Decoder, Frame, Identity
from mixer.board.pins.wires import Pins
from mixer.errors import ChipError

BOOT_MS = 400
"""A board that has said nothing by then says nothing."""
PIECE_MS = 500
"""A call into a simulator cannot be interrupted, so it is never long."""
BITS_A_BYTE = 10


@dataclass(frozen=True, slots=True)
class BoardTick:
    """One tick, as the board's own frame tells of it."""

    number: int
    """Counted from the board's first tick."""
    half_us: tuple[int, ...]
    """What it read on each channel of the plan, in half µs; 0 where no pulse came."""
    inputs: tuple[int, ...]
    """The same as its mix took it, in µs, and then its contacts' levels."""
    wires: tuple[int, ...]
    guard: int


class ImageRun:
    """One board from power-up on. Raises ChipError when it stops, says nothing or restarts."""

    def __init__(self, chip: Chip, pins: Pins, tick_ms: int, levels: Sequence[int]) -> None:
        self.chip, self.pins = chip, pins
        self.tick = chip.hz * tick_ms // 1000
        """Cycles of a tick."""
        self.receiver = Receiver(pins, chip.hz, self.tick, levels)
        self.history = PinHistory(pin for output in pins.outputs for pin in output.pins)
        self.identity: Identity | None = None
        self.first_row = 0
        """The number of the board's tick that reads the first row."""
        self._decoder, self._frame, self._frame_began = Decoder(), bytearray(), 0
        self._ticks: list[BoardTick] = []
        self._frames, self._fed, self._given = 0, 0, 0
        self._origin = 0
        """When the board's tick 0 began: its frame 0 follows one tick later."""
        self._planned: list[Edge] = self.receiver.idle()
        self.boot: list[BoardTick] = []
        """What it read before the first row."""
        self._start()

    def time_of(self, number: int) -> int:
        """The cycle at which the board reads its tick of a number, a little before the frame begins."""
        return self._origin + (number + 1) * self.tick

    def feed(self, rows: Sequence[Sequence[int]]) -> list[BoardTick]:
        """Give rows, a tick each; the ticks that are through since the last call, oldest first."""
        for row in rows:
            end = self.time_of(self.first_row + self._fed)
            self._planned += self.receiver.edges(self._fed, row, end)
            self._fed += 1
        self._advance(self.time_of(self.first_row + self._fed) - self.receiver.lead)
        return self._taken()

    def finish(self) -> list[BoardTick]:
        """Everything that was given is read: the ticks not yet told of, and two servo periods of pins."""
        self._advance(self.time_of(self.first_row + self._fed) + self.chip.hz // 20)
        left = self._fed - self._given
        return self._taken()[:left]

    def _taken(self) -> list[BoardTick]:
        ready, self._ticks = self._ticks, []
        self._given += len(ready)
        return ready

    def _start(self) -> None:
        step = self.chip.hz // 500
        while not self._frames:
            if self.chip.cycle > BOOT_MS * self.chip.hz // 1000:
                raise ChipError("the image says nothing after power-up", "flash one of `export --board`")
            self._advance(self.chip.cycle + step)
        ahead = self.chip.cycle + 2 * self.receiver.lead - self._origin
        self.first_row = -(-ahead // self.tick)
        self._planned += self.receiver.prelude(self.time_of(self.first_row))
        self.boot, self._ticks = self._ticks, []

    def _advance(self, until: int) -> None:
        """Run to a cycle with the edges that are planned up to it, no more than `PIECE_MS` in one call."""
        piece = self.chip.hz * PIECE_MS // 1000
        self._planned.sort()
        while self.chip.cycle < until:
            self._run_to(min(until, self.chip.cycle + piece))

    def _run_to(self, until: int) -> None:
        due = [edge for edge in self._planned if edge.cycle <= until]
        self._planned = self._planned[len(due) :]
        seen = self.chip.run(until, due)
        resets = [reset for _, reset in seen.resets if reset != Reset.POWER]
        if resets:
            raise ChipError(
                f"the board was reset at cycle {seen.resets[-1][0]}: {resets[-1].name}",
                "a program that is reset while nothing is wrong outside hangs, or is too slow",
            )
        self.history.add(seen)
        for byte, cycle in seen.sent:
            if not self._frame:
                self._frame_began = cycle
            self._frame.append(byte)
            if not byte:
                self._understand()

    def _understand(self) -> None:
        for event in self._decoder.feed(bytes(self._frame)):
            if isinstance(event, Identity):
                self.identity = event
            elif isinstance(event, Frame):
                self._take(event)
            else:
                raise ChipError(
                    f"the serial line brings {event} after tick {self._frames}",
                    "its frames have to arrive whole and in turn",
                )
        self._frame.clear()

    def _take(self, frame: Frame) -> None:
        if frame.mix is None:
            raise ChipError("the image runs no mix", "flash one of `export --board`")
        if not self._frames:
            self._origin = self._frame_began - self.chip.hz * BITS_A_BYTE // self.pins.baud - self.tick
        pulses = frame.pulses_us
        contacts = tuple(frame.level(number - 1) for number in self.pins.contact_inputs)
        tick = BoardTick(
            self._frames,
            tuple(frame.widths[slot - 1] for slot in self.pins.slots),
            (*(pulses[slot - 1] for slot in self.pins.slots), *contacts),
            frame.mix.wires,
            frame.mix.guard,
        )
        (self._ticks if self._frames >= self.first_row else self.boot).append(tick)
        self._frames += 1
