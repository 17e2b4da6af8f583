"""What hangs on the outputs: the physics where the profile gives it, else actuators by their travel time.

The board's commands go in, a time passes, and the end-stop switches come out.
"""

from collections.abc import Sequence
from typing import NamedTuple

from mixer.core.ops import ONE
from mixer.core.plan import Plan
from mixer.live.robot.travel import driven, moved, pressed, travel_times
from mixer.plant.from_profile import Prepared
from mixer.plant.parts.damage import SKIPPED, Damage, deaf_to, harmed, skips
from mixer.plant.parts.robot import Robot as PhysicalRobot
from mixer.plant.parts.robot import flipped
from mixer.plant.plant import Plant
from mixer.profile.schema.root import Robot


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
        self._actuators, self._contacts = plan.actuators, [contact.name for contact in plan.contacts]
        self.names = tuple(actuator.name for actuator in plan.actuators)
        self.positions = [0.0] * len(self.names)
        """Share of the travel, 0 in to 1 out, of each actuator of the profile."""
        self._travel_ms = travel_times(plan, profile)
        self._output_names = [output.name for output in plan.outputs]
        screws = [] if self.robot is None else [actuator.name for actuator in self.robot.actuators]
        self._in_plant = [screws.index(name) if name in screws else -1 for name in self.names]
        slot = None if self.plant is None else self.plant.layout.state_index
        self._nuts = [slot(f"actuator.{name}.extension") for name in screws] if slot else []
        self._bus = 0 if self.plant is None else self.plant.layout.state_index("bus_v")
        self._upside_down = False
        self._damage: tuple[Damage, ...] = ()
        self._start = self.saved

    @property
    def bus_v(self) -> float | None:
        """Volts between battery and drivers now; None without physics."""
        if self.plant is None or self.robot is None:
            return None
        return self.plant.state[self._bus]

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
        body._break(self._damage)
        return body

    def turn_over(self, upside_down: bool) -> None:
        """Lie on the other side from now on."""
        if upside_down != self._upside_down:
            self._upside_down = upside_down
            self._fit()

    def advance(self, commands: Sequence[int], seconds: float, damage: tuple[Damage, ...] = ()) -> None:
        """Let a time pass with these commands (Q14) and what is broken."""
        if damage != self._damage:
            ahead = [
                n for n, name in enumerate(self.names) if skips(damage, name) > skips(self._damage, name)
            ]
            self._break(damage)
            for number in ahead:
                self._move(number, SKIPPED)
        if self.plant is not None:
            self.plant.run(commands, seconds)
        for number, place in enumerate(self._in_plant):
            if place < 0:
                output = self._actuators[number].output
                duty = deaf_to(damage, self._output_names[output], self.names[number])
                duty = commands[output] / ONE if duty is None else duty
                here, travel_ms = self.positions[number], self._travel_ms[number]
                self.positions[number] = driven(here, duty, seconds, travel_ms)
            else:
                self.positions[number] = self._nut(place)

    def contacts(self) -> dict[str, bool]:
        """Which end-stop switches are pressed, by name."""
        found = {
            self._contacts[contact]: closed
            for number, place in enumerate(self._in_plant)
            if place < 0
            for contact, closed in pressed(self._actuators[number], self.positions[number])
        }
        return found if self.plant is None else found | self.plant.contacts()

    def _break(self, damage: tuple[Damage, ...]) -> None:
        self._damage = damage
        self._fit()

    def _fit(self) -> None:
        """The physics of the robot as it lies and as far as it is whole."""
        if self.plant is not None and self.robot is not None:
            lying = flipped(self.robot) if self._upside_down else self.robot
            self.plant.robot = harmed(lying, self._damage)

    def _move(self, number: int, way: float) -> None:
        """Move an actuator by a share of its travel, as far as its ends let it."""
        self.positions[number] = moved(self.positions[number], way)
        place = self._in_plant[number]
        if self.plant is not None and place >= 0:
            travel = self.plant.robot.actuators[place].travel
            self.plant.state[self._nuts[place]] = self.positions[number] * travel

    def _nut(self, place: int) -> float:
        """Where a screw of the physics stands, as a share of its travel."""
        assert self.plant is not None
        return self.plant.state[self._nuts[place]] / self.plant.robot.actuators[place].travel
