"""Numbers of one profile that cannot all be true, each told with both sides and what to do.

What is impossible by itself is refused when the profile is read; here two numbers stand against each
other, and only who measured them knows which is wrong.
"""

from collections.abc import Iterator

from mixer.plant.from_profile import prepare
from mixer.plant.parts.battery import GENERIC_LITHIUM, interpolate
from mixer.plant.parts.mass import Part, centre_of_gravity, total_mass
from mixer.plant.parts.motor import SheetPoints, motor_from_points, sheet_efficiency
from mixer.profile.schema.physical import Battery, Motor
from mixer.profile.schema.root import Robot
from mixer.sizing.crosscheck import travel_seconds

TORQUE_OFF = 0.08
"""Sheets differ by friction counted in or out, a few percent."""
MASS_OFF = 0.03
CENTRE_OFF_M = 0.01
TRAVEL_OFF = 0.3
HALF = 0.5
SPAN_OFF = 0.05


def contradictions(robot: Robot) -> Iterator[str]:
    """Every pair of numbers of a checked profile that contradict each other, in words."""
    for name, motor in robot.motor.items():
        yield from _motor(f"motor.{name}", motor)
        yield from _gearing(robot, name, motor)
    if robot.battery is not None:
        yield from _battery(robot.battery)
    yield from _parts(robot)
    yield from _spans(robot)
    if robot.battery is not None and robot.actuator:
        yield from _travels(robot)


def points_of(motor: Motor) -> SheetPoints | None:
    """The sheet's points of a motor that has them all."""
    if not (motor.nominal_v and motor.no_load_rpm and motor.stall_a and motor.stall_nm):
        return None
    return SheetPoints(
        motor.nominal_v, motor.no_load_rpm, motor.no_load_a or 0.0, motor.stall_a, motor.stall_nm
    )


def _motor(where: str, motor: Motor) -> Iterator[str]:
    points = points_of(motor)
    if points is None:
        return
    share = sheet_efficiency(points)
    if abs(share - 1) > TORQUE_OFF:
        made = points.stall_nm / share
        yield (
            f"{where}: stall_nm {points.stall_nm:g} beside {made:.3g} N·m that volts, speed and current "
            "make; both are of the motor's own shaft, before the gearing: compare with the sheet"
        )


def _gearing(robot: Robot, name: str, motor: Motor) -> Iterator[str]:
    points = points_of(motor)
    if motor.gear_torque_nm is None or robot.battery is None:
        return
    fed = [output for output in robot.output.values() if output.motor == name]
    drivers = [robot.driver.get(output.driver or "") for output in fed]
    limits = [driver.limit_a for driver in drivers if driver is not None and driver.limit_a is not None]
    if points is not None:
        bare = motor_from_points(points)
        constant, stall = bare.constant, bare.stall_current(_full_v(robot.battery))
    elif motor.torque_constant_nm_per_a and motor.resistance_ohm:
        constant = motor.torque_constant_nm_per_a
        stall = _full_v(robot.battery) / motor.resistance_ohm
    else:
        return
    torque = constant * min([stall, *limits]) * motor.gear_ratio * motor.gear_efficiency
    if torque > motor.gear_torque_nm:
        yield (
            f"motor.{name}: a stall puts {torque:.3g} N·m on a gearing that stands gear_torque_nm "
            f"{motor.gear_torque_nm:g}; lower the output's limit or the driver's limit_a"
        )


def _full_v(battery: Battery, charge: float = 1.0) -> float:
    return battery.cells * interpolate(battery.curve or GENERIC_LITHIUM, charge)


def _battery(battery: Battery) -> Iterator[str]:
    if battery.low_v is None:
        return
    half = _full_v(battery, HALF)
    if battery.low_v > half:
        yield (
            f"battery: low_v {battery.low_v:g} stops it with half of the charge left, where the pack still "
            f"rests at {half:.3g} V; lower low_v, or give the cells and the curve of this pack"
        )
    empty = _full_v(battery, 0.0)
    if battery.low_v < 0.9 * empty:
        yield (
            f"battery: low_v {battery.low_v:g} is never reached before the pack is empty at {empty:.3g} V; "
            "raise low_v, or look at cells and curve"
        )


def _parts(robot: Robot) -> Iterator[str]:
    chassis = robot.chassis
    if chassis is None or not robot.part:
        return
    parts = [Part(part.name, part.mass_kg, part.at_m) for part in robot.part]
    listed = total_mass(parts)
    if abs(listed - chassis.mass_kg) > MASS_OFF * chassis.mass_kg:
        yield (
            f"chassis: mass_kg {chassis.mass_kg:g} beside {listed:.3g} kg of parts; weigh the robot, "
            "or list what is missing as a [[part]]"
        )
    given, made = chassis.centre_of_gravity_m, centre_of_gravity(parts)
    if given is None:
        return
    off = max(abs(a - b) for a, b in zip(given, made, strict=True))
    if off > CENTRE_OFF_M:
        yield (
            f"chassis: centre_of_gravity_m {_millimetres(given)} beside {_millimetres(made)} of the parts; "
            "leave it out to let the parts say it, or correct their at_m"
        )


def _spans(robot: Robot) -> Iterator[str]:
    """Track and wheelbase against the wheels' places."""
    chassis, wheels = robot.chassis, robot.wheel.values()
    if chassis is None or not wheels:
        return
    spans = (
        ("track_m", chassis.track_m, "y_m", [wheel.y_m for wheel in wheels]),
        ("wheelbase_m", chassis.wheelbase_m, "x_m", [wheel.x_m for wheel in wheels]),
    )
    for key, given, place, places in spans:
        made = max(places) - min(places)
        if given is not None and made > 0 and abs(made / given - 1) > SPAN_OFF:
            yield f"chassis: {key} {given:g} beside {made:.3g} m between the wheels' {place}; measure again"


def _millimetres(place: tuple[float, float, float]) -> str:
    return "(" + ", ".join(f"{1000 * value:.0f}" for value in place) + ") mm"


def _travels(robot: Robot) -> Iterator[str]:
    made = prepare(robot).robot
    if made is None:
        return
    for index, actuator in enumerate(made.actuators):
        section = robot.actuator[actuator.name]
        if section.full_travel_ms is None:
            continue
        seconds = travel_seconds(made, index)
        if seconds is None:
            yield (
                f"actuator.{actuator.name}: full_travel_ms {section.full_travel_ms:g} beside a screw that "
                "does not reach its end under its load; look at motor, screw and load"
            )
            continue
        computed = 1000 * seconds
        if abs(computed / section.full_travel_ms - 1) > TRAVEL_OFF:
            yield (
                f"actuator.{actuator.name}: full_travel_ms {section.full_travel_ms:g} beside "
                f"{computed:.0f} ms that motor, screw, load and travel_mm make; measure it on the robot"
            )
