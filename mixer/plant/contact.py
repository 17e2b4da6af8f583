"""Wheels on the floor: what each can push, and the chassis they push together.

Dry friction over slip, as for a rigid wheel: the force points against the slip, grip x normal force once
it slides, proportional below (creep). Rolling loss is rolling x normal force (Coulomb). A wheel of
rollers carries force only across its rollers' axes. Planar Newton-Euler equations about the centre of
gravity, any dynamics text.
"""

import math
from typing import NamedTuple

from mixer.plant.electric import Circuit, force_line
from mixer.plant.energy import Ledger
from mixer.plant.quantities import GRAVITY
from mixer.plant.robot import Robot, Wheel
from mixer.plant.trace import Arithmetic, Value
from mixer.plant.units import Unit

CREEP = 0.01
"""m/s of slip at which a tyre has about 70 % of its grip."""


class Body(NamedTuple):
    """Speeds of the centre of gravity forward and left in m/s, and turn rate in rad/s (left positive)."""

    vx: Value
    vy: Value
    turn: Value

    def along(self, x: float, y: float, arm: float) -> Value:
        """Speed of a point in the direction (x, y), `arm` being the direction's lever about the centre."""
        return self.vx * x + self.vy * y + self.turn * arm

    def in_turned_axes(self, seconds: float) -> list[Value]:
        """The same motion in the body's axes after it has turned on (Cayley's rotation, exact length)."""
        half = self.turn * (seconds / 2)
        scale = 1.0 / (1.0 + half * half)
        cosine, sine = (1.0 - half * half) * scale, half * 2.0 * scale
        return [self.vx * cosine + self.vy * sine, self.vy * cosine - self.vx * sine, self.turn]


def pose_after(
    ops: Arithmetic, pose: list[Value], before: Body, after: Body, seconds: float
) -> list[Value]:
    """(x, y, yaw) after a step with the mean speeds of the step at its middle heading."""
    x, y, yaw = pose
    vx, vy = (before.vx + after.vx) * 0.5, (before.vy + after.vy) * 0.5
    turned = (before.turn + after.turn) * (seconds / 2)
    middle = yaw + turned * 0.5
    cosine, sine = ops.cosine(middle), ops.sine(middle)
    return [x + (vx * cosine - vy * sine) * seconds, y + (vx * sine + vy * cosine) * seconds, yaw + turned]


class Direction(NamedTuple):
    """A direction in the body's axes and its lever about the centre of gravity."""

    x: float
    y: float
    arm: float


def driving_direction(wheel: Wheel) -> Direction:
    """Where the wheel pushes to; multiples of 90 degrees are exact."""
    x, y = round(math.cos(wheel.angle), 15), round(math.sin(wheel.angle), 15)
    return Direction(x, y, wheel.x * y - wheel.y * x)


def cross_direction(wheel: Wheel) -> Direction:
    """A quarter turn left of the driving direction."""
    x, y, _ = driving_direction(wheel)
    return Direction(-y, x, wheel.x * x + wheel.y * y)


class Contact(NamedTuple):
    """A wheel within a step: what is known before the chassis' new speeds are."""

    along: Direction
    across: Direction | None
    unit: Unit
    push: Value
    """M/h·u + f less dry friction, N: what moves the wheel."""
    stiffness: Value
    """M/h + b, N per m/s: what the wheel sets against its own speed."""
    dry: Value
    creep: Value
    """k, N of tyre force per m/s of slip."""
    most: float
    """grip x normal force, N."""
    force: Value
    """Tyre force at the old chassis speeds."""
    slope: Value
    """How much of it each m/s of the chassis takes away; 0 while it slides."""

    def settle(self, ops: Arithmetic, body: Body, ledger: Ledger) -> tuple[Value, Value, Value]:
        """The wheel's new speed, its slip and the tyre's force, for the chassis' new speeds."""
        ground = body.along(*self.along)
        holding = self.creep * (self.push - self.stiffness * ground) / (self.stiffness + self.creep)
        force = ops.clamp(holding, -self.most, self.most)
        speed = (self.push - force) / self.stiffness
        slip = speed - ground
        ledger.add("slip", force * slip)
        if self.across is not None:
            sideways = body.along(*self.across)
            ledger.add("slip", self.creep * sideways * sideways)
        rolling = self.unit.rolling / self.unit.friction if self.unit.friction else 0.0
        ledger.add("rolling", self.dry * speed * rolling)
        ledger.add("friction", self.dry * speed * (1 - rolling) + self.unit.viscous * speed * speed)
        return speed, slip, force


def reach(
    ops: Arithmetic, wheel: Wheel, circuit: Circuit, bus_v: Value, body: Body, speed: Value, seconds: float
) -> Contact:
    """The wheel's push and the tyre's answer, linear in the chassis' new speeds."""
    unit = circuit.unit
    along = driving_direction(wheel)
    across = None if wheel.slides else cross_direction(wheel)
    ground = body.along(*along)
    most = wheel.grip * wheel.normal_n
    slip = speed - ground
    square = slip * slip + CREEP**2
    if across is not None:
        sideways = body.along(*across)
        square = square + sideways * sideways
    creep = most / ops.sqrt(square)
    force, slope = force_line(ops, circuit, bus_v)
    push = speed * (unit.mass / seconds) + force
    stiffness = unit.mass / seconds + slope
    dry = ops.clamp(push + creep * ground, -unit.friction, unit.friction)
    push = push - dry
    yielding = creep / (stiffness + creep)
    holding = yielding * (push - stiffness * ground)
    tyre = ops.clamp(holding, -most, most)
    slope = ops.select(abs(holding) < most, yielding * stiffness, 0.0)
    return Contact(along, across, unit, push, stiffness, dry, creep, most, tyre, slope)


def push_body(robot: Robot, ops: Arithmetic, contacts: list[Contact], body: Body, ledger: Ledger) -> Body:
    """The chassis' speeds after the step: (mass + h·slopes)·change = h·force."""
    opponent, seconds = robot.opponent, ledger.seconds
    mass = robot.mass_kg + (opponent.mass_kg if opponent else 0.0)
    matrix: list[Value] = [mass, 0.0, 0.0, mass, 0.0, robot.yaw_inertia_kgm2]
    force: list[Value] = [0.0, 0.0, 0.0]
    for contact in contacts:
        _lay_on(matrix, force, contact.along, contact.force, contact.slope, seconds)
        if contact.across is not None:
            drag = contact.creep * body.along(*contact.across)
            _lay_on(matrix, force, contact.across, -drag, contact.creep, seconds)
    drag = 0.0
    if opponent:
        weight = opponent.grip * opponent.mass_kg * GRAVITY
        drag = weight / ops.sqrt(body.vx * body.vx + body.vy * body.vy + CREEP**2)
        _lay_on(matrix, force, Direction(1.0, 0.0, 0.0), -drag * body.vx, drag, seconds)
        _lay_on(matrix, force, Direction(0.0, 1.0, 0.0), -drag * body.vy, drag, seconds)
    dx, dy, dt = solve_symmetric(matrix, [part * seconds for part in force])
    after = Body(body.vx + dx, body.vy + dy, body.turn + dt)
    ledger.add("push", drag * (after.vx * after.vx + after.vy * after.vy))
    return after


def _lay_on(
    matrix: list[Value], force: list[Value], way: Direction, newtons: Value, slope: Value, seconds: float
) -> None:
    stiff = slope * seconds
    pairs = ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))
    for place, (i, j) in enumerate(pairs):
        matrix[place] = matrix[place] + stiff * (way[i] * way[j])
    for i in range(3):
        force[i] = force[i] + newtons * way[i]


def solve_symmetric(matrix: list[Value], right: list[Value]) -> tuple[Value, Value, Value]:
    """Solve a positive definite 3 x 3 system given as (a00, a01, a02, a11, a12, a22), by L·D·Lᵀ."""
    a, b, c, d, e, f = matrix
    over = 1.0 / a
    lb, lc = b * over, c * over
    d1 = d - lb * b
    e1 = e - lb * c
    le = e1 / d1
    f1 = f - lc * c - le * e1
    y0 = right[0]
    y1 = right[1] - lb * y0
    y2 = right[2] - lc * y0 - le * y1
    z2 = y2 / f1
    z1 = y1 / d1 - le * z2
    return y0 * over - lb * z1 - lc * z2, z1, z2
