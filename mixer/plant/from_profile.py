"""From a robot's profile to the physics: the one place where the two meet.

What a profile does not say leaves out what needs it, and `left_out` tells so in words; nothing is made
up silently. Where a plain stand-in exists (a uniform plate's inertia, a generic cell's rest volts) it is
taken and named there too.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple, TypeAlias

from mixer.plant.parts.battery import GENERIC_LITHIUM, Battery
from mixer.plant.parts.driver import Driver
from mixer.plant.parts.gearing import Gearing
from mixer.plant.parts.heat import HeatPath
from mixer.plant.parts.lift import Linkage
from mixer.plant.parts.mass import Part, centre_of_gravity, plate_yaw_inertia, tips, wheel_loads
from mixer.plant.parts.motor import Motor, SheetPoints, motor_from_points
from mixer.plant.parts.quantities import GRAVITY
from mixer.plant.parts.robot import Actuator, Dragged, Lift, Opponent, Output, Robot, Skid, Wheel
from mixer.plant.parts.screw import Screw, metric_screw, screw_by_measures
from mixer.plant.parts.wire import lead_resistance
from mixer.profile.schema import outputs as sections
from mixer.profile.schema import physical
from mixer.profile.schema import root as schema

USUAL_START_S = 0.01
"""Mechanical time constant of a bare motor where its rotor is unknown: sheets print 3 to 20 ms."""


Motors: TypeAlias = dict[str, tuple[Motor, HeatPath | None] | None]
"""By name; None where a motor's data do not suffice."""


class Shares(NamedTuple):
    """How a match is spent; together 1."""

    push: float
    chase: float
    turn: float
    idle: float


@dataclass(frozen=True, slots=True)
class Prepared:
    """A robot ready for the physics, and what a question about it also needs."""

    robot: Robot | None
    """None without a battery, or without any motor: then nothing electrical can be told."""
    left_out: tuple[str, ...]
    """What could not be taken in, or was replaced by a stand-in, in words."""
    parts: tuple[Part, ...]
    mass_kg: float | None
    class_limit_kg: float | None
    track_m: float | None
    stance: "Stance"
    lifted: "tuple[tuple[str, Stance], ...]"
    """How the robot stands with each lift's load on it, furthest out; lifts that say where they stand."""
    unsaid_at_zero: tuple[str, ...]
    """Outputs of driven wheels of whose controllers the profile does not say what they do at zero."""
    minutes: float
    shares: Shares
    duty: float
    arena_m: float | None
    opponent: Opponent | None


@dataclass(frozen=True, slots=True)
class Stance:
    """How the robot stands on level ground, nothing raised."""

    centre: tuple[float, float, float]
    """Centre of gravity in m."""
    by_parts: bool
    """Whether the parts said where that is."""
    loads_n: tuple[tuple[str, float], ...]
    """Weight on each wheel, then on each skid."""
    tips: bool


def stance_of(profile: schema.Robot, more_kg: float = 0.0, more_at: tuple[float, float] = (0, 0)) -> Stance:
    """How the robot stands, with something more on it where given."""
    chassis = profile.chassis
    if chassis is None:
        return Stance((0.0, 0.0, 0.0), False, (), False)
    parts = tuple(Part(part.name, part.mass_kg, part.at_m) for part in profile.part)
    centre = chassis.centre_of_gravity_m or (centre_of_gravity(parts) if parts else (0.0, 0.0, 0.0))
    mass = chassis.mass_kg + more_kg
    x, y = ((chassis.mass_kg * centre[axis] + more_kg * more_at[axis]) / mass for axis in (0, 1))
    places = {name: (wheel.x_m, wheel.y_m) for name, wheel in profile.wheel.items()}
    places |= {f"skid {name}": (skid.x_m, skid.y_m) for name, skid in profile.skid.items()}
    standing = list(places.values())
    loads = tuple(zip(places, wheel_loads(standing, mass, (x, y)), strict=True))
    by_parts = chassis.centre_of_gravity_m is None and bool(parts)
    return Stance((x, y, centre[2]), by_parts, loads, tips(standing, (x, y)))


def _unsaid_at_zero(profile: schema.Robot) -> tuple[str, ...]:
    driven = dict.fromkeys(wheel.output for wheel in profile.wheel.values() if wheel.output is not None)
    return tuple(output for output in driven if profile.output[output].at_zero is None)


def _lifted(profile: schema.Robot) -> Iterator[tuple[str, Stance]]:
    for name, lift in profile.lift.items():
        if lift.hinge_x_m is None or not lift.load_kg:
            continue
        lever, travel = lift.lever_mm or 0.0, 0.0
        for actuator in lift.actuators:
            travel = max(travel, profile.actuator[actuator].travel_mm or 0.0)
        low = math.radians(lift.start_deg)
        rise = math.sin(low) + travel / lever if lever else 0.0
        high = math.asin(max(-1.0, min(1.0, rise))) if lift.kind == "lever" else low
        # Furthest out where the arm is level, if it passes there.
        reach = 1.0 if low <= 0 <= high else max(math.cos(low), math.cos(high))
        way = 1 if lift.reaches == "front" else -1
        at = lift.hinge_x_m + way * reach * (lift.arm_mm or 0.0) / 1000
        yield name, stance_of(profile, lift.load_kg, (at, 0.0))


def prepare(profile: schema.Robot) -> Prepared:
    """The physics of a checked profile in one loadout. Raises ProfileError for impossible data."""
    missing: list[str] = []
    motors = {name: _motor(name, motor, missing) for name, motor in profile.motor.items()}
    outputs = tuple(
        _output(profile, name, output, motors, missing) for name, output in profile.output.items()
    )
    stance = stance_of(profile)
    if stance.tips:
        missing.append("the centre of gravity lies outside wheels and skids: the robot tips over")
    wheels = _wheels(profile, outputs, motors, stance, missing)
    robot = _robot(profile, outputs, wheels, stance, missing)
    chassis, match = profile.chassis, profile.match
    opponent = None if match.opponent_kg is None else Opponent(match.opponent_kg, match.opponent_grip)
    return Prepared(
        robot=robot,
        left_out=tuple(dict.fromkeys(missing)),
        parts=tuple(Part(part.name, part.mass_kg, part.at_m) for part in profile.part),
        mass_kg=chassis.mass_kg if chassis else None,
        class_limit_kg=chassis.class_limit_kg if chassis else None,
        track_m=chassis.track_m if chassis else None,
        stance=stance,
        lifted=tuple(_lifted(profile)),
        unsaid_at_zero=_unsaid_at_zero(profile),
        minutes=match.minutes,
        shares=Shares(match.push, match.chase, match.turn, match.idle),
        duty=match.duty,
        arena_m=match.arena_m,
        opponent=opponent,
    )


def _robot(
    profile: schema.Robot, outputs: tuple[Output, ...], wheels: tuple[Wheel, ...], stance: Stance,
    missing: list[str],
) -> Robot | None:  # fmt: skip
    battery = _battery(profile.battery, missing)
    if battery is None or not any(output.motor for output in outputs):
        if battery is not None:
            missing.append("no output names a motor with data: no speeds, currents or heat")
        return None
    actuators, places = _actuators(profile, outputs, missing)
    mass = profile.chassis.mass_kg if profile.chassis else 1.0
    return Robot(
        name=profile.robot.name,
        battery=battery,
        outputs=outputs,
        mass_kg=mass,
        yaw_inertia_kgm2=_yaw_inertia(profile, wheels, missing),
        wheels=wheels,
        actuators=actuators,
        lifts=_lifts(profile, actuators, places, missing),
        skids=_skids(profile, stance),
    )


def _motor(name: str, motor: physical.Motor, missing: list[str]) -> tuple[Motor, HeatPath | None] | None:
    if motor.rotor_inertia_kgm2 is None:
        missing.append(
            f"motor.{name}: without rotor_inertia_kgm2, one that starts up in {USUAL_START_S * 1000:g} ms"
        )
    heat = None
    if (
        motor.winding_to_case_k_per_w
        and motor.case_to_air_k_per_w
        and motor.winding_tau_s
        and motor.case_tau_s
    ):
        heat = HeatPath(
            motor.winding_to_case_k_per_w, motor.case_to_air_k_per_w, motor.winding_tau_s, motor.case_tau_s,
            motor.winding_limit_c,
        )  # fmt: skip
    else:
        missing.append(f"motor.{name}: without thermal data no temperatures")
    if motor.resistance_ohm and motor.torque_constant_nm_per_a:
        constant = motor.torque_constant_nm_per_a
        friction = constant * (motor.no_load_a or 0.0)
        bare = Motor(motor.resistance_ohm, constant, friction)
        return _with_rotor(bare, motor.rotor_inertia_kgm2), heat
    if motor.nominal_v and motor.no_load_rpm and motor.stall_a and motor.stall_nm:
        points = SheetPoints(
            motor.nominal_v, motor.no_load_rpm, motor.no_load_a or 0.0, motor.stall_a, motor.stall_nm
        )
        return _with_rotor(motor_from_points(points), motor.rotor_inertia_kgm2), heat
    missing.append(f"motor.{name}: without points or constants it turns nothing here")
    return None


def _with_rotor(motor: Motor, inertia_kgm2: float | None) -> Motor:
    return replace(motor, inertia_kgm2=inertia_kgm2 or USUAL_START_S * motor.damping)


def _output(
    profile: schema.Robot,
    name: str,
    output: sections.Output,
    motors: Motors,
    missing: list[str],
) -> Output:
    driver = profile.driver.get(output.driver or "")
    if driver is None:
        missing.append(f"output.{name}: without a driver its bridge has no losses and no rating here")
        driver = physical.Driver()
    if output.at_zero is None:
        both = any(wheel.output == name for wheel in profile.wheel.values())
        stops = "; stops are told both ways" if both else ""
        missing.append(f"output.{name}: without at_zero its controller is taken to brake at zero{stops}")
    brakes = output.at_zero != "coast"
    path = Driver(driver.rated_a, driver.limit_a, driver.resistance_ohm, driver.drop_v, brakes)
    motor_name = output.motor or _actuator_motor(profile, name)
    known = motors.get(motor_name)
    if known is None:
        missing.append(f"output.{name}: without a motor it draws nothing here")
        return Output(name, path)
    if not _turns_something(profile, name):
        missing.append(f"output.{name}: without a wheel or an actuator its motor draws nothing here")
        return Output(name, path)
    section = profile.motor[motor_name]
    gearing = Gearing(section.gear_ratio, section.gear_efficiency)
    return Output(
        name, path, known[0], gearing, output.motors, known[1], motor_name,
        nominal_v=section.nominal_v, gear_torque_nm=section.gear_torque_nm,
    )  # fmt: skip


def _turns_something(profile: schema.Robot, output: str) -> bool:
    """Whether the physics knows what hangs on it: only then have its currents a meaning."""
    wheels = (wheel.output for wheel in profile.wheel.values())
    return output in {*wheels, *(actuator.output for actuator in profile.actuator.values())}


def _actuator_motor(profile: schema.Robot, output: str) -> str:
    found = [actuator.motor for actuator in profile.actuator.values() if actuator.output == output]
    return found[0] or "" if found else ""


def _battery(battery: physical.Battery | None, missing: list[str]) -> Battery | None:
    if battery is None:
        missing.append("no [battery]: no speeds, currents or heat")
        return None
    curve = battery.curve
    if curve is None:
        missing.append("battery: without a curve, rest volts of a generic lithium cell")
        curve = GENERIC_LITHIUM
    leads = 0.0
    if battery.lead_awg is not None and battery.lead_length_m is not None:
        leads = lead_resistance(battery.lead_awg, battery.lead_length_m)
    if not battery.resistance_ohm:
        missing.append("battery: without resistance_ohm its cells do not sag here")
    return Battery(
        tuple((share, volts * battery.cells) for share, volts in curve),
        battery.capacity_ah,
        battery.resistance_ohm,
        lead_ohm=leads,
        c_rating=battery.c_rating,
        low_v=battery.low_v,
    )


def _wheels(
    profile: schema.Robot, outputs: tuple[Output, ...], motors: Motors, stance: Stance, missing: list[str]
) -> tuple[Wheel, ...]:
    chassis = profile.chassis
    if chassis is None or not profile.wheel:
        missing.append("without [chassis] and [wheel.NAME] no speeds, push or turning")
        return ()
    names, loads, count = list(profile.output), dict(stance.loads_n), len(profile.wheel)
    return tuple(
        Wheel(
            name=name,
            output=names.index(wheel.output) if wheel.output is not None else -1,
            x=wheel.x_m - stance.centre[0],
            y=wheel.y_m - stance.centre[1],
            radius=wheel.diameter_m / 2,
            load_n=loads[name],
            angle=math.radians(wheel.angle_deg),
            grip=chassis.grip,
            rolling=chassis.rolling,
            magnet_n=chassis.magnet_n / count,
            magnet_back_n=chassis.magnet_back_n / count,
            slides=wheel.kind == "roller",
            dragged=_dragged(profile, name, outputs, motors),
        )
        for name, wheel in profile.wheel.items()
    )


def _dragged(
    profile: schema.Robot, name: str, outputs: tuple[Output, ...], motors: Motors
) -> Dragged | None:
    """The dead gearmotors on a wheel: those it says, or those of its output's that hang on it."""
    wheel = profile.wheel[name]
    if wheel.output is None:
        known = motors.get(wheel.drags or "")
        if known is None:
            return None
        section = profile.motor[wheel.drags or ""]
        return Dragged(known[0], Gearing(section.gear_ratio, section.gear_efficiency), wheel.drags_count)
    output = outputs[list(profile.output).index(wheel.output)]
    dead = profile.output[wheel.output].dead_motors
    if not dead or output.motor is None:
        return None
    own = [other for other, item in profile.wheel.items() if item.output == wheel.output]
    share, at = output.count / len(own), own.index(name)
    hung = sum(max(0.0, min(number, (at + 1) * share) - max(number - 1, at * share)) for number in dead)
    return Dragged(output.motor, output.gearing, hung) if hung else None


def _skids(profile: schema.Robot, stance: Stance) -> tuple[Skid, ...]:
    loads = dict(stance.loads_n)
    return tuple(
        Skid(name, skid.x_m - stance.centre[0], skid.y_m - stance.centre[1],
             max(loads[f"skid {name}"], 0.0), skid.friction)
        for name, skid in profile.skid.items()
    )  # fmt: skip


def _yaw_inertia(profile: schema.Robot, wheels: Iterable[Wheel], missing: list[str]) -> float:
    chassis = profile.chassis
    if chassis is None:
        return 1.0
    if chassis.yaw_inertia_kgm2 is not None:
        return chassis.yaw_inertia_kgm2
    missing.append("chassis: without yaw_inertia_kgm2, that of a uniform plate over the wheels")
    wheels = list(wheels)
    spread_x = max((wheel.x for wheel in wheels), default=0) - min((wheel.x for wheel in wheels), default=0)
    spread_y = max((wheel.y for wheel in wheels), default=0) - min((wheel.y for wheel in wheels), default=0)
    length = chassis.wheelbase_m or spread_x or spread_y or 0.1
    return plate_yaw_inertia(chassis.mass_kg, length, chassis.track_m or spread_y or length)


def _screw(screw: physical.Screw) -> Screw:
    if screw.thread is not None:
        made = metric_screw(screw.thread, screw.friction, screw.starts)
    else:
        assert screw.diameter_mm is not None
        assert screw.pitch_mm is not None
        made = screw_by_measures(
            screw.diameter_mm, screw.pitch_mm, screw.starts, screw.friction, screw.half_angle_deg
        )
    collar = (screw.collar_mm or 0.0) / 1000
    return replace(made, collar_friction=screw.collar_friction, collar_diameter=collar)


def _actuators(
    profile: schema.Robot, outputs: tuple[Output, ...], missing: list[str]
) -> tuple[tuple[Actuator, ...], dict[str, int]]:
    names = list(profile.output)
    made: list[Actuator] = []
    places: dict[str, int] = {}
    for name, actuator in profile.actuator.items():
        output = names.index(actuator.output)
        needs = {"motor": outputs[output].motor, "screw": actuator.screw, "travel_mm": actuator.travel_mm}
        lacks = [key for key, there in needs.items() if there is None]
        if lacks or actuator.screw is None or actuator.travel_mm is None:
            missing.append(f"actuator.{name}: without {' and '.join(lacks)} it does not move here")
            continue
        seen = actuator.out_stop is not None or actuator.in_stop is not None
        places[name] = len(made)
        made.append(
            Actuator(
                name,
                output,
                _screw(actuator.screw),
                actuator.travel_mm / 1000,
                "circuit" if actuator.stops_in_circuit else "seen" if seen else "none",
                actuator.out_stop,
                actuator.in_stop,
            )
        )
    return tuple(made), places


def _lifts(
    profile: schema.Robot, actuators: tuple[Actuator, ...], places: dict[str, int], missing: list[str]
) -> tuple[Lift, ...]:
    lifts = []
    for name, lift in profile.lift.items():
        moved = tuple(places[actuator] for actuator in lift.actuators if actuator in places)
        if len(moved) < len(lift.actuators):
            missing.append(f"lift.{name}: left out, because one of its actuators is")
            continue
        if lift.load_kg is None:
            missing.append(f"lift.{name}: without load_kg it runs empty here")
        linkage = Linkage(
            lift.kind,
            min(actuators[index].travel for index in moved),
            (lift.arm_mm or 0.0) / 1000,
            (lift.lever_mm or 0.0) / 1000,
            math.radians(lift.start_deg),
            math.radians(lift.wedge_deg or 0.0),
        )
        lifts.append(Lift(name, linkage, moved, (lift.load_kg or 0.0) * GRAVITY))
    return tuple(lifts)
