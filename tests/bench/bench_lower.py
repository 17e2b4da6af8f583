"""What a tick costs in each lowering, as ratios within one run: `python tests/bench/bench_lower.py`.

Times are the best of several repeats on one core; only their ratios compare across machines.
"""

import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from mixer.core.layout import layout_of
from mixer.core.plan import Guard, Plan
from mixer.core.tick import flat_tick
from mixer.lower.graph import trace as tracing
from mixer.lower.graph.trace import trace, wire_signals
from mixer.lower.run.arrays import ArrayTick
from mixer.lower.run.python import compile_graph, compile_tick
from mixer.profile.profile import load_profile
from mixer.testing.inputs import arming

LANES = 10_000
REPEATS = 7


def best(work: Callable[[], object], times: int) -> float:
    """Seconds of processor time of one call: the best of several repeats of `times` calls."""
    found = []
    for _ in range(REPEATS):
        start = time.process_time()
        for _ in range(times):
            work()
        found.append(time.process_time() - start)
    return min(found) / times


def driving(plan: Plan) -> tuple[list[int], list[int]]:
    """Inputs that drive, and the state of a live robot that follows them."""
    state = list(layout_of(plan).start)
    row: list[int] = []
    for armed in arming(plan):
        row = list(armed)
        state = flat_tick(plan, row, state).state
    row[0], row[1], row[2] = 1800, 1950, 1700
    for _ in range(400):
        after = flat_tick(plan, row, state)
        state = after.state
    if after.signals[layout_of(plan).index("guard.state")] != Guard.LIVE:
        raise SystemExit("the robot never went live; the figures would mean nothing")
    return row, state


def lanes_tick(plan: Plan, signals: tuple[str, ...] | None) -> float:
    """Seconds of one scenario-tick, each lane with sticks of its own."""
    lanes = ArrayTick(plan, LANES, signals)
    rng = np.random.default_rng(1)
    for row in arming(plan):
        lanes.step(np.repeat(np.array(row, np.int32)[:, None], LANES, axis=1))
    inputs = np.repeat(np.array(row, np.int32)[:, None], LANES, axis=1)
    inputs[:3] = rng.integers(1000, 2001, (3, LANES))
    return best(lambda: lanes.step(inputs), 30) / LANES


def traced_and_compiled(plan: Plan) -> float:
    """Seconds to trace and compile a plan that was not seen before."""

    def work() -> None:
        tracing._traced.cache_clear()
        compile_graph(trace(plan))

    return best(work, 1)


def show(line: str) -> None:
    """One line of the table."""
    sys.stdout.write(line + "\n")


def main() -> None:
    """Print the table."""
    plan = load_profile(Path(__file__).parents[2] / "profiles" / "sample_carrier.toml").plan()
    row, state = driving(plan)
    wires = (*wire_signals(plan), "guard.state")
    every, few = compile_tick(plan), compile_tick(plan, wires)
    direct = best(lambda: flat_tick(plan, row, state), 1000)
    figures = {
        "direct call, all signals": direct,
        "generated Python, all signals": best(lambda: every(row, state), 5000),
        "generated Python, wires and guard": best(lambda: few(row, state), 5000),
        f"arrays, {LANES} lanes, all signals": lanes_tick(plan, None),
        f"arrays, {LANES} lanes, wires and guard": lanes_tick(plan, wires),
    }
    nodes = len(trace(plan).nodes)
    show(f"{plan.name}: {len(plan.channels)} channels, {len(plan.outputs)} outputs, {nodes} nodes")
    show(f"{'a scenario-tick':<42}{'µs':>9}{'against direct':>17}")
    for what, seconds in figures.items():
        show(f"{what:<42}{seconds * 1e6:>9.3f}{direct / seconds:>15.1f} x")
    show(f"trace and compile: {traced_and_compiled(plan) * 1e3:.0f} ms")


if __name__ == "__main__":
    main()
