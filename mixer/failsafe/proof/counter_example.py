"""A counter-example: a state and a few ticks of inputs after which a rule is broken.

It is only called one when the core itself, run tick by tick from that state, breaks the rule. It can be
written as an ordinary log with the start state beside it, which replay and the bench can run.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.laws.memory import memory_slots
from mixer.live.judge.watched import watched_tick


@dataclass(frozen=True, slots=True)
class CounterExample:
    """Inputs, and what board and watcher remember before them."""

    plan: Plan
    rule: str
    state: tuple[int, ...]
    """The firmware's state, in the order of the layout."""
    memory: tuple[int, ...]
    """What the watcher remembers beside it, in the order of `memory_slots`."""
    rows: tuple[tuple[int, ...], ...]
    """Inputs tick by tick, in the order of the layout; the rule breaks in the last."""
    from_power_up: bool = False
    """Whether the state is that of a board just powered up."""

    def by_name(self) -> dict[str, Any]:
        """For JSON, every number by its name in the plan."""
        layout, memory = layout_of(self.plan), memory_slots(self.plan)
        return {
            "rule": self.rule,
            "from_power_up": self.from_power_up,
            "state": dict(zip(layout.state, self.state, strict=True)),
            "memory": dict(zip((slot.name for slot in memory), self.memory, strict=True)),
            "inputs": [dict(zip(layout.inputs, row, strict=True)) for row in self.rows],
        }


def broken_by(plan: Plan, state: tuple[int, ...], rows: tuple[tuple[int, ...], ...]) -> Mapping[str, int]:
    """Run core and watcher from a watched state: each broken rule and the first tick it breaks in.

    Up to a tick that divides by zero: what comes after it is not defined, and the proof of ranges tells.
    """
    found: dict[str, int] = {}
    now = list(state)
    for tick, row in enumerate(rows):
        try:
            signals, now = watched_tick(plan, row, now)
        except ZeroDivisionError:
            break
        for name, value in signals.items():
            if value and name.startswith("broken."):
                found.setdefault(name.removeprefix("broken."), tick)
    return found


def confirmed(
    plan: Plan, rule: str, state: tuple[int, ...], rows: tuple[tuple[int, ...], ...]
) -> CounterExample | None:
    """The counter-example up to the tick that breaks the rule; None where the core does not break it."""
    found = broken_by(plan, state, rows)
    if rule not in found:
        return None
    return unjudged(plan, rule, state, rows[: found[rule] + 1])


def unjudged(
    plan: Plan, rule: str, state: tuple[int, ...], rows: tuple[tuple[int, ...], ...]
) -> CounterExample:
    """A run about a rule, whatever the rule says of it."""
    layout = layout_of(plan)
    own = len(layout.state)
    return CounterExample(plan, rule, state[:own], state[own:], rows, state[:own] == layout.start)
