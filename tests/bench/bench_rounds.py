"""Whole rounds of each robot's firmware on the boards that it fits: seen and proven.

    python tests/bench/bench_rounds.py

Aim: seen <= proven, and of a tick proven <= 1.3 x seen. Seen are rounds on the simulated chips, one
instruction at a time, around ticks with the longest frame and edges of all channels just before them
(tests/board/image/worst_ticks.py); what the RP2040's bus waits is added by its data sheet. Cycles are the
program's own; with interrupts, milliseconds are what `stickwright tick` says.
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))  # run as a file, Python looks beside it only

from mixer.board.image.bound import Given, worst_case
from mixer.board.image.rounds import TICK
from tests.board.image.worst_ticks import BEFORE, robot, seen

HEAD = (
    "robot",
    "board",
    "tick seen, proven",
    "round seen, proven",
    "to outputs seen, proven",
    "ms after a tick is due: outputs, over",
    "stack proven",
)
TICKS = 12
LOADOUTS = {("sample_carrier", "atmega328p"): "bare"}


def row(name: str, board: str) -> tuple[str, ...]:
    """One robot on one board."""
    loadout = LOADOUTS.get((name, board))
    made, proven = robot(name, loadout, board)
    rounds = seen(made, BEFORE[name, board], TICKS)
    tick = worst_case(made.image, TICK, Given(made.board.stack_room, sleeps=True)).cycles
    found = (
        (max(spent.tick or 0 for spent in rounds), tick),
        (max(spent.whole for spent in rounds), proven.whole.cycles),
        (max(spent.outputs or 0 for spent in rounds), proven.outputs),
    )
    pairs = [f"{most:,}, {bound:,} ({bound / most:.2f})" for most, bound in found]
    after = [
        f"{(cycles or 0) * 1000 / proven.hz:.3f}" for cycles in (proven.outputs_after, proven.over_after)
    ]
    who = name if loadout is None else f"{name}, {loadout}"
    return (
        who,
        made.board.name,
        *pairs,
        f"{after[0]} ms, {after[1]} of {proven.tick_ms} ms",
        str(proven.stack),
    )


def main() -> None:
    """Print the table, a row as soon as it is known."""
    say = sys.stdout.write
    say(f"| {' | '.join(HEAD)} |\n|{'---|' * len(HEAD)}\n")
    for name, board in BEFORE:
        say(f"| {' | '.join(row(name, board))} |\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
