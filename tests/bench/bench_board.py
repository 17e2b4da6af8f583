"""Flash, RAM and cycles of each example robot's mix on an ATmega328P, from the simulator.

    python tests/bench/bench_board.py [TICKS]

Cycles are those of one call of mix_tick, over the robot's own vectors (arming, sweeps, switches, end stops,
losses, pulses at random); the largest is the largest seen, not a proof. 16,000 cycles are 1 ms at 16 MHz.
Flash is what mix.c adds to a program that does nothing, the compiler's own library routines included.
"""

import sys
import tempfile
from pathlib import Path

from mixer.core.plan import Plan
from mixer.lower.c.vectors import vector_trace

sys.path.insert(0, str(Path(__file__).parents[2]))  # run as a file, Python looks beside it only

from tests.boards.avr import build_avr, flash_and_ram, run_avr
from tests.lower.c_exports import ROBOTS, plan_of_robot, write_export

CYCLES_A_MS = 16_000
MOST_TICKS = 10_000


def measure(plan: Plan, optimise: str, ticks: int) -> tuple[int, int, int, int, int]:
    """Flash and RAM in bytes, then the least, mean and most cycles of a tick."""
    rows = vector_trace(plan)
    # Where there are more, a stretch from every part of the trace, joined: the state simply goes on.
    step = max(1, len(rows) // ticks)
    chosen = [row for at in range(0, len(rows), 100 * step) for row in rows[at : at + 100]]
    with tempfile.TemporaryDirectory() as name:
        folder = write_export(Path(name), plan)
        flash, ram = flash_and_ram(folder, optimise)
        cycles = [row.cycles for row in run_avr(build_avr(folder, optimise), chosen)]
    return flash, ram, min(cycles), sum(cycles) // len(cycles), max(cycles)


def main() -> None:
    """Print the table as Markdown."""
    ticks = int(sys.argv[1]) if len(sys.argv) > 1 else MOST_TICKS
    print("| robot | flags | flash | RAM | cycles a tick: min, mean, max | ms at 16 MHz | fits 1 kHz |")  # noqa: T201
    print("|---|---|---|---|---|---|---|")  # noqa: T201
    for robot in ROBOTS:
        for optimise in ("-O2", "-Os"):
            flash, ram, least, mean, most = measure(plan_of_robot(robot), optimise, ticks)
            fits = "yes" if most <= CYCLES_A_MS else "no"
            ms = most / CYCLES_A_MS
            cycles = f"{least:,}, {mean:,}, {most:,}"
            print(f"| {robot} | {optimise} | {flash:,} | {ram} | {cycles} | {ms:.2f} | {fits} |")  # noqa: T201


if __name__ == "__main__":
    main()
