"""Everything around a chip: it drives input pins as planned, and keeps what it played and what it saw."""

import heapq
from bisect import bisect_right
from collections.abc import Sequence
from functools import lru_cache

from mixer.board.chip.chip import Chip, Edge, Reset, Seen
from mixer.board.pins.wires import Pins
from mixer.core.intake import scale
from mixer.core.ops import magnitude
from mixer.core.plan import Plan
from mixer.laws.sticks import bent

GAP_US = 30
"""Between two pulses of one wire."""


class Outside:
    """One chip with its wires. All times are cycles of the chip."""

    def __init__(self, chip: Chip, pins: Pins) -> None:
        self.chip, self.pins = chip, pins
        self.seen = Seen([], [], [], [])
        self.ticks: list[int] = []
        """When each tick began, by the pin that shows it."""
        self.played: dict[str, list[tuple[int, int]]] = {}
        """For each pin driven from outside the (cycle, level) of its edges."""
        self._planned: list[tuple[int, int, str, int]] = []
        self._count = 0

    @property
    def now(self) -> int:
        """The chip's time."""
        return self.chip.cycle

    def plan(self, cycle: int, pin: str, level: int) -> None:
        """An edge to come, at once if its time is over."""
        self._count += 1
        heapq.heappush(self._planned, (max(cycle, self.now), self._count, pin, level))

    def run(self, until: int) -> None:
        """Play what is planned up to a cycle."""
        edges = []
        while self._planned and self._planned[0][0] <= until:
            cycle, _, pin, level = heapq.heappop(self._planned)
            edges.append(Edge(cycle, pin, level))
            self.played.setdefault(pin, []).append((cycle, level))
        new = self.chip.run(until, edges)
        self.seen.edges.extend(new.edges)
        self.seen.trains.extend(new.trains)
        self.seen.sent.extend(new.sent)
        self.seen.resets.extend(new.resets)
        tick = self.pins.tick
        self.ticks += [edge.cycle for edge in new.edges if edge.pin == tick and edge.level == 1]

    def reset(self, reason: Reset, held: int = 0) -> None:
        """Reset the chip now."""
        self.seen.resets.append((self.now, reason))
        self.chip.reset(reason, held)


class ChannelWires:
    """Pulses onto the channels' pins, each kept apart from the one before it on its wire."""

    def __init__(self, plan: Plan, outside: Outside) -> None:
        self._plan, self._outside, self._us = plan, outside, outside.chip.hz / 1e6
        self._free = [0] * len(plan.channels)

    def plan(self, channel: int, fall: int, pulse_us: int) -> None:
        """A pulse that ends at a cycle; shorter where the wire is not yet free, none where it never is."""
        rise = max(
            fall - round(clear(self._plan, channel, pulse_us) * self._us),
            self._free[channel],
            self._outside.now,
        )
        if fall - rise < self._us:
            return
        pin = self._outside.pins.channels[channel]
        self._outside.plan(rise, pin, 1)
        self._outside.plan(fall, pin, 0)
        self._free[channel] = fall + round(GAP_US * self._us)


def clear(plan: Plan, channel: int, pulse_us: int) -> int:
    """The same pulse, or the nearest on its side of every decision that a microsecond cannot turn.

    A board measures to half a microsecond; what is nearer than that to a limit may be read either way.
    """
    for limit in decisions(plan, channel):
        if limit - CLEAR_US <= pulse_us < limit:
            return limit - CLEAR_US
        if limit <= pulse_us < limit + CLEAR_US - 1:
            return limit + CLEAR_US - 1
    return pulse_us


CLEAR_US = 3


@lru_cache(maxsize=256)
def decisions(plan: Plan, channel: int) -> tuple[int, ...]:
    """Pulses from which on something is decided otherwise: good, a switch, neutral, a deadband."""
    wire = plan.channels[channel]
    good = range(wire.good_low_us, wire.good_high_us + 1)
    found = {wire.good_low_us, wire.good_high_us + 1}
    for switch in plan.switches:
        if switch.channel == channel:
            found |= {edge + side * switch.hysteresis_us for edge in switch.edges_us for side in (-1, 1)}
    for stick in plan.sticks:
        if stick.channel == channel:
            neutral = [magnitude(scale(stick, pulse)) <= plan.guard.neutral_within for pulse in good]
            found |= {good[at] for at in range(1, len(good)) if neutral[at] != neutral[at - 1]}
            for position in range(len(stick.shapes)):
                told = [position] * len(plan.switches)
                rests = [bent(stick, pulse, told, False).command == 0 for pulse in good]
                found |= {good[at] for at in range(1, len(good)) if rests[at] != rests[at - 1]}
    return tuple(sorted(found))


def pulses_in(edges: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """(rise, fall) of each whole pulse on a pin driven from outside."""
    found, rise = [], -1
    for cycle, level in edges:
        if level == 1 and rise < 0:
            rise = cycle
        elif level != 1 and rise >= 0:
            found.append((rise, cycle))
            rise = -1
    return found


def level_at(edges: Sequence[tuple[int, int]], cycle: int) -> int:
    """The level a pin was driven to last, at a cycle."""
    at = bisect_right(edges, (cycle, 2)) - 1
    return edges[at][1] if at >= 0 else 0


def amid(cycle: int, tick: int, period: int) -> int:
    """The nearest cycle that is well away from any tick, of which `tick` is one."""
    place = (cycle - tick) % period
    return cycle + min(max(place, round(0.25 * period)), round(0.75 * period)) - place
