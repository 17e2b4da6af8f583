"""The watched tick over many scenarios at once: numpy, or the same graph as native vectors."""

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from mixer.errors import OptionError
from mixer.live.judge.watched import Watched
from mixer.lower.run.arrays import ArrayTick
from mixer.lower.run.native import NativeLanes

Lanes = NDArray[np.int32]


class Scenarios(Protocol):
    """Many watched boards side by side, powered up; every engine gives the same bits."""

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the rows `step` gives."""
        ...

    @property
    def raw(self) -> Lanes:
        """(slots, lanes): the state itself; write a whole column to put a board into that state.

        So a campaign can power a board up anew in the middle of a run, or keep it from running for a tick.
        """
        ...

    def step(self, inputs: Lanes) -> Lanes:
        """(inputs, lanes) -> (signals, lanes), good until the next step."""
        ...


ENGINES: tuple[str, ...] = ("numpy", "native")


def make_scenarios(engine: str, watched: Watched, lanes: int) -> Scenarios:
    """An engine by its name. Raises OptionError for an unknown one, MissingToolError without a compiler."""
    if engine == "numpy":
        return ArrayTick(watched.plan, lanes, graph=watched.graph)
    if engine == "native":
        return NativeLanes(watched.plan, lanes, graph=watched.graph)
    raise OptionError(f"there is no campaign engine {engine!r}", f"one of {', '.join(ENGINES)}")
