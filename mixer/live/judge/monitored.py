"""A board that is watched while it runs: firmware and rules in one step, for a live bench.

A plan is taken up at once with the core called as it stands; `quick_of` makes the same tick as generated
Python (a fraction of a second of work, fit for another thread), and `adopt` changes over between two
ticks. Both give the same bits. The generated tick leaves out what no run can reach, so it is taken up only
in a state that agrees with what it assumes.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from mixer.core.late import starts_anew
from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.laws.expect import late_stops
from mixer.laws.memory import start_memory
from mixer.laws.rules import Rule, rules_of
from mixer.live.judge.carry import memory_beside
from mixer.live.judge.watched import watched_graph, watched_tick
from mixer.lower.graph.nodes import Range
from mixer.lower.run.python import TickFunction, compile_graph


@dataclass(frozen=True, eq=False)
class Quick:
    """One plan's watched tick as generated Python, and what it assumes of a state."""

    plan: Plan
    run: TickFunction
    twins: tuple[int, ...]
    ranges: tuple[Range, ...]

    def fits(self, state: Sequence[int]) -> bool:
        """Whether the state is one this function is right for."""
        return all(
            value in reach and value == state[twin]
            for value, reach, twin in zip(state, self.ranges, self.twins, strict=True)
        )


def quick_of(plan: Plan) -> Quick:
    """Generate the tick of a plan."""
    watched = watched_graph(plan).only([*layout_of(plan).signals, "broken"])
    graph = watched.graph
    return Quick(plan, compile_graph(graph), graph.twins, graph.state_ranges)


class LiveBoard:
    """One board running one plan, with the watcher beside it."""

    def __init__(self, plan: Plan, saved: Sequence[int] | None = None) -> None:
        """Power up, or go on from what `saved` holds (see `saved`)."""
        self.plan = plan
        self.layout = layout_of(plan)
        self.rules: tuple[Rule, ...] = rules_of(plan)
        self.mask = 0
        """Rules that did not hold in the last tick, as the sum of 2^number."""
        self._quick: Quick | None = None
        self._start = self.layout.start + start_memory(plan)
        self._all: Sequence[int] = self._start if saved is None else tuple(saved)

    @property
    def saved(self) -> tuple[int, ...]:
        """Firmware state, then the watcher's memory: all there is to restore."""
        return tuple(self._all)

    @property
    def state(self) -> tuple[int, ...]:
        """What the firmware remembers, in the order of its layout."""
        return tuple(self._all[: len(self.layout.state)])

    @property
    def quick(self) -> Quick | None:
        """The generated code that runs, if it does."""
        return self._quick

    @property
    def is_quick(self) -> bool:
        """Whether generated code runs."""
        return self._quick is not None

    def power_up(self) -> None:
        """The board starts anew."""
        self._all, self.mask = self._start, 0

    def come_late(self, ticks: int) -> bool:
        """The next tick begins so many whole ticks late; whether the mix starts anew for it.

        Firmware and watcher each come to that by their own account, so that one that misses it is found.
        """
        own, anew = len(self.layout.state), starts_anew(ticks)
        state = self._start[:own] if anew else self._all[:own]
        memory = self._start[own:] if late_stops(ticks) else self._all[own:]
        self.restore((*state, *memory))
        return anew

    def begin(self, state: Sequence[int]) -> None:
        """Go on from a state of the firmware alone, as a watcher who had been there."""
        self.restore(memory_beside(self.plan, state))

    def restore(self, saved: Sequence[int]) -> None:
        """Go on from what `saved` gave. Raises ValueError for one of another length."""
        if len(saved) != len(self._start):
            raise ValueError(f"{len(saved)} numbers where the plan has {len(self._start)}")
        self._all, self.mask = tuple(saved), 0
        if self._quick is not None and not self._quick.fits(self._all):
            self._quick = None

    def adopt(self, quick: Quick) -> bool:
        """Change over to generated code, if it is this plan's and fits the present state."""
        if quick.plan == self.plan and quick.fits(self._all):
            self._quick = quick
        return self._quick is quick

    @property
    def broken(self) -> tuple[Rule, ...]:
        """Rules that did not hold in the last tick."""
        return rules_in(self.mask, self.rules) if self.mask else ()

    def step(self, inputs: Sequence[int]) -> Sequence[int]:
        """One tick; its signals in the order of the layout."""
        if self._quick is None:
            named, self._all = watched_tick(self.plan, inputs, self._all)
            signals: Sequence[int] = tuple(named.values())[: len(self.layout.signals)]
            self.mask = named["broken"]
        else:
            noted, self._all = self._quick.run(inputs, self._all)
            signals, self.mask = noted[:-1], noted[-1]
        return signals


def rules_in(mask: int, rules: Sequence[Rule]) -> tuple[Rule, ...]:
    """The rules that a sum of 2^number names."""
    return tuple(rule for number, rule in enumerate(rules) if mask >> number & 1)
