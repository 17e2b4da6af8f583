"""What every lowering must pass: the same bits as the core, signal by signal, tick by tick.

    check_lowering(compile_tick, plan, ticks=5000, seed=1)
    check_lanes(ArrayTick, plan, lanes=3, ticks=5000, seed=1)

A lowering that fails is told the first signal that differs (in the order of the firmware's stages, so
the one nearest to the mistake) and the tick.
"""

import random
from collections.abc import Callable, Sequence
from typing import Any, Protocol

import numpy as np

from mixer.core.layout import layout_of
from mixer.core.plan import Guard, Plan
from mixer.core.tick import FlatTick, flat_tick
from mixer.lower.graph.names import trade_name
from mixer.runs.play.engines import OneTick
from mixer.testing.inputs import Row, rows


class Lanes(Protocol):
    """Many scenarios at once, each starting at power-up."""

    @property
    def state(self) -> Any:  # noqa: ANN401 - any integer array
        """(slots, lanes)."""
        ...

    def step(self, inputs: Any, /) -> Any:  # noqa: ANN401 - any integer array
        """(inputs, lanes) -> (signals, lanes)."""
        ...


def check_lowering(make: Callable[[Plan], OneTick], plan: Plan, ticks: int, seed: int) -> int:
    """Run a lowering beside the core from power-up over `ticks` random and adversarial inputs.

    Returns for how many ticks the robot was live. Raises AssertionError that names the first signal or
    state slot that differs, the tick, and its inputs.
    """
    lowered = make(plan)
    live_at = layout_of(plan).places.guard.state
    state: Sequence[int] = layout_of(plan).start
    own: Sequence[int] = state
    live = 0
    rng = random.Random(seed)  # noqa: S311 - repeatable, not secret
    for number, row in enumerate(rows(plan, ticks, rng)):
        wanted = flat_tick(plan, row, state)
        signals, own = lowered(row, own)
        _compare(plan, number, row, wanted, signals, own, "")
        state = wanted.state
        live += wanted.signals[live_at] == Guard.LIVE
    return live


def check_lanes(make: Callable[[Plan, int], Lanes], plan: Plan, lanes: int, ticks: int, seed: int) -> int:
    """The same for a lowering over many scenarios, each lane with inputs of its own. Two lanes at least.

    Returns for how many lane-ticks the robot was live. Raises ValueError for one lane, else as
    `check_lowering`, naming the lane too.
    """
    if lanes < 2:
        raise ValueError("one lane cannot show a mistake between lanes; give two at least")
    lowered = make(plan, lanes)
    live_at = layout_of(plan).places.guard.state
    states: list[Sequence[int]] = [layout_of(plan).start] * lanes
    dice = [random.Random(f"{seed} {lane}") for lane in range(lanes)]  # noqa: S311 - repeatable, not secret
    sources = [rows(plan, ticks, rng) for rng in dice]
    live = 0
    for number, columns in enumerate(zip(*sources, strict=True)):
        signals = np.array(lowered.step(np.array(columns, np.int32).T))
        own = np.array(lowered.state)
        for lane, row in enumerate(columns):
            wanted = flat_tick(plan, row, states[lane])
            seen = (signals[:, lane].tolist(), own[:, lane].tolist())
            _compare(plan, number, row, wanted, *seen, f" in lane {lane}")
            states[lane] = wanted.state
            live += wanted.signals[live_at] == Guard.LIVE
    return live


def _compare(
    plan: Plan,
    number: int,
    row: Row,
    wanted: FlatTick,
    signals: Sequence[int],
    state: Sequence[int],
    where: str,
) -> None:
    if list(signals) == wanted.signals and list(state) == wanted.state:
        return
    layout = layout_of(plan)
    for what, names, right, wrong in (
        ("signal", layout.signals, wanted.signals, signals),
        ("state slot", layout.state, wanted.state, state),
    ):
        if len(wrong) != len(right):
            raise AssertionError(f"{len(wrong)} {what}s came back, {len(right)} are wanted")
        for name, good, bad in zip(names, right, wrong, strict=True):
            if good != bad:
                inputs = ", ".join(f"{key}={value}" for key, value in zip(layout.inputs, row, strict=True))
                raise AssertionError(
                    f"{what} {name} ({trade_name(name)}) differs first, at tick {number}{where}: "
                    f"the core gives {good}, the lowering {bad}; inputs: {inputs}"
                )
