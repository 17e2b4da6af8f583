"""One image on one chip, a tick at a time: what its wires are given, what it read, what its pins show.

    run = ImageRun(chip, pins, tick_ms, levels)
    ticks = run.feed(rows)           # those that are through; later rows may be on their wires already
    ticks += run.finish()

A row's tick is the board's tick in which its pulses end, so rows and ticks go together one to one. Some
ticks lie between the two calls: pulses begin before the tick in which they end, and a frame tells of a
tick after it.

Where something outside the board goes by what it does, such as an end stop, ticks are asked for singly:

    run.plan(row)                    # `ahead` rows before the tick that is asked for
    tick = run.through()             # None where the board did not run one

A board that was reset, or had a tick come late, begins anew; its ticks are numbered on as time goes.
"""

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum, auto

from mixer.board.chip.chip import BOOT_MS, Chip, Edge, Reset, Seen
from mixer.board.engine.receiver import Receiver
from mixer.board.engine.shown import PinHistory
from mixer.board.frames import BadCheck, BeganAnew, Decoder, Frame, Identity, Misfit, Noise
from mixer.board.pins.wires import Pins
from mixer.board.wiring.line import BITS_A_BYTE
from mixer.errors import ChipError

PIECE_MS = 500
"""A call into a simulator cannot be interrupted, so it is never long."""
HALF_SENT = (Noise, BadCheck, Misfit)
"""What a frame looks like that a board had half sent as it began anew."""
WAITED_QUARTERS = (2, 3, 5, 9)
"""Of a tick after its time: when its frame is usually through, when a long one is, one with an identity,
and one of a tick that begins almost a whole one late."""


class Anew(Enum):
    """How a board came to begin anew before a tick."""

    NO = auto()
    RESET = auto()
    LATE = auto()
    """A tick came a whole one late or more, and the firmware did so itself."""


@dataclass(frozen=True, slots=True)
class BoardTick:
    """One tick, as the board's own frame tells of it, and what its wires carried for it."""

    number: int
    """Counted from the board's first tick."""
    at: int
    """The cycle at which it was read, a little before its frame."""
    half_us: tuple[int, ...]
    """What it read on each channel of the plan, in half µs; 0 where no pulse came."""
    inputs: tuple[int, ...]
    """The same as its mix took it, in µs, and then its contacts' levels."""
    wires: tuple[int, ...]
    guard: int
    battery_mv: int | None
    given: tuple[int, ...]
    """What there was to read: pulses in µs as they were played, then levels."""
    given_mv: tuple[int, int]
    """The lowest and the highest volts of the battery while it was measured, in mV."""
    anew: Anew = Anew.NO
    since: int = 0
    """Of one before which the board was reset: the cycle of that."""


class ImageRun:
    """One board from power-up on. Raises ChipError when it stops, says nothing or restarts unasked."""

    def __init__(
        self, chip: Chip, pins: Pins, tick_ms: int, levels: Sequence[int], *, battery_mv: int = 0
    ) -> None:
        self.chip, self.pins = chip, pins
        self.tick = chip.hz * tick_ms // 1000
        """Cycles of a tick."""
        self.receiver = Receiver(pins, chip.hz, self.tick, levels)
        self.history = PinHistory(pin for output in pins.outputs for pin in output.pins)
        self.watchers: list[Callable[[Seen], None]] = [self.history.add]
        """Who is told of everything the chip shows."""
        self.identity: Identity | None = None
        self.first_row = 0
        """The number of the board's tick that reads the first row."""
        self._decoder, self._frame, self._frame_began = Decoder(), bytearray(), 0
        self._ticks: deque[BoardTick] = deque()
        self._frames, self._fed, self._given = 0, 0, 0
        self._origin = 0
        """When the board's tick 0 began: its frame 0 follows one tick later."""
        self._planned: list[Edge] = self.receiver.idle()
        self._acts: list[tuple[int, int, Callable[[], None]]] = []
        self._played: dict[int, Sequence[int]] = {}
        self._volts: deque[tuple[int, int]] = deque()
        self._anew, self._since, self._excused = Anew.NO, 0, -1
        self.boot: list[BoardTick] = []
        """What it read before the first row."""
        self.volts(battery_mv)
        self._start()

    @property
    def ahead(self) -> int:
        """How many rows before a tick its own row has to be planned, whatever becomes of that tick."""
        return -(-self.receiver.lead // self.tick) + 2

    @property
    def stopped(self) -> int | None:
        """When it was reset, if it has told of no tick since."""
        return self._since if self._anew is Anew.RESET else None

    def time_of(self, number: int) -> int:
        """The cycle at which the board reads its tick of a number, a little before the frame begins."""
        return self._origin + (number + 1) * self.tick

    def plan(self, row: Sequence[int]) -> int:
        """The next row's pulses onto their wires; the number of the tick that reads them."""
        number = self.first_row + self._fed
        edges, played = self.receiver.edges(self._fed, row[: len(self.pins.channels)], self.time_of(number))
        self._planned += edges
        if any(played):
            self._played[number] = played
        self._fed += 1
        return number

    def contacts(self, levels: Sequence[int], at: int) -> None:
        """All contacts' levels from a cycle on."""
        for number, level in enumerate(levels):
            self._planned += self.receiver.contact(number, level, at)

    def volts(self, battery_mv: int) -> None:
        """The battery's volts from now on."""
        pins = self.pins
        if pins.battery and (not self._volts or self._volts[-1][1] != battery_mv):
            self.chip.set_analog_mv(pins.battery, round(battery_mv * pins.analog_mv / pins.battery_mv))
            self._volts.append((self.chip.cycle, battery_mv))

    def do(self, number: int, early: int, act: Callable[[], None]) -> None:
        """Something to be done to the chip so many cycles before it reads a tick, or at once."""
        self._acts.append((number, early, act))

    def in_step(self, number: int) -> bool:
        """Whether the board has run the tick before one of a number, and no later one."""
        return self._frames == number

    def excuse(self, until: int) -> None:
        """Up to a cycle it is no wonder if the board begins anew."""
        self._excused = max(self._excused, until)

    def feed(self, rows: Sequence[Sequence[int]]) -> list[BoardTick]:
        """Give rows, a tick each; the ticks that are through since the last call, oldest first."""
        for row in rows:
            number = self.plan(row)
            at = self.receiver.amid(self._fed - 1, self.time_of(number))
            self.contacts(row[len(self.pins.channels) :], at)
        self._advance(self.time_of(self.first_row + self._fed) - self.receiver.lead)
        return self._taken(len(self._ticks))

    def finish(self) -> list[BoardTick]:
        """Everything that was given is read: the ticks not yet told of, and two servo periods of pins."""
        self.settle()
        return self._taken(self._fed - self._given)

    def settle(self) -> None:
        """Run on for two servo periods after all that was given."""
        self._advance(self.time_of(self.first_row + self._fed) + self.chip.hz // 20)

    def through(self) -> BoardTick | None:
        """The next tick in turn, with the chip run as far as that takes; None where the board ran none."""
        number = self.first_row + self._given
        for quarters in WAITED_QUARTERS:
            if not self._ticks:
                self._advance(self.time_of(number) + self.tick * quarters // 4)
        self._given += 1
        return self._ticks.popleft() if self._ticks and self._ticks[0].number == number else None

    def _taken(self, count: int) -> list[BoardTick]:
        self._given += count
        return [self._ticks.popleft() for _ in range(count)]

    def _start(self) -> None:
        step = self.chip.hz // 500
        while not self._frames:
            if self.chip.cycle > BOOT_MS * self.chip.hz // 1000:
                raise ChipError("the image says nothing after power-up", "flash one of `export --board`")
            self._advance(self.chip.cycle + step)
        ahead = self.chip.cycle + 2 * self.receiver.lead - self._origin
        self.first_row = -(-ahead // self.tick)
        self._planned += self.receiver.prelude(self.time_of(self.first_row))
        self.boot += self._ticks
        self._ticks.clear()

    def _advance(self, until: int) -> None:
        """Run to a cycle with what is planned up to it, no more than `PIECE_MS` in one call."""
        piece = self.chip.hz * PIECE_MS // 1000
        self._planned.sort()
        while self.chip.cycle < until:
            stop = min(until, self.chip.cycle + piece)
            due = [self.time_of(number) - early for number, early, _ in self._acts]
            stop = min(stop, max(min(due, default=stop), self.chip.cycle))
            if self.chip.cycle < stop:
                self._run_to(stop)
            self._act()

    def _act(self) -> None:
        """What is due by now, in the order in which it was asked for."""
        now, acts = self.chip.cycle, self._acts
        self._acts = [item for item in acts if self.time_of(item[0]) - item[1] > now]
        for number, early, act in acts:
            if self.time_of(number) - early <= now:
                act()

    def _run_to(self, until: int) -> None:
        due = [edge for edge in self._planned if edge.cycle <= until]
        self._planned = self._planned[len(due) :]
        seen = self.chip.run(until, due)
        for watcher in self.watchers:
            watcher(seen)
        resets = [(cycle, reset) for cycle, reset in seen.resets if reset != Reset.POWER or self._frames]
        for byte, cycle in seen.sent:
            while resets and resets[0][0] < cycle:
                self._restarted(*resets.pop(0))
            if not self._frame:
                self._frame_began = cycle
            self._frame.append(byte)
            if not byte:
                self._understand()
        for cycle, reset in resets:
            self._restarted(cycle, reset)

    def _restarted(self, cycle: int, reset: Reset) -> None:
        if cycle > self._excused:
            raise ChipError(
                f"the board was reset at cycle {cycle}: {reset.name}",
                "a program that is reset while nothing is wrong outside hangs, or is too slow",
            )
        self._decoder, self._anew, self._since = Decoder(), Anew.RESET, cycle
        self._frame.clear()

    def _understand(self) -> None:
        excused = self._frame_began <= self._excused
        for event in self._decoder.feed(bytes(self._frame)):
            if isinstance(event, Identity):
                self.identity = event
            elif isinstance(event, Frame):
                self._take(event)
            elif isinstance(event, BeganAnew) and excused:
                self._anew = Anew.LATE
            elif not (isinstance(event, HALF_SENT) and excused):
                raise ChipError(
                    f"the serial line brings {event} after tick {self._frames}",
                    "its frames have to arrive whole and in turn",
                )
        self._frame.clear()

    def _take(self, frame: Frame) -> None:
        if frame.mix is None:
            raise ChipError("the image runs no mix", "flash one of `export --board`")
        at = self._frame_began - self.chip.hz * BITS_A_BYTE // self.pins.baud
        if not self._frames:
            self._origin = at - self.tick
        elif self._anew is not Anew.NO:
            self._number_on(at)
        pulses, slots = frame.pulses_us, self.pins.slots
        contacts = tuple(frame.level(number - 1) for number in self.pins.contact_inputs)
        number, at = self._frames, self.time_of(self._frames)
        played = self._played.pop(number, None) or [0] * len(slots)
        tick = BoardTick(
            number,
            at,
            half_us=tuple(frame.widths[slot - 1] for slot in slots),
            inputs=(*(pulses[slot - 1] for slot in slots), *contacts),
            wires=frame.mix.wires,
            guard=frame.mix.guard,
            battery_mv=frame.battery_mv,
            given=(*played, *self.receiver.levels(at)),
            given_mv=self._measured(at),
            anew=self._anew,
            since=self._since,
        )
        (self._ticks if number >= self.first_row else self.boot).append(tick)
        self._frames += 1
        self._anew = Anew.NO

    def _number_on(self, at: int) -> None:
        """A board that began anew has ticks at other times: they get the numbers of those that were due."""
        due = max((at - self._origin) // self.tick - 1, self._frames, self.first_row + self._given)
        self._origin = at - (due + 1) * self.tick
        self._frames = due
        self._played = {number: played for number, played in self._played.items() if number >= due}

    def _measured(self, at: int) -> tuple[int, int]:
        """What the battery's volts have been since the measurement began that a tick has."""
        while len(self._volts) > 1 and self._volts[1][0] <= at - 3 * self.tick:
            self._volts.popleft()
        given = [volts for cycle, volts in self._volts if cycle <= at] or [0]
        return min(given), max(given)
