"""A right board without compiler or simulator: the core between pins, from what a board promises.

An independent account of what any board has to show; and, with an argument, of one that is wrong.
"""

import heapq
from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from mixer.board.chip.chip import UNDRIVEN, Edge, Reset, Seen, Train, in_turn
from mixer.board.frames import Frame, encode
from mixer.board.pins.wires import OutputPins, Pins, Shape
from mixer.core.layout import layout_of
from mixer.core.plan import Plan, Wire
from mixer.live.robot.firmware import PlainBoard

SERVO_MS = 20
BOOT_MS = 1
SAYS_WHO_MS = 6
"""From its start to its first tick it says who it is."""
WATCHDOG_MS = 64
BAUD = 500_000


@dataclass(frozen=True)
class Wrongs:
    """What is wrong with it; nothing, as it stands."""

    late_ticks: float = 1
    """From how many ticks on it sees that one is late."""
    watchdog: bool = True
    inverted: bool = False
    turns_hard: bool = False
    """Whether its direction changes under a running duty."""
    creeps_at_reset_us: int = 0
    """How much its first servo pulse after a start is off."""
    gain: float = 1.0
    """How much too far its outputs go from rest."""
    misreads: float = 1.0
    """How much too long it finds every pulse, and says so."""
    silent: bool = False
    """Whether nothing comes on its serial line."""


def pins_for(plan: Plan, *, bridge: bool = False) -> Pins:
    """Any pins that are enough."""
    outputs = []
    for number, output in enumerate(plan.outputs):
        if output.wire is Wire.PULSE:
            outputs.append(OutputPins(output.name, Shape.PULSE, f"O{number}", rest=output.rest))
            continue
        shape = Shape.BRIDGE if bridge else Shape.DUTY
        top = max(output.low_span, output.high_span)
        outputs.append(OutputPins(output.name, shape, f"O{number}", f"D{number}", top=top))
    return Pins(
        tuple(f"C{number}" for number in range(len(plan.channels))),
        tuple(f"S{number}" for number in range(len(plan.contacts))),
        tuple(outputs),
        "T",
        slots=tuple(range(1, len(plan.channels) + 1)),
        contact_inputs=tuple(range(1, len(plan.contacts) + 1)),
        baud=BAUD,
    )


class ModelChip:
    """As `mixer.board.chip.chip.Chip`."""

    hz = 16_000_000

    def __init__(self, plan: Plan, pins: Pins, wrongs: Wrongs | None = None) -> None:
        self.cycle = 0
        self.plan, self.pins, self.wrongs = plan, pins, wrongs or Wrongs()
        self._board = PlainBoard(plan, "python")
        self._wires = [output.wire for output in layout_of(plan).places.outputs]
        self._inputs: dict[str, list[tuple[int, int]]] = {}
        self._out: list[Edge] = []
        self._seen = Seen([], [], [], [])
        self._serial: list[tuple[int, int]] = []
        self._tick = self._ms(plan.tick_ms)
        self._calls: list[tuple[int, int, Callable[[], None]]] = []
        self._number = 0
        self._start(Reset.POWER, 0)

    def _ms(self, time_ms: float) -> int:
        return round(self.hz * time_ms / 1000)

    # -- the outside --

    def run(self, until: int, edges: Sequence[Edge] = ()) -> Seen:
        """See the protocol."""
        for edge in edges:
            self._inputs.setdefault(edge.pin, []).append((edge.cycle, edge.level))
        while self._calls and self._calls[0][0] <= until:
            self.cycle, _, call = heapq.heappop(self._calls)
            call()
        self.cycle = until
        self._flush(until)
        self._out = in_turn(self._out)
        done = [edge for edge in self._out if edge.cycle <= until]
        self._out = self._out[len(done) :]
        told = [(byte, cycle) for byte, cycle in self._serial if cycle <= until]
        self._serial = self._serial[len(told) :]
        seen = Seen(done, sorted(self._seen.trains), told, list(self._seen.resets))
        self._seen = Seen([], [], [], [])
        return seen

    def set_analog_mv(self, pin: str, millivolts: int) -> None:
        """Nothing listens."""

    def send(self, data: bytes, at: int) -> None:
        """Nothing listens."""

    def peek(self, symbol: str) -> bytes:
        """It has no memory to look into."""
        raise KeyError(symbol)

    def poke(self, symbol: str, data: bytes, offset: int = 0) -> None:
        """It has no memory to write into."""
        del data, offset
        raise KeyError(symbol)

    def close(self) -> None:
        """Nothing is open."""

    def reset(self, reason: Reset, held: int = 0) -> None:
        """Pins float at once, and nothing more is said."""
        self._flush(self.cycle)
        self._serial = [(byte, cycle) for byte, cycle in self._serial if cycle <= self.cycle]
        self._out = [edge for edge in self._out if edge.cycle <= self.cycle]
        for output in self.pins.outputs:
            self._out += [Edge(self.cycle, pin, UNDRIVEN) for pin in output.pins]
        self._start(reason, held)

    def hang(self, symbol: str = "") -> None:
        """The program stands."""
        del symbol
        self._halted_until = 1 << 62

    def halt(self, cycles: int) -> None:
        """The program stands for a while."""
        self._halted_until = self.cycle + cycles

    # -- the board --

    def _at(self, cycle: int, call: Callable[[], None]) -> None:
        self._number += 1
        heapq.heappush(self._calls, (cycle, self._number, call))

    def _start(self, reason: Reset, held: int) -> None:
        del reason
        self._calls = []
        self._halted_until = 0
        self._duty: dict[str, tuple[int, int]] = {}
        self._back: dict[str, bool] = {}
        self._awake = False
        self._at(self.cycle + held + self._ms(BOOT_MS), self._init)

    def _init(self) -> None:
        self._awake = True
        self._sent = [output.rest for output in self.plan.outputs]
        self._first_pulse = True
        for output in self.pins.outputs:
            self._out += [Edge(self.cycle, pin, 0) for pin in output.pins]
        self._at(self.cycle + self._ms(2), self._servo)
        self._fed = self.cycle
        self._begin()

    def _begin(self) -> None:
        self._board.power_up()
        self._told = 0
        self._show([output.rest for output in self.plan.outputs])
        self._reads_from = self.cycle
        self._well()
        self._at(self.cycle + self._ms(SAYS_WHO_MS), self._say_who)

    def _say_who(self) -> None:
        if self.cycle < self._halted_until < 1 << 62:
            self._at(self._halted_until + self._ms(SAYS_WHO_MS), self._say_who)
            return
        self._last = self.cycle
        self._at(self._last + self._tick, self._keep_time)

    def _well(self) -> None:
        self._fed = self.cycle
        self._at(self.cycle + self._ms(WATCHDOG_MS), self._bite)

    def _bite(self) -> None:
        if self.wrongs.watchdog and self.cycle - self._fed >= self._ms(WATCHDOG_MS):
            self._seen.resets.append((self.cycle, Reset.WATCHDOG))
            self.reset(Reset.WATCHDOG)

    def _keep_time(self) -> None:
        if self.cycle < self._halted_until:
            if self._halted_until < 1 << 62:
                self._at(self._halted_until, self._keep_time)
            return
        if self.cycle - self._last >= (1 + self.wrongs.late_ticks) * self._tick:
            self._begin()
            return
        self._out += [Edge(self.cycle, self.pins.tick, 1), Edge(self.cycle + 4000, self.pins.tick, 0)]
        half_us, levels = self._read()
        signals = self._board.step([*((width + 1) >> 1 for width in half_us), *levels])
        self._reads_from = self.cycle
        sent = [signals[place] for place in self._wires]
        if not self.wrongs.silent:
            self._tell(half_us)
        sent = [
            round(output.rest + self.wrongs.gain * (wire - output.rest))
            for output, wire in zip(self.plan.outputs, sent, strict=True)
        ]
        if self.wrongs.inverted:
            sent = [2 * output.rest - wire for output, wire in zip(self.plan.outputs, sent, strict=True)]
        self._at(self.cycle + 4000, lambda: self._show(sent))
        self._last += self._tick
        self._well()
        self._at(max(self._last + self._tick, self.cycle), self._keep_time)

    def _tell(self, half_us: list[int]) -> None:
        """A frame, the first byte as the tick ends."""
        frame = Frame(self._told, round(self.cycle * 1e6 / self.hz) & 0xFFFFFFFF, tuple(half_us))
        self._told = (self._told + 1) & 0xFFFF
        byte_long = self.hz * 10 // BAUD
        for number, byte in enumerate(encode(frame), start=1):
            self._serial.append((byte, self.cycle + 4000 + number * byte_long))

    def _read(self) -> tuple[list[int], list[int]]:
        """Half µs of every channel, levels of every contact."""
        found, levels = [], []
        for pin in self.pins.channels:
            rise = width = 0
            edges = self._inputs.setdefault(pin, [])
            del edges[: bisect_right(edges, (self.cycle - self._ms(20), 2))]
            for cycle, level in edges:
                if cycle > self.cycle:
                    break
                if level:
                    rise = cycle
                elif rise and cycle > self._reads_from:
                    width = round(self.wrongs.misreads * (cycle - rise) * 2e6 / self.hz)
            found.append(width)
        for pin in self.pins.contacts:
            edges = self._inputs.get(pin, [])
            levels.append(edges[bisect_right(edges, (self.cycle, 2)) - 1][1] if edges else 0)
        return found, levels

    def _servo(self) -> None:
        for number, output in enumerate(self.pins.outputs):
            if output.shape is Shape.PULSE:
                width = self._sent[number] + self._first_pulse * self.wrongs.creeps_at_reset_us
                fall = self.cycle + round(width * self.hz / 1e6)
                self._out += [Edge(self.cycle, output.pin, 1), Edge(fall, output.pin, 0)]
        self._first_pulse = False
        self._at(self.cycle + self._ms(SERVO_MS), self._servo)

    # -- duties: two cycles a count --

    def _show(self, sent: list[int]) -> None:
        self._flush(self.cycle)
        self._sent = sent
        for output, now in zip(self.pins.outputs, sent, strict=True):
            if output.shape is Shape.BRIDGE:
                self._give(output.pin, max(now, 0), self.cycle)
                self._give(output.second, max(-now, 0), self.cycle)
            elif output.shape is Shape.DUTY:
                self._turn(output, now)

    def _turn(self, output: OutputPins, now: int) -> None:
        """A new direction after a period without duty, if nothing is wrong with it."""
        rest = 0 if self.wrongs.turns_hard else 2 * output.top
        turns = now != 0 and (now < 0) != self._back.get(output.second, False)
        if turns:
            self._back[output.second] = now < 0
            self._out.append(Edge(self.cycle + rest // 2, output.second, int(now < 0)))
        self._give(output.pin, abs(now), self.cycle + rest if turns else self.cycle)

    def _give(self, pin: str, count: int, since: int) -> None:
        if self._duty.get(pin, (0, -1))[1] != count or since > self.cycle:
            self._duty[pin] = since, count

    def _flush(self, until: int) -> None:
        for output in self.pins.outputs:
            for pin in output.pins:
                since, count = self._duty.get(pin, (0, 0))
                period = 2 * output.top
                repeats = (until - since) // period if period else 0
                if pin in self._duty and repeats > 0:
                    if count:
                        self._seen.trains.append(Train(since, pin, 2 * count, period, repeats))
                    self._duty[pin] = since + repeats * period, count
