"""What held the robot back, for how long at a time: vetoes, saturation, sliding wheels, stalled motors."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import Guard, Plan
from mixer.plant.parts.robot import Robot
from mixer.review.spans import Spans
from mixer.runs.measure.physics import SLIDING_MPS, near_stall, plant_columns
from mixer.runs.play.stretch import Floats, Stretch

WORTH_S = 0.1
"""Shorter than this nothing is told one by one (no source)."""


class HeldBack:
    """A sink for the firmware's half: vetoes of each actuator, and groups at the end of their range."""

    def __init__(self, plan: Plan) -> None:
        least = max(round(WORTH_S * 1000 / plan.tick_ms), 1)
        self._plan, self._layout = plan, layout_of(plan)
        self.vetoes: Mapping[str, Spans] = {actuator.name: Spans(least) for actuator in plan.actuators}
        self.saturated: Mapping[str, Spans] = {output.name: Spans(least) for output in plan.outputs}

    def add(self, stretch: Stretch) -> None:
        """The next stretch."""
        told = self._layout.signals_of(list(stretch.signals.T))
        live = told.guard.state == Guard.LIVE
        for actuator, now in zip(self._plan.actuators, told.actuators, strict=True):
            wanted = told.outputs[actuator.output].wanted
            self.vetoes[actuator.name].add(stretch, live & ((wanted < now.low) | (wanted > now.high)))
        for output, out in zip(self._plan.outputs, told.outputs, strict=True):
            full = (out.blended != out.mixed) | (np.abs(out.blended) >= ONE)
            self.saturated[output.name].add(stretch, live & full)


class Strained:
    """A sink for the physics: sliding, motors near stall, highest current and lowest volts."""

    def __init__(self, plan: Plan, robot: Robot) -> None:
        self._robot = robot
        least = max(round(WORTH_S * 1000 / plan.tick_ms), 1)
        screws = {actuator.output for actuator in robot.actuators}
        self._place = {name: place for place, name in enumerate(plant_columns(robot))}
        self.sliding = Spans(least)
        self.stalled = {
            output.name: Spans(least)
            for number, output in enumerate(robot.outputs)
            if output.motor is not None and number not in screws
        }
        """Wheels only: where a screw stands, and so what it meets, no log says."""
        self.most_a, self.least_v = Extreme(1), Extreme(-1)
        self._slips = [self._place[f"wheel.{wheel.name}.slip"] for wheel in robot.wheels]

    def add(self, stretch: Stretch) -> None:
        """The next stretch, with physics."""
        assert stretch.plant is not None
        plant, place = stretch.plant, self._place
        self.most_a.add(stretch, plant[:, place["battery_first_a"]])
        self.least_v.add(stretch, plant[:, place["lowest_v"]])
        sliding: NDArray[np.bool_] = np.any(np.abs(plant[:, self._slips]) > SLIDING_MPS, axis=1)
        self.sliding.add(stretch, sliding)
        for output in self._robot.outputs:
            if output.name in self.stalled:
                current = np.abs(plant[:, place[f"output.{output.name}.current"]])
                volts = np.abs(plant[:, place[f"output.{output.name}.volts"]])
                rise = place.get(f"output.{output.name}.winding_rise")
                winding = None if rise is None else self._robot.air_c + plant[:, rise]
                self.stalled[output.name].add(stretch, near_stall(output, current, volts, winding))


class Extreme:
    """The one tick in which a series of numbers was highest (way 1) or lowest (way -1)."""

    def __init__(self, way: int) -> None:
        self._way = way
        self.value = -np.inf * way
        self.tick = 0
        self.row: tuple[int, ...] = ()

    def add(self, stretch: Stretch, values: Floats) -> None:
        """The next stretch; the first of equals counts."""
        at = int(np.argmax(self._way * values))
        if self._way * values[at] > self._way * self.value:
            self.value, self.tick = float(values[at]), stretch.first_tick + at
            self.row = tuple(stretch.signals[at].tolist())
