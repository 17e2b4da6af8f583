"""The physics below a firmware that runs whole stretches of a log: commands go down, nothing comes up."""

from collections.abc import Sequence

import numpy as np

from mixer.core.layout import layout_of
from mixer.live.robot.robot import Build, with_physics
from mixer.plant.parts.robot import flipped
from mixer.plant.ticks import TickPlant
from mixer.runs.play.stretch import Sink, Stretch


class Downstream:
    """A sink that adds the plant's columns to what passes, and hands it on to others."""

    def __init__(self, build: Build, sinks: Sequence[Sink]) -> None:
        """At rest, cold, on a full battery. Raises OptionError for a robot without physics."""
        robot = with_physics(build).prepared.robot
        assert robot is not None
        self._plant = TickPlant(robot, build.plan.tick_ms / 1000)
        self._lying = robot, flipped(robot)
        places = layout_of(build.plan).places
        self._commands = [output.command for output in places.outputs]
        self._flip = places.flip.flipped
        self._sinks = sinks

    def add(self, stretch: Stretch) -> None:
        """The next stretch of a firmware alone."""
        lies, commands = stretch.signals[:, self._flip] != 0, stretch.signals[:, self._commands]
        turns = np.flatnonzero(lies[1:] != lies[:-1]) + 1
        plant, first = [], 0
        for part in np.split(commands, turns):
            self._plant.robot = self._lying[int(lies[first])]
            plant.append(self._plant.run(part))
            first += len(part)
        whole = stretch._replace(plant=np.concatenate(plant) if len(plant) > 1 else plant[0])
        for sink in self._sinks:
            sink.add(whole)
