"""The chassis' three speeds after a step, from what all its wheels push. Newton-Euler in the plane."""

from mixer.plant.parts.quantities import CREEP, GRAVITY
from mixer.plant.parts.robot import Robot
from mixer.plant.step.contact import Contact
from mixer.plant.step.energy import Ledger
from mixer.plant.step.motion import Body, Direction, middle
from mixer.plant.step.trace import Arithmetic, Value


def push_body(robot: Robot, ops: Arithmetic, contacts: list[Contact], body: Body, ledger: Ledger) -> Body:
    """The chassis' speeds after the step: (mass + h·slopes)·change = h·force."""
    opponent, seconds = robot.opponent, ledger.seconds
    mass = robot.mass_kg + (opponent.mass_kg if opponent else 0.0)
    matrix: list[Value] = [mass, 0.0, 0.0, mass, 0.0, robot.yaw_inertia_kgm2]
    force: list[Value] = [0.0, 0.0, 0.0]
    for contact in contacts:
        _lay_on(matrix, force, contact.along, contact.force, contact.slope, seconds)
        if contact.across is not None:
            _lay_on(matrix, force, contact.across, -contact.drag, contact.drag_slope, seconds)
    rubbing = [("slip", skid.x, skid.y, skid.friction * skid.load_n) for skid in robot.skids]
    if opponent:
        rubbing.append(("push", 0.0, 0.0, opponent.grip * opponent.mass_kg * GRAVITY))
    drags = []
    for name, x, y, most in rubbing:
        ways = Direction(1.0, 0.0, -y), Direction(0.0, 1.0, x)
        speeds = [body.along(*way) for way in ways]
        drag = most / ops.sqrt(speeds[0] * speeds[0] + speeds[1] * speeds[1] + CREEP**2)
        for way, speed in zip(ways, speeds, strict=True):
            _lay_on(matrix, force, way, -drag * speed, drag, seconds)
            drags.append((name, way, drag))
    dx, dy, dt = solve_symmetric(matrix, [part * seconds for part in force])
    after = Body(body.vx + dx, body.vy + dy, body.turn + dt)
    mean = middle(body, after)
    for name, way, drag in drags:
        ledger.add(name, drag * after.along(*way) * mean.along(*way))
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
