"""A robot's physics over many ticks at once, below commands that are known: C where there is a compiler.

Nothing goes back to the firmware, so end stops press nothing here. The numbers are those of `Plant`.
"""

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from mixer.core.ops import ONE
from mixer.errors import MissingToolError
from mixer.plant.parts.robot import Robot
from mixer.plant.plant import FINER, Plant, lively_amps, parts_of
from mixer.plant.step.native import native_run


@lru_cache(maxsize=32)
def _native(robot: Robot, seconds: float) -> Callable[..., None] | None:
    parts = parts_of(seconds)
    try:
        return native_run(robot, seconds / parts, parts, FINER, lively_amps(robot))
    except MissingToolError:
        return None


class TickPlant:
    """One robot, from rest on a full battery; its body may be exchanged for one that is laid out alike."""

    def __init__(self, robot: Robot, tick_s: float) -> None:
        self.robot, self._tick_s = robot, tick_s
        self._plant = Plant(robot)

    def run(self, commands: NDArray[np.int32]) -> NDArray[np.float64]:
        """(ticks, outputs) of Q14 commands -> (ticks, columns): state, then observations, after each."""
        plant, slots = self._plant, len(self._plant.state)
        out = np.empty((len(commands), slots + len(plant.seen)))
        native = _native(self.robot, self._tick_s)
        if native is None:
            plant.robot = self.robot
            for row, told in zip(out, commands.tolist(), strict=True):
                plant.run(told, self._tick_s)
                row[:] = (*plant.state, *plant.seen)
            return out
        duties = np.ascontiguousarray(commands) * (1 / ONE)
        state = np.array(plant.state)
        native(duties.ctypes.data, state.ctypes.data, out.ctypes.data, len(commands))
        plant.state = state.tolist()
        return out
