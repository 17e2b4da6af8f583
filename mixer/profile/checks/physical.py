"""Physical data that cannot be: refused with the reason. Single values are bounded in their sections."""

from collections.abc import Iterable, Iterator

from mixer.errors import offer
from mixer.profile.read.complaint import Complaint
from mixer.profile.read.lines import KeyPath
from mixer.profile.schema.outputs import Output
from mixer.profile.schema.physical import Battery, Motor, Screw
from mixer.profile.schema.root import Robot

_POINTS = ("nominal_v", "no_load_rpm", "no_load_a", "stall_nm", "stall_a")
_CONSTANTS = ("resistance_ohm", "torque_constant_nm_per_a")


def check_physical(robot: Robot) -> Iterator[Complaint]:
    """Every complaint about motors, battery, screws and references between physical things."""
    for name, motor in robot.motor.items():
        yield from _motor(("motor", name), motor)
    yield from _battery(robot.battery)
    yield from _drivers(robot)
    yield from _references(robot)
    for name, actuator in robot.actuator.items():
        yield from _screw(("actuator", name, "screw"), actuator.screw)
    yield from _lifts(robot)
    shares = [robot.match.push, robot.match.chase, robot.match.turn, robot.match.idle]
    if abs(sum(shares) - 1) > 1e-6:
        said = f"push, chase, turn and idle sum to {sum(shares):g}"
        yield Complaint(("match",), said, "give all four; together they are the whole match, 1")
    for name, output in robot.output.items():
        yield from _dead(("output", name, "dead_motors"), output)


def _dead(path: KeyPath, output: Output) -> Iterator[Complaint]:
    for number, dead in enumerate(output.dead_motors):
        if dead > output.motors:
            said = f"motor {dead} of {output.motors} cannot be dead"
            yield Complaint((*path, number), said, f"number them from 1 to {output.motors}")
    if len(set(output.dead_motors)) == output.motors:
        yield Complaint(path, "leaves no motor", "take the output out instead; its wheels then only roll")


def _drivers(robot: Robot) -> Iterator[Complaint]:
    for name, driver in robot.driver.items():
        if driver.rated_a is not None and driver.limit_a is not None and driver.limit_a < driver.rated_a:
            said = f"limit_a {driver.limit_a:g} is below rated_a {driver.rated_a:g}"
            yield Complaint(("driver", name, "limit_a"), said, "it limits at or above what it can carry")


def _lifts(robot: Robot) -> Iterator[Complaint]:
    for name, lift in robot.lift.items():
        needed = ("wedge_deg",) if lift.kind == "wedge" else ("arm_mm", "lever_mm")
        for key in needed:
            if getattr(lift, key) is None:
                yield Complaint(("lift", name, key), f"a {lift.kind} needs it", f"add {key}")


def _motor(path: KeyPath, motor: Motor) -> Iterator[Complaint]:
    points = [key for key in ("no_load_rpm", "stall_nm", "stall_a") if getattr(motor, key) is not None]
    constants = [key for key in _CONSTANTS if getattr(motor, key) is not None]
    if points and constants:
        said = f"describes the motor twice, by {points[0]} and by {constants[0]}"
        yield Complaint(
            (*path, constants[0]), said, "give the data sheet's points or the constants, not both"
        )
    elif points or constants:
        needed = _POINTS if points else (*_CONSTANTS, "no_load_a")
        missing = [key for key in needed if getattr(motor, key) is None]
        if missing:
            yield Complaint(
                path, f"lacks {', '.join(missing)}", f"all of {', '.join(needed)} belong together"
            )
    if motor.stall_a is not None and motor.no_load_a is not None and motor.stall_a <= motor.no_load_a:
        said = f"stall_a {motor.stall_a:g} is not above no_load_a {motor.no_load_a:g}"
        yield Complaint(
            (*path, "stall_a"), said, "a motor draws most at standstill; look for swapped columns"
        )
    heat = ("winding_to_case_k_per_w", "case_to_air_k_per_w", "winding_tau_s", "case_tau_s")
    given = [key for key in heat if getattr(motor, key) is not None]
    if motor.winding_tau_s and motor.case_tau_s and motor.winding_tau_s >= motor.case_tau_s:
        said = f"winding_tau_s {motor.winding_tau_s:g} is not below case_tau_s {motor.case_tau_s:g}"
        yield Complaint((*path, "winding_tau_s"), said, "the winding warms faster than the case around it")
    if not given and motor.winding_limit_c is not None:
        said = "says how hot the winding may become, and nothing says how hot it becomes"
        yield Complaint((*path, "winding_limit_c"), said, f"add {', '.join(heat)}, or take it out")
    if given and len(given) < len(heat):
        missing = [key for key in heat if key not in given]
        yield Complaint(path, f"lacks {', '.join(missing)}", f"all of {', '.join(heat)} belong together")


def _battery(battery: Battery | None) -> Iterator[Complaint]:
    if battery is None:
        return
    if (battery.lead_awg is None) != (battery.lead_length_m is None):
        missing = "lead_awg" if battery.lead_awg is None else "lead_length_m"
        yield Complaint(
            ("battery", missing), "leads need gauge and length", f"add {missing}, or leave both out"
        )
    if battery.low_v is not None and battery.low_v >= 4.5 * battery.cells:
        said = f"{battery.low_v:g} V is more than {battery.cells} cells ever have"
        yield Complaint(("battery", "low_v"), said, "give the volts of the whole pack at which to stop")
    for number, (before, after) in enumerate(
        zip(battery.curve or (), (battery.curve or ())[1:], strict=False)
    ):
        if after[0] <= before[0] or after[1] < before[1]:
            said = f"point {number + 2} does not rise above point {number + 1}"
            yield Complaint(
                ("battery", "curve", number + 1), said, "go from empty (0) to full (1), volts rising"
            )


def _screw(path: KeyPath, screw: Screw | None) -> Iterator[Complaint]:
    if screw is None:
        return
    measures = [key for key in ("diameter_mm", "pitch_mm") if getattr(screw, key) is not None]
    if screw.thread is not None and measures:
        said = f"describes the screw twice, by thread and by {measures[0]}"
        yield Complaint((*path, measures[0]), said, "give thread, or diameter_mm and pitch_mm")
    elif screw.thread is None and len(measures) < 2:
        yield Complaint(path, "lacks its size", 'give thread = "M6", or diameter_mm and pitch_mm')
    elif (
        screw.diameter_mm is not None and screw.pitch_mm is not None and screw.pitch_mm >= screw.diameter_mm
    ):
        said = f"pitch_mm {screw.pitch_mm:g} is not below diameter_mm {screw.diameter_mm:g}"
        yield Complaint((*path, "pitch_mm"), said, "for several threads use starts, not a longer pitch")
    if (screw.collar_friction > 0) != (screw.collar_mm is not None):
        missing = "collar_mm" if screw.collar_mm is None else "collar_friction"
        said = "a collar rubs by its friction and its diameter"
        yield Complaint((*path, missing), said, f"add {missing}, or leave both out")


def _references(robot: Robot) -> Iterator[Complaint]:
    for name, output in robot.output.items():
        yield from _known(("output", name, "motor"), output.motor, robot.motor, "motors")
        yield from _known(("output", name, "driver"), output.driver, robot.driver, "drivers")
    for name, actuator in robot.actuator.items():
        yield from _known(("actuator", name, "motor"), actuator.motor, robot.motor, "motors")
    for name, wheel in robot.wheel.items():
        yield from _known(("wheel", name, "output"), wheel.output, robot.output, "outputs")
        yield from _known(("wheel", name, "drags"), wheel.drags, robot.motor, "motors")
        if wheel.drags is not None and wheel.output is not None:
            said = f"is turned by output {wheel.output!r} and drags {wheel.drags!r} as well"
            remedy = "only a wheel without output drags one; for one of several give the output dead_motors"
            yield Complaint(("wheel", name, "drags"), said, remedy)
    for name, lift in robot.lift.items():
        for number, actuator_name in enumerate(lift.actuators):
            path = ("lift", name, "actuators", number)
            yield from _known(path, actuator_name, robot.actuator, "actuators")


def _known(path: KeyPath, name: str | None, known: Iterable[str], what: str) -> Iterator[Complaint]:
    names = list(known)
    if name is not None and name not in names:
        yield Complaint(path, f"no {what[:-1]} is called {name!r}", offer(name, names, what))
