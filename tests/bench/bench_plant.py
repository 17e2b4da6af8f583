"""What a step of the physics costs, for one robot and for many, in µs and in multiples of plain arithmetic.

    python tests/bench/bench_plant.py

The robot has ten motors: eight wheels on eight outputs and two screw actuators. To be reached on a quiet
core: 60 µs a step for one robot, 1 µs a lane and step over 10,000 lanes.
"""

import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from mixer.plant.plant import LanePlant, Plant
from tests.plant.invented import many_motored

DUTIES = [0.7, 0.6, 0.7, 0.6, 0.5, 0.4, 0.5, 0.4, 1.0, -1.0]
COMMANDS = [round(duty * 16384) for duty in DUTIES]
LANES = 10_000


def best_of(work: Callable[[], object], repeats: int) -> float:
    """Fewest seconds of processor time of several runs."""
    times = []
    for _ in range(repeats):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def plain_arithmetic() -> float:
    """A thousand multiplications and additions of floats, the unit of the ratios."""
    x = 1.0
    for _ in range(1000):
        x = x * 0.999 + 0.5
    return x


def main() -> None:
    """Print the table."""
    robot = many_motored()
    plant, lanes = Plant(robot), LanePlant(robot, LANES)
    plant.run_duties(DUTIES, 0.002)
    lanes.run_duties(DUTIES, 0.002)
    unit = best_of(plain_arithmetic, 20) / 1000
    one = best_of(lambda: [plant.run(COMMANDS, 0.002) for _ in range(200)], 15) / 200
    seen = best_of(lambda: [plant.step(COMMANDS, 0.002) for _ in range(200)], 15) / 200
    many = best_of(lambda: [lanes.run_duties(DUTIES, 0.002) for _ in range(3)], 8) / 3 / LANES
    rows = (("one robot", one), ("one robot with snapshot", seen), (f"a lane of {LANES}", many))
    for name, seconds in rows:
        print(f"{name:26} {seconds * 1e6:8.2f} µs {seconds / unit:8.1f} multiply-adds")  # noqa: T201 - a table


if __name__ == "__main__":
    main()
