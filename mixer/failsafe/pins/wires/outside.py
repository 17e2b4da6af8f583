"""Everything around a chip: it drives input pins as planned, and keeps what it played and what it saw."""

import heapq
from bisect import bisect_right
from collections.abc import Sequence

from mixer.board.chip.chip import Chip, Edge, Reset, Seen
from mixer.board.pins.wires import Pins


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

    @property
    def us(self) -> float:
        """Cycles of a microsecond."""
        return self.chip.hz / 1e6

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


def level_at(edges: Sequence[tuple[int, int]], cycle: int) -> int:
    """The level a pin was driven to last, at a cycle."""
    at = bisect_right(edges, (cycle, 2)) - 1
    return edges[at][1] if at >= 0 else 0


def amid(cycle: int, tick: int, period: int) -> int:
    """The nearest cycle that is well away from any tick, of which `tick` is one."""
    place = (cycle - tick) % period
    return cycle + min(max(place, round(0.25 * period)), round(0.75 * period)) - place
