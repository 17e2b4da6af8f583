"""Wheels on the floor: what each can push.

Dry friction over slip, as for a rigid wheel: with s along and t across the wheel the force is
grip·N·(s, t)/sqrt(s² + t² + c²), so that it points against the slip, is grip x normal force once it slides
and proportional below the creep speed c. Rolling loss is rolling x normal force (Coulomb). A wheel of
rollers carries force only across its rollers' axes.

The curve is linearised at the last slip. Its true slope is right while a wheel slides, but would overshoot
where the slip comes to rest within a step; there the slope of the line through zero takes over (`share`).
"""

from typing import NamedTuple

from mixer.plant.parts.quantities import CREEP
from mixer.plant.parts.robot import Robot, Wheel
from mixer.plant.step.electric import Circuit, Drive, Moved, drive_of, moved_by
from mixer.plant.step.energy import Ledger
from mixer.plant.step.motion import Body, Direction, cross_direction, driving_direction, middle
from mixer.plant.step.trace import Arithmetic, Value
from mixer.plant.step.units import wheel_unit


class Rolled(NamedTuple):
    """A wheel after a step."""

    moved: Moved
    slip: Value
    force: Value
    gear: Value


class Line(NamedTuple):
    """A wheel's new speed by its line, with the dry friction and tyre force that belong to it, in N."""

    speed: Value
    dry: Value
    force: Value


class Contact(NamedTuple):
    """A wheel within a step: what is known before the chassis' new speeds are."""

    along: Direction
    across: Direction | None
    circuit: Circuit
    drive: Drive
    before: Value
    """The wheel's speed before the step."""
    push: Value
    """What moves the wheel, in N: M/h·u + f less the old speed's share of b·u."""
    stiffness: Value
    """What the wheel sets against its own new speed, in N per m/s: M/h and the new speed's share of b."""
    rub: Value
    """The most that dry friction takes, in N."""
    steady: Value
    """Part of the tyre's force that does not follow the slip, in N."""
    creep: Value
    """Tyre force for each m/s of slip, in N."""
    most: float
    """grip x normal force, N."""
    force: Value
    """Tyre force at the old chassis speeds."""
    slope: Value
    """How much of it each m/s of the chassis takes away; 0 while it slides."""
    drag: Value
    """Force across the wheel at the old chassis speeds, and its slope."""
    drag_slope: Value

    def line(self, ops: Arithmetic, body: Body) -> Line:
        """Where the wheel's line takes it for the chassis' new speeds."""
        ground = body.along(*self.along)
        dry = self._dry(ops, ground)
        force = ops.clamp(self._holding(ground, dry), -self.most, self.most)
        return Line((self.push - dry - force) / self.stiffness, dry, force)

    def halfway(self, line: Line, seconds: float) -> Value:
        """The speed at which the step's current is taken."""
        return self.circuit.unit.halfway(self.before, line.speed, seconds)

    def settle(
        self, ops: Arithmetic, line: Line, bus_v: Value, was: Body, body: Body, ledger: Ledger
    ) -> Rolled:
        """The wheel's new speed, its slip and the tyre's force, at the volts of the step's middle."""
        ways, taken = (self.before, line.speed), line.dry + line.force
        moved = moved_by(ops, self.circuit, self.drive, bus_v, ways, taken, ledger.seconds)
        self._book(ops, was, body, ledger, ((self.before + moved.speed) * 0.5, line.dry, line.force))
        return Rolled(moved, moved.speed - body.along(*self.along), line.force, self.drive.gear)

    def _book(
        self, ops: Arithmetic, was: Body, body: Body, ledger: Ledger, wheel: tuple[Value, Value, Value]
    ) -> None:
        """Slip, rolling and friction; `wheel` is its mean speed, dry friction and tyre force."""
        (mean, dry, force), unit, ways = wheel, self.circuit.unit, middle(was, body)
        ledger.add("slip", force * (mean - ways.along(*self.along)))
        if self.across is not None:
            change = body.along(*self.across) - was.along(*self.across)
            ledger.add("slip", (self.drag + self.drag_slope * change) * ways.along(*self.across))
        rolling = ops.clamp(dry, -unit.rolling, unit.rolling)
        ledger.add("rolling", rolling * mean)
        ledger.add("friction", (dry - rolling) * mean + unit.viscous * mean * mean)

    def tried(self, ops: Arithmetic, ground: Value, ahead: Value, halt: float) -> "Contact":
        """The contact with its force at a ground speed, and the slope of that force.

        `ahead` is the ground speed to be expected after the step: whether the tyre slides, and whether
        friction holds the wheel, is judged there.
        `halt` is the ground speed that dry friction can take away in a step: where wheel and ground both
        are slower than that and slowing down, the force must fade, or the chassis would hunt about rest.
        """
        dry = self._dry(ops, ahead)
        holding = self._holding(ahead, dry)
        yielding = self.creep * self.stiffness / (self.stiffness + self.creep)
        slope = ops.select(abs(dry) < self.rub, self.creep, yielding)
        slope = ops.select(abs(holding) < self.most, slope, 0.0)
        force = ops.clamp(holding, -self.most, self.most) + slope * (ahead - ground)
        if halt:
            near = halt * halt / (ground * ground + self.before * self.before + halt * halt)
            fading = abs(dry) * near / (abs(ground) + 1e-7)
            slope = slope + ops.select(holding * ground < 0, fading, 0.0)
        return self._replace(force=force, slope=slope)

    def _dry(self, ops: Arithmetic, ground: Value) -> Value:
        """Dry friction: whatever holds the wheel, up to its most (soft threshold)."""
        return ops.clamp(self.push - self.steady + self.creep * ground, -self.rub, self.rub)

    def _holding(self, ground: Value, dry: Value) -> Value:
        driven = self.steady * self.stiffness + self.creep * (self.push - dry - self.stiffness * ground)
        return driven / (self.stiffness + self.creep)


def quickest_change(robot: Robot, way: Direction, seconds: float) -> float:
    """The most that all tyres together can change a ground speed along `way` in a step, in m/s."""
    change = 0.0
    for other in robot.wheels:
        reach = driving_direction(other) if other.slides else cross_direction(other)
        change += other.most_n * (1 / robot.mass_kg + abs(reach.arm * way.arm) / robot.yaw_inertia_kgm2)
    return change * seconds


def share(slip: Value, square: Value, quickest: float) -> Value:
    """How far the true slope counts: from 0 near rest to (slip's share of the sliding) far from it."""
    return slip * slip / (square + quickest**2)


def reach(
    robot: Robot, ops: Arithmetic, wheel: Wheel, circuit: Circuit, bus_v: Value, body: Body,
    change: Body, speed: Value, seconds: float,
) -> Contact:  # fmt: skip
    """The wheel's push and the tyre's answer, linear in the chassis' new speeds.

    `change` is how the chassis' speeds changed in the last step, taken as likely for this one.
    """
    unit, along = circuit.unit, driving_direction(wheel)
    across = None if wheel.slides else cross_direction(wheel)
    ground, sideways = body.along(*along), body.along(*across) if across else 0.0
    slip, most = speed - ground, wheel.most_n
    square = slip * slip + sideways * sideways + CREEP**2
    through_zero = most / ops.sqrt(square)
    quickest = quickest_change(robot, along, seconds) + most * seconds / unit.mass
    part = share(slip, square, quickest)
    creep, steady = through_zero * (1.0 - part), through_zero * slip * part
    drag = drag_slope = 0.0
    if across is not None:
        drag = through_zero * sideways
        part = share(sideways, square, quickest_change(robot, across, seconds))
        drag_slope = through_zero * (1.0 - part)
    drive, now = drive_of(ops, circuit, bus_v, speed), unit.implicitness(seconds)
    push = speed * (unit.mass / seconds - drive.slope * (1 - now)) + drive.force
    stiffness = unit.mass / seconds + drive.slope * now
    contact = Contact(
        along, across, circuit, drive, speed, push, stiffness, drive.rub, steady, creep, most,
        0.0, 0.0, drag, drag_slope,
    )  # fmt: skip
    ahead = ground + change.along(*along)
    ahead = ops.select(ahead * ground > 0, ahead, ground)
    return contact.tried(ops, ground, ahead, _halt(robot, along, seconds))


def _halt(robot: Robot, along: Direction, seconds: float) -> float:
    """The ground speed that dry friction of all wheels can take away in a step."""
    rubbing = 0.0
    for wheel in robot.wheels:
        unit = wheel_unit(robot, wheel)
        rubbing += min(unit.rotor_rub * unit.gearing.efficiency + unit.rolling + unit.dragged, wheel.most_n)
    return rubbing * (1 / robot.mass_kg + along.arm**2 / robot.yaw_inertia_kgm2) * seconds
