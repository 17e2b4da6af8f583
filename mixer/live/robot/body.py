"""What hangs on the outputs: the physics where the profile gives it, else actuators by their travel time.

The board's commands go in, a time passes, and the end-stop switches come out. A profile without travel time
gets `USUAL_TRAVEL_MS`, because on a bench something has to move.
"""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from mixer.core.ops import ONE
from mixer.core.plan import Plan
from mixer.plant.from_profile import Prepared
from mixer.plant.parts.robot import Robot as PhysicalRobot
from mixer.plant.parts.robot import flipped
from mixer.plant.plant import Plant
from mixer.profile.schema.root import Robot

USUAL_TRAVEL_MS = 4000.0
END = 0.001
"""How near to its end, as a share of its travel, an actuator without physics presses a switch."""

Reach = Callable[[int], tuple[float, float]]
Effort = Callable[[int], float]


class BodyState(NamedTuple):
    """Everything that moves, to go on from later."""

    plant: tuple[float, ...]
    seen: tuple[float, ...]
    positions: tuple[float, ...]
    upside_down: bool


class Body:
    """The robot below its firmware."""

    def __init__(self, plan: Plan, profile: Robot, prepared: Prepared, *, charge: float = 1.0) -> None:
        """At rest at its start, cold, with a share of the battery's charge."""
        self._charge = charge
        self.robot: PhysicalRobot | None = prepared.robot
        self.plant = None if prepared.robot is None else Plant(prepared.robot, charge=charge)
        self.names = tuple(profile.actuator)
        self.positions = [0.0] * len(self.names)
        """Share of the travel, 0 in to 1 out, of each actuator of the profile."""
        self._travel_ms = [item.full_travel_ms or USUAL_TRAVEL_MS for item in profile.actuator.values()]
        outputs = [output.name for output in plan.outputs]
        self._outputs = [outputs.index(item.output) for item in profile.actuator.values()]
        self._stops = [(item.out_stop, item.in_stop) for item in profile.actuator.values()]
        moved = [] if self.robot is None else [actuator.name for actuator in self.robot.actuators]
        self._in_plant = [moved.index(name) if name in moved else -1 for name in self.names]
        self._nuts = [] if self.plant is None else [_slots_of(self.plant, name) for name in moved]
        self._upside_down = False
        self._start = self.saved

    @property
    def saved(self) -> BodyState:
        """Where everything stands."""
        state, seen = ((), ()) if self.plant is None else (tuple(self.plant.state), tuple(self.plant.seen))
        return BodyState(state, seen, tuple(self.positions), self._upside_down)

    def restore(self, saved: BodyState) -> None:
        """Go on from where everything stood."""
        self.turn_over(saved.upside_down)
        self.positions = list(saved.positions)
        if self.plant is not None:
            self.plant.state, self.plant.seen = list(saved.plant), list(saved.seen)

    def rest(self) -> None:
        """Stand still at the start, cold, with a full battery."""
        self.restore(self._start)

    def rebuilt(self, plan: Plan, profile: Robot, prepared: Prepared) -> "Body":
        """The body of another tuning; what moves goes on where physics and actuators are the same."""
        body = Body(plan, profile, prepared, charge=self._charge)
        if prepared.robot == self.robot and len(body.positions) == len(self.positions):
            body.restore(self.saved)
        return body

    def turn_over(self, upside_down: bool) -> None:
        """Lie on the other side from now on."""
        if upside_down != self._upside_down:
            self._upside_down = upside_down
            if self.plant is not None and self.robot is not None:
                self.plant.robot = flipped(self.robot) if upside_down else self.robot

    def advance(
        self,
        commands: Sequence[int],
        seconds: float,
        effort: Effort | None = None,
        reach: Reach | None = None,
    ) -> None:
        """Let a time pass with these commands (Q14). `effort` and `reach` are what faults leave of each."""
        if effort is not None:
            commands = [round(command * effort(number)) for number, command in enumerate(commands)]
        if self.plant is not None:
            self.plant.run(commands, seconds)
        for number, place in enumerate(self._in_plant):
            low, high = (0.0, 1.0) if reach is None else reach(number)
            if place < 0:
                way = commands[self._outputs[number]] * seconds * 1000 / (ONE * self._travel_ms[number])
                self.positions[number] = min(max(self.positions[number] + way, low), high)
            else:
                self.positions[number] = self._nut(place, low, high)

    def contacts(self) -> dict[str, bool]:
        """Which end-stop switches are pressed, by name."""
        pressed: dict[str, bool] = {}
        for (out_stop, in_stop), position, place in zip(
            self._stops, self.positions, self._in_plant, strict=True
        ):
            if place < 0 and out_stop is not None:
                pressed[out_stop] = position >= 1 - END
            if place < 0 and in_stop is not None:
                pressed[in_stop] = position <= END
        return pressed if self.plant is None else pressed | self.plant.contacts()

    def _nut(self, place: int, low: float, high: float) -> float:
        """Where a screw of the physics stands, held back where something jams it."""
        plant = self.plant
        assert plant is not None
        travel = plant.robot.actuators[place].travel
        extension, speed = self._nuts[place]
        share = plant.state[extension] / travel
        if not low <= share <= high:
            share = min(max(share, low), high)
            plant.state[extension], plant.state[speed] = share * travel, 0.0
        return share


def _slots_of(plant: Plant, actuator: str) -> tuple[int, int]:
    """Where an actuator's extension and speed stand in the state."""
    index = plant.layout.state_index
    return index(f"actuator.{actuator}.extension"), index(f"actuator.{actuator}.speed")
