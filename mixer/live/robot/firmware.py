"""The firmware of one robot as the live robot runs it: judged tick by tick, or plain, stretch by stretch.

Both give the same bits. `LiveBoard` (in `mixer.live.judge`) watches itself by the rules; `PlainBoard` runs
any engine of `mixer.runs.play.engines` and judges nothing.
"""

from collections.abc import Sequence
from typing import Protocol

from mixer.core.late import starts_anew
from mixer.core.plan import Plan
from mixer.runs.play.engines import Chosen, make_engine, quickest_engine
from mixer.runs.play.stretch import Numbers


class Firmware(Protocol):
    """A board running one plan."""

    @property
    def plan(self) -> Plan:
        """What it runs."""
        ...

    @property
    def state(self) -> tuple[int, ...]:
        """What the firmware remembers, in the order of its layout."""
        ...

    @property
    def saved(self) -> tuple[int, ...]:
        """All there is to restore: the firmware's state, and the watcher's memory where there is one."""
        ...

    @property
    def mask(self) -> int:
        """The rules broken in the last tick, as the sum of 2^number; 0 where nobody judges."""
        ...

    def begin(self, state: Sequence[int]) -> None:
        """Go on from a state of the firmware alone."""
        ...

    def restore(self, saved: Sequence[int]) -> None:
        """Go on from what `saved` gave."""
        ...

    def power_up(self) -> None:
        """Start anew."""
        ...

    def come_late(self, ticks: int) -> bool:
        """The next tick begins so many whole ticks after its time; whether the mix starts anew for it."""
        ...

    def step(self, inputs: Sequence[int]) -> Sequence[int]:
        """One tick; its signals."""
        ...


class PlainBoard:
    """One engine, unwatched."""

    mask = 0

    def __init__(self, plan: Plan, engine: str = "") -> None:
        """`engine` is a name of `ENGINE_NAMES`; without one the quickest there is for whole stretches.

        Raises OptionError for a name that is none, MissingToolError for one that needs a compiler.
        """
        self.plan = plan
        chosen = Chosen(make_engine(engine, plan), engine, "") if engine else quickest_engine(plan)
        self._engine, self.engine, self.why = chosen
        """Which engine runs, by name, and why it is not a quicker one."""
        self.step = self._engine.step

    @property
    def state(self) -> tuple[int, ...]:
        """What the firmware remembers."""
        return self._engine.state

    @property
    def saved(self) -> tuple[int, ...]:
        """The same: there is nothing else."""
        return self._engine.state

    def begin(self, state: Sequence[int]) -> None:
        """Go on from a state."""
        self._engine.reset(state)

    restore = begin

    def power_up(self) -> None:
        """Start anew."""
        self._engine.reset()

    def come_late(self, ticks: int) -> bool:
        """Start anew where that is what the firmware does about it."""
        anew = starts_anew(ticks)
        if anew:
            self._engine.reset()
        return anew

    def run(self, inputs: Numbers) -> Numbers:
        """(ticks, inputs) -> (ticks, signals), going on from the present state."""
        return self._engine.run(inputs)
