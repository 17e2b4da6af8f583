"""Firmware and physics in one loop: outputs drive the plant, its end stops come back as contacts."""

from collections.abc import Sequence

from mixer.core.plan import Plan
from mixer.errors import OptionError
from mixer.plant.from_profile import Prepared
from mixer.plant.parts.robot import Robot
from mixer.plant.plant import Plant
from mixer.runs.play.engines import Engine


def robot_in(prepared: Prepared) -> Robot:
    """The robot's physics. Raises OptionError that says which data the profile lacks."""
    if prepared.robot is None:
        missing = "; ".join(prepared.left_out) or "the profile describes no battery and no motor"
        raise OptionError(
            f"no physics for this robot: {missing}", "add [battery] and the motors of the outputs"
        )
    return prepared.robot


class ClosedLoop:
    """One board on one robot. Contacts the plant knows are read from it, all others from the inputs."""

    def __init__(self, plan: Plan, robot: Robot, engine: Engine, *, charge: float = 1.0) -> None:
        self.engine = engine
        self.plant = Plant(robot, charge=charge)
        self.tick_s = plan.tick_ms / 1000
        names = [output.name for output in plan.outputs]
        places = [engine.layout.index(f"output.{name}.command") for name in names]
        by_name = dict(zip(names, places, strict=True))
        self._places = [by_name.get(output.name) for output in robot.outputs]
        first = len(plan.channels)
        self._contacts = list(enumerate(plan.contacts, start=first))

    def step(self, inputs: Sequence[int]) -> Sequence[int]:
        """One tick of the firmware and of the physics; the firmware's signals."""
        read = list(inputs)
        closed = self.plant.contacts()
        for place, contact in self._contacts:
            if contact.name in closed:
                read[place] = contact.level(closed=closed[contact.name])
        signals = self.engine.step(read)
        commands = [0 if place is None else signals[place] for place in self._places]
        self.plant.run(commands, self.tick_s)
        return signals
