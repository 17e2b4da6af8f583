"""Whether an image does what the core does: read against given, board against core, pins against wires.

    parity = Parity(run, plan)
    parity.read(ticks)                    # within 1 µs: what was given, what the board says it read
    parity.obeyed(ticks, core)            # equal: the board's wires and guard, the core's on what it read
    parity.shown()                        # within 1 µs or one count: the pins, the board's wires

The first difference of each kind is kept whole, the others are counted. A board that began anew is held
against its wires again from its first tick on; what was on its way to it meanwhile is not compared.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from mixer.board.engine.run import Anew, BoardTick, ImageRun
from mixer.board.engine.shown import Cycles, Pulses
from mixer.board.pins.wires import OutputPins, Shape
from mixer.core.plan import Plan

Flags: TypeAlias = NDArray[np.bool_]
READ_HALF_US = 2
"""A pulse is read within 1 µs."""
SHOWN_US = 1.0
COUNTS = 1.0
"""A pulse is shown within 1 µs, a duty within one count."""
SERVO_MS = 20.1
"""Between two rises of a servo pulse: 20 ms and some."""
ENOUGH = 20
"""Rises in a row tell a duty's period."""
LONGEST_MS = 6
"""What rose so long ago has fallen."""
VOLTS_SHARE = 512
"""The battery is told within full scale by this: two steps of the coarser converter."""


class When(NamedTuple):
    """Of each rise of a pin."""

    tick: Cycles
    early: Flags
    """Whether what the tick before it told may still show ..."""
    late: Flags
    """... or already what that after it tells."""


@dataclass(frozen=True, slots=True)
class Difference:
    """The first of its kind, and how many there are."""

    kind: str
    """``read``, ``commanded`` or ``shown``."""
    row: int
    """The log's tick, from 0; before 0 the board had just started."""
    where: str
    """The pin, and what it carries."""
    wanted: str
    found: str
    count: int = 1

    @property
    def words(self) -> str:
        """One sentence."""
        more = f" ({self.count - 1} more)" if self.count > 1 else ""
        return (
            f"{self.kind}: tick {self.row}, {self.where}: {self.found} where {self.wanted} is right{more}"
        )


@dataclass(frozen=True, slots=True)
class Account:
    """What was compared, and what differs."""

    ticks: int
    pulses_read: int
    not_played: int
    """Pulses that no wire carries as they were given: left out, or shortened."""
    pulses_shown: int
    """Servo pulses and periods of duty seen on pins."""
    differences: tuple[Difference, ...]

    @property
    def equal(self) -> bool:
        """Whether nothing differs and anything was compared."""
        return not self.differences and self.ticks > 0 and self.pulses_shown > 0


class Parity:
    """One image against one plan."""

    def __init__(self, run: ImageRun, plan: Plan) -> None:
        self._run, self._plan = run, plan
        self._us = run.chip.hz / 1e6
        self._found: dict[str, Difference] = {}
        self._ticks = self._pulses_read = self._pulses_shown = 0
        self._wires: list[tuple[int, ...]] = []
        """Of the board's ticks from `_first` on, those not yet held against pins."""
        self._first, self._began = 0, run.time_of(0)
        """The number of the first of them, and its time."""
        self._reads_from = 0
        """The tick from which on pulses and levels are compared."""
        self._last_rise: dict[str, int] = {}
        self._periods: dict[str, float] = {}
        """Of each duty's pin, once enough of them were seen."""

    def account(self) -> Account:
        """So far."""
        found = tuple(self._found[kind] for kind in sorted(self._found))
        return Account(
            self._ticks, self._pulses_read, self._run.receiver.not_played, self._pulses_shown, found
        )

    def read(self, ticks: Sequence[BoardTick]) -> None:
        """What was given against what the board says it read."""
        receiver = self._run.receiver
        for tick in ticks:
            if tick.anew is not Anew.NO:
                lead = receiver.lead * (3 if self._run.pins.train else 1)
                self._reads_from = tick.number + lead // self._run.tick + 2
            self._battery(tick)
            if tick.number < self._reads_from:
                continue
            self._pulses(tick)
            for place, contact in enumerate(self._plan.contacts, len(self._plan.channels)):
                level = tick.inputs[place]
                if level != tick.given[place]:
                    pin = self._run.pins.contacts[place - len(self._plan.channels)]
                    where = f"{pin} ({contact.name})"
                    self._differs("read", tick.number, where, f"level {1 - level}", f"level {level}")

    def _pulses(self, tick: BoardTick) -> None:
        channels = self._plan.channels
        any_given = any(tick.given[: len(channels)])
        for place, channel in enumerate(channels):
            given, read = tick.given[place], tick.half_us[place]
            if self._run.pins.train and not given and any_given:
                continue  # a slot that is there to be missing
            self._pulses_read += bool(given)
            if abs(2 * given - read) > READ_HALF_US:
                where = f"{self._run.pins.channels[place]} ({channel.name})"
                self._differs("read", tick.number, where, f"{given} µs", f"{read / 2:g} µs")

    def _battery(self, tick: BoardTick) -> None:
        pins = self._run.pins
        if not pins.battery or tick.battery_mv is None or tick.anew is not Anew.NO:
            return
        room, (least, most) = pins.battery_mv // VOLTS_SHARE, tick.given_mv
        if not least - room <= tick.battery_mv <= most + room:
            wanted, found = f"{most} mV", f"{tick.battery_mv} mV"
            self._differs("read", tick.number, f"{pins.battery} (battery)", wanted, found)

    def obeyed(self, ticks: Sequence[BoardTick], core: Sequence[Sequence[int]]) -> None:
        """The board's wires and guard against the core's: wires in the plan's order, then the guard."""
        if not self._ticks:
            self._wires = [tick.wires for tick in self._run.boot]
        for tick, right in zip(ticks, core, strict=True):
            if tick.anew is not Anew.NO or tick.number != self._first + len(self._wires):
                self._begin_anew(tick)
            self._ticks += 1
            self._wires.append(tick.wires)
            if (*tick.wires, tick.guard) == tuple(right):
                continue
            for output, wanted, found in zip(self._plan.outputs, right, tick.wires, strict=False):
                if wanted != found:
                    self._differs(
                        "commanded", tick.number, f"output {output.name}", str(wanted), str(found)
                    )
            if right[-1] != tick.guard:
                self._differs("commanded", tick.number, "the guard", str(right[-1]), str(tick.guard))

    def _begin_anew(self, tick: BoardTick) -> None:
        """What can be said of the ticks before; from this one on pins are held against wires again."""
        self.shown(tick.since if tick.anew is Anew.RESET else None)
        self._run.history.forget(tick.at)
        self._wires, self._first, self._began = [], tick.number, tick.at
        self._last_rise.clear()

    def _time_of(self, number: int) -> int:
        """The cycle of a tick since the board began, counted from the first that is kept."""
        return self._began + (number - self._first) * self._run.tick

    def shown(self, until: int | None = None) -> None:
        """The pins against the board's wires, for all ticks that are over, `until` a reset."""
        run = self._run
        ends = [cycle for cycle in (until, run.stopped, run.chip.cycle) if cycle is not None]
        known = ends[0] - LONGEST_MS * run.chip.hz // 1000 - self._began
        ready = min(len(self._wires) - 1, known // run.tick)
        if ready < 2:
            return
        wires = np.array(self._wires[: ready + 1], np.int64).reshape(ready + 1, len(run.pins.outputs))
        first, last = self._time_of(self._first + 1), self._time_of(self._first + ready)
        for number, output in enumerate(run.pins.outputs):
            if output.shape is Shape.PULSE:
                self._servo(output, wires[:, number], first, last)
            else:
                for pin, counts, top in _duties(output, wires[:, number]):
                    self._duty(output, pin, counts, top, (first, last))
        for pin, cycle in run.history.floated.items():
            if 0 < cycle < last:
                self._differs("shown", self._number(cycle), pin, "a level", "nothing that drives it")
        run.history.forget(last)
        self._wires = self._wires[ready - 1 :]
        self._first, self._began = self._first + ready - 1, self._time_of(self._first + ready - 1)

    def _servo(self, output: OutputPins, wires: NDArray[np.int64], first: int, last: int) -> None:
        rises, lengths = self._within(output.pin, first, last)
        when = self._when(rises)
        wide = lengths / self._us
        right = _as_told(wide, wires, SHOWN_US, when)
        self._pulses_shown += len(rises)
        where = f"{output.pin} ({output.name})"
        for at in np.flatnonzero(~right):
            tick = int(when.tick[at])
            self._differs("shown", tick + self._first, where, f"{wires[tick]} µs", f"{wide[at]:.2f} µs")
        before = self._last_rise.get(output.pin, first)
        for gap_at in np.flatnonzero(
            np.diff(rises, prepend=before, append=last) > SERVO_MS * 1e3 * self._us
        ):
            number = int(when.tick[gap_at - 1]) + self._first if gap_at else self._first
            self._differs("shown", number, where, "a pulse every 20 ms", "none")
        if len(rises):
            self._last_rise[output.pin] = int(rises[-1])

    def _duty(
        self,
        output: OutputPins,
        pin: str,
        counts: NDArray[np.int64],
        top: int,
        span: tuple[int, int],
    ) -> None:
        """One pin whose high share of each period is to be a count of `top`; below 0 it does not matter."""
        rises, lengths = self._within(pin, *span)
        found = np.zeros(len(counts), bool)
        where = f"{pin} ({output.name})"
        if len(rises) >= ENOUGH:
            self._periods[pin] = float(np.median(np.diff(rises)))
        period = self._periods.get(pin)
        if top > 1 and period is not None:
            told = lengths < 1.5 * period  # longer is constantly high, and is looked at below
            rises, lengths = rises[told], lengths[told]
            when = self._when(rises)
            shares = lengths / period * top
            right = _as_told(shares, counts, COUNTS, when)
            for at in np.flatnonzero(~right):
                tick = int(when.tick[at])
                wanted, seen = f"{counts[tick]} of {top}", f"{shares[at]:.1f} of {top}"
                self._differs("shown", tick + self._first, where, wanted, seen)
            self._pulses_shown += len(rises)
            found[when.tick[~when.early & ~when.late]] = True
        self._constant(where, pin, counts, top, found)

    def _constant(
        self, where: str, pin: str, counts: NDArray[np.int64], top: int, found: NDArray[np.bool_]
    ) -> None:
        """Ticks in whose third quarter no pulse of the pin began: its level in the middle of that."""
        rises, lengths = self._run.history.pulses(pin)
        up = self._run.history.up_since(pin)
        quiet = np.flatnonzero(~found[1:-1]) + 1
        middle = self._began + quiet * self._run.tick + self._run.tick * 5 // 8
        at = np.searchsorted(rises, middle, side="right") - 1
        high = (at >= 0) & (middle < (rises + lengths)[at]) if len(rises) else np.zeros(len(quiet), bool)
        if up is not None:
            high |= middle >= up
        self._pulses_shown += len(quiet)
        wanted = counts[quiet]
        wrong = (wanted >= 0) & (np.abs(np.where(high, top, 0) - wanted) > COUNTS * (top > 1))
        for place in np.flatnonzero(wrong):
            seen = f"{'constantly high' if high[place] else 'constantly low'}"
            number = int(quiet[place]) + self._first
            self._differs("shown", number, where, f"{wanted[place]} of {top}", seen)

    def _when(self, rises: Cycles) -> When:
        """A tick is timed by its frame, which begins once its mix is done; outputs change with periods."""
        into, tick = rises - self._began, self._run.tick
        return When(into // tick, into % tick < tick // 2, into % tick >= tick * 3 // 4)

    def _within(self, pin: str, first: int, last: int) -> Pulses:
        rises, lengths = self._run.history.pulses(pin)
        inside = (rises >= first) & (rises < last)
        return Pulses(rises[inside], lengths[inside])

    def _number(self, cycle: int) -> int:
        return (cycle - self._began) // self._run.tick + self._first

    def _differs(self, kind: str, number: int, where: str, wanted: str, found: str) -> None:
        known = self._found.get(kind)
        row = number - self._run.first_row
        if known is None:
            self._found[kind] = Difference(kind, row, where, wanted, found)
        else:
            count = known.count + 1
            first = known if known.row <= row else Difference(kind, row, where, wanted, found)
            self._found[kind] = Difference(kind, first.row, first.where, first.wanted, first.found, count)


def _as_told(shown: NDArray[np.float64], told: NDArray[np.int64], within: float, when: When) -> Flags:
    """Where what was shown is what its tick told, or one beside it that may show there."""
    tick, early, late = when
    right = np.abs(shown - told[tick]) <= within
    right |= early & (np.abs(shown - told[tick - 1]) <= within)
    right |= late & (np.abs(shown - told[tick + 1]) <= within)
    return right


def _duties(output: OutputPins, wires: NDArray[np.int64]) -> Iterator[tuple[str, NDArray[np.int64], int]]:
    """What each pin of an output has to show: its counts, and the count that is full."""
    ahead, back, top = np.maximum(wires, 0), np.maximum(-wires, 0), output.top
    if output.shape is Shape.DUTY:
        yield output.pin, ahead + back, top
        yield output.second, np.where(wires == 0, -1, wires < 0), 1
    elif output.brakes:
        yield output.pin, top - back, top
        yield output.second, top - ahead, top
    else:
        yield output.pin, ahead, top
        yield output.second, back, top
