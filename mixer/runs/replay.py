"""The run loop: an engine over a feed of inputs, chunk by chunk.

The engine goes on from the state it has, so a run may start anywhere: power it up with `reset()`, or set it
to a recorded state with `reset(state)` first.
"""

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from mixer.runs.engines import Engine
from mixer.runs.feed import Chunk, Numbers


class Played(NamedTuple):
    """A stretch of what the firmware did."""

    first_tick: int
    signals: Numbers
    """(ticks, signals), in the order of the plan's layout."""
    inputs: Numbers
    """(ticks, inputs)."""


def replay(engine: Engine, chunks: Iterable[Chunk]) -> Iterator[Played]:
    """Run the firmware over every chunk in turn."""
    for first_tick, inputs in chunks:
        yield Played(first_tick, engine.run(inputs), inputs)
