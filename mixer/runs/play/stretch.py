"""A stretch of ticks: what a board read, what it made of it, and what that did to the robot."""

from typing import NamedTuple, Protocol, TypeAlias

import numpy as np
from numpy.typing import NDArray

Numbers: TypeAlias = NDArray[np.int32]
Floats: TypeAlias = NDArray[np.float64]


class Stretch(NamedTuple):
    """Ticks in a row, the first of them number `first_tick`."""

    first_tick: int
    inputs: Numbers
    """(ticks, inputs): what the board read, in the order of the plan's layout."""
    signals: Numbers
    """(ticks, signals), in the order of the plan's layout."""
    plant: Floats | None = None
    """(ticks, columns) in the order of `mixer.runs.measure.physics.plant_columns`; None without physics."""
    broken: Numbers | None = None
    """(ticks,): the rules that did not hold, as the sum of 2^number; None where nobody judged."""
    restarts: tuple[int, ...] = ()
    """Ticks, counted from the stretch's first, before which the board started anew."""
    late: tuple[int, ...] = ()
    """Those of them before which it did so since they came late."""


class Sink(Protocol):
    """Whoever wants to know something of a run."""

    def add(self, stretch: Stretch, /) -> None:
        """The next stretch, which follows the one before without a gap."""
        ...
