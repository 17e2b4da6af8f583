"""The part of a snapshot that comes from the physics."""

from collections.abc import Iterator

from mixer.live.robot.body import Body
from mixer.live.views.snapshot import PhysicsView, WheelView
from mixer.plant.parts.robot import Robot as PhysicalRobot
from mixer.plant.plant import PlantSnapshot

SLIPPING_MPS = 0.05
"""A tyre that slides faster than this over the floor, and than a tenth of its own speed, slips."""


def physics_view(body: Body) -> PhysicsView | None:
    """What the physics says now; None where the profile has none."""
    plant = body.plant
    if plant is None:
        return None
    seen, robot = plant.snapshot(), plant.robot
    limits = tuple(None if output.heat is None else output.heat.limit_c for output in robot.outputs)
    return PhysicsView(
        x_m=seen.x,
        y_m=seen.y,
        heading_rad=seen.yaw,
        speed_mps=seen.vx,
        turn_radps=seen.turn,
        wheels=tuple(_wheels(robot, seen)),
        output_a=seen.output_a,
        battery_v=seen.battery_v,
        battery_a=seen.battery_a,
        charge=seen.charge,
        cut=seen.cut,
        winding_c=seen.winding_c,
        winding_limit_c=limits,
        hottest=hottest(seen.winding_c, limits, robot.air_c),
    )


def hottest(winding_c: tuple[float | None, ...], limits_c: tuple[float | None, ...], air_c: float) -> int:
    """The output whose winding has come furthest from air to its limit (the hottest where none has one)."""
    best, most = -1, -1.0
    for number, (now, limit) in enumerate(zip(winding_c, limits_c, strict=True)):
        if now is None:
            continue
        share = (now - air_c) / ((limit or air_c + 1000) - air_c)
        if share > most:
            best, most = number, share
    return best


def _wheels(robot: PhysicalRobot, seen: PlantSnapshot) -> Iterator[WheelView]:
    for number, wheel in enumerate(robot.wheels):
        slip, speed = seen.wheel_slip_mps[number], seen.wheel_mps[number]
        yield WheelView(
            name=wheel.name,
            output=robot.outputs[wheel.output].name if wheel.output >= 0 else "",
            x_m=wheel.x,
            y_m=wheel.y,
            angle_rad=wheel.angle,
            radius_m=wheel.radius,
            force_n=seen.wheel_n[number],
            speed_mps=speed,
            slipping=abs(slip) > max(SLIPPING_MPS, abs(speed) / 10),
        )
