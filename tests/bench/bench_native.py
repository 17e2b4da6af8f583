"""What the native engines cost, as ratios within one run.

    python tests/bench/bench_native.py [ROBOT]

First the engine's `run` against the same C called from a C loop over the same ticks into memory already
touched (aim: at most 1.1 at replay's sizes). Then a scenario-tick in lanes against one board, for all
signals and for the wires alone (aim: 0.015 µs).
"""

import ctypes
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from mixer.core.plan import Plan
from mixer.core.tick import flat_tick
from mixer.lower.graph.trace import trace, wire_signals
from mixer.lower.run.native import NativeEngine, NativeLanes, Numbers
from mixer.lower.run.native_build import FLAGS, load
from mixer.lower.run.native_source import native_source

sys.path.insert(0, str(Path(__file__).parents[2]))  # run as a file, Python looks beside it only

from tests.lower.c_exports import plan_of_robot, random_rows

REPEATS = 15
LEAST_TICKS = 20_000
LOOP = """
#include <time.h>
double seconds(const int32_t *in, int32_t *state, int32_t *out, int64_t ticks, int64_t rounds);
double seconds(const int32_t *in, int32_t *state, int32_t *out, int64_t ticks, int64_t rounds)
{
    clock_t start = clock();
    for (int64_t number = 0; number < rounds; number++) {
        for (int64_t at = 0; at < ticks; at++) {
            tick(in + at * INPUTS, state, out + at * SIGNALS);
        }
    }
    return (double)(clock() - start) / CLOCKS_PER_SEC / (double)(rounds * ticks);
}
"""


def best_of(work: Callable[[], object]) -> float:
    """Seconds of processor time of the quickest of some runs."""
    times = []
    for _ in range(REPEATS):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def c_loop(plan: Plan, rows: Numbers) -> float:
    """Seconds a tick of the engine's own C, called from C."""
    engine = NativeEngine(plan)
    counts = f"#define INPUTS {len(engine.layout.inputs)}\n#define SIGNALS {len(engine.layout.signals)}\n"
    seconds = load(native_source(trace(plan)) + counts + LOOP, (*FLAGS, "-std=gnu99")).seconds
    seconds.restype = ctypes.c_double
    seconds.argtypes = [ctypes.c_void_p] * 3 + [ctypes.c_int64] * 2
    state = np.array(engine.layout.start, np.int32)
    out = np.zeros((len(rows), len(engine.layout.signals)), np.int32)
    rounds = max(1, 200_000 // len(rows))
    arrays = (rows.ctypes.data, state.ctypes.data, out.ctypes.data)
    return float(min(seconds(*arrays, len(rows), rounds) for _ in range(REPEATS)))


def run_often(engine: NativeEngine, rows: Numbers) -> None:
    """At least LEAST_TICKS in calls of so many rows, each result dropped before the next as replay does."""
    for _ in range(max(1, LEAST_TICKS // len(rows))):
        engine.run(rows)


def direct_seconds(plan: Plan, rows: Numbers) -> float:
    """Seconds a tick of the core called as it stands."""
    few = rows[:500].tolist()
    state = NativeEngine(plan).state
    return best_of(lambda: [flat_tick(plan, row, state) for row in few]) / len(few)


def show_one_board(plan: Plan) -> None:
    """`run` at several sizes beside the C loop."""
    every = np.array(random_rows(plan, 1, 100_000), np.int32)
    direct = direct_seconds(plan, every)
    print("| ticks a call | C loop, µs | run, µs | ratio | direct core, times run |")  # noqa: T201
    print("|---|---|---|---|---|")  # noqa: T201
    for ticks in (100, 1000, 10_000, 100_000):
        rows = np.ascontiguousarray(every[:ticks])
        engine = NativeEngine(plan)
        run = best_of(lambda: run_often(engine, rows)) / max(ticks, LEAST_TICKS)  # noqa: B023
        loop = c_loop(plan, rows)
        print(f"| {ticks:,} | {loop * 1e6:.4f} | {run * 1e6:.4f} | {run / loop:.2f} | {direct / run:.0f} |")  # noqa: T201


def show_lanes(plan: Plan) -> None:
    """A scenario-tick for many scenarios at once."""
    some = np.array(random_rows(plan, 1, 2000), np.int32)
    one = c_loop(plan, some)
    print("\n| scenarios | all signals, µs | wires, µs | one board's C loop, times wires |")  # noqa: T201
    print("|---|---|---|---|")  # noqa: T201
    for lanes in (16, 64, 1000, 1024, 10_000):
        ticks = max(2, 20_000 // lanes)
        rows = np.repeat(np.resize(some, (ticks, some.shape[1]))[:, :, None], lanes, axis=2)
        costs = []
        for signals in (None, wire_signals(plan)):
            engine = NativeLanes(plan, lanes, signals)
            costs.append(best_of(lambda: engine.run(rows)) / (ticks * lanes))  # noqa: B023
        print(f"| {lanes:,} | {costs[0] * 1e6:.4f} | {costs[1] * 1e6:.4f} | {one / costs[1]:.1f} |")  # noqa: T201


def main() -> None:
    """Both tables for one robot."""
    plan = plan_of_robot(sys.argv[1] if len(sys.argv) > 1 else "sample_carrier")
    show_one_board(plan)
    show_lanes(plan)


if __name__ == "__main__":
    main()
