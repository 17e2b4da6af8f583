"""The rules called directly, tick by tick: what every lowering of them is confronted with."""

from collections.abc import Sequence
from typing import NamedTuple

from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.laws.arithmetic import negation
from mixer.laws.memory import start_memory
from mixer.laws.rules import Rule, rules_of
from mixer.laws.watch import watch


class Broken(NamedTuple):
    """A rule that did not hold."""

    rule: Rule
    tick: int
    """Ticks seen before this one."""


class Monitor:
    """Follows one robot from power-up, or from a given memory, and names the rules that break."""

    def __init__(self, plan: Plan, memory: Sequence[int] | None = None) -> None:
        self.plan = plan
        self.rules = rules_of(plan)
        self.ticks = 0
        self._layout = layout_of(plan)
        self._memory = tuple(start_memory(plan) if memory is None else memory)

    @property
    def memory(self) -> tuple[int, ...]:
        """What the monitor remembers, in the order of `memory_slots(plan)`."""
        return self._memory

    def step(self, signals: Sequence[int], inputs: Sequence[int]) -> tuple[Broken, ...]:
        """One tick: the signals it gave for these inputs, in the order of the plan's layout.

        Gives the rules broken in it, usually none.
        """
        read, told = self._layout.inputs_of(inputs), self._layout.signals_of(signals)
        self._memory, seen = watch(self.plan, self._memory, read, told)
        broken = tuple(Broken(rule, self.ticks) for rule in self.rules if negation(rule.holds(seen)))
        self.ticks += 1
        return broken

    def reset(self) -> None:
        """The board was powered up anew."""
        self._memory = tuple(start_memory(self.plan))
