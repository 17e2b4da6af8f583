"""Invented robots for the physics' tests; numbers of plausible size, no product's."""

from mixer.plant.parts.battery import GENERIC_LITHIUM, Battery
from mixer.plant.parts.driver import Driver
from mixer.plant.parts.gearing import Gearing
from mixer.plant.parts.heat import HeatPath
from mixer.plant.parts.lift import Linkage
from mixer.plant.parts.motor import SheetPoints, motor_from_points
from mixer.plant.parts.quantities import GRAVITY
from mixer.plant.parts.robot import Actuator, Lift, Output, Robot, Wheel
from mixer.plant.parts.screw import metric_screw

SMALL_MOTOR = motor_from_points(SheetPoints(12.0, 12000.0, 0.12, 3.2, 0.03), inertia_kgm2=4e-7)
SMALL_HEAT = HeatPath(12.0, 28.0, 9.0, 320.0, 125.0)


def pack(ohm: float = 0.06, **more: float) -> Battery:
    """A three-cell pack of 0.85 Ah."""
    curve = tuple((share, 3 * volts) for share, volts in GENERIC_LITHIUM)
    return Battery(curve, 0.85, ohm, lead_ohm=0.012, **more)


def drive_output(name: str, count: int = 1, **driver: float) -> Output:
    """A channel with geared small motors."""
    given = {"resistance_ohm": 0.25, "drop_v": 0.1, "brakes": True, **driver}
    return Output(name, Driver(**given), SMALL_MOTOR, Gearing(20.0, 0.75), count, SMALL_HEAT, "small")


def tank(wheels_a_side: int = 2, mass: float = 1.4, **more: object) -> Robot:
    """Two outputs, the wheels of a side on one of them."""
    names = ("left", "right")
    count = 2 * wheels_a_side
    places = [0.06 - 0.12 * number / max(wheels_a_side - 1, 1) for number in range(wheels_a_side)]
    wheels = tuple(
        Wheel(f"{name}{number}", side, x, 0.07 - 0.14 * side, 0.025, mass * GRAVITY / count, rolling=0.02)
        for side, name in enumerate(names)
        for number, x in enumerate(places)
    )
    outputs = tuple(drive_output(name, wheels_a_side) for name in names)
    return Robot("tank", more.pop("battery", pack()), outputs, mass, 0.006, wheels, **more)  # type: ignore[arg-type]


def screw_actuator(name: str, output: int, **more: object) -> Actuator:
    """30 mm on M5."""
    return Actuator(name, output, metric_screw("M5", 0.2), 0.03, **more)  # type: ignore[arg-type]


def many_motored(mass: float = 1.5) -> Robot:
    """Eight wheels on eight outputs and two screw actuators under one lever: ten motors."""
    wheels = tuple(
        Wheel(f"w{number}", number, 0.075 - 0.05 * (number % 4), 0.07 if number < 4 else -0.07, 0.02,
              mass * GRAVITY / 8, rolling=0.02)
        for number in range(8)
    )  # fmt: skip
    outputs = tuple(drive_output(f"m{number}") for number in range(10))
    actuators = (
        screw_actuator("a", 8, stops="seen", out_contact="a_out", in_contact="a_in"),
        screw_actuator("b", 9, stops="circuit"),
    )
    lift = Lift("arm", Linkage("lever", 0.03, 0.12, 0.05), (0, 1), 15.0)
    return Robot("many", pack(), outputs, mass, 0.007, wheels, actuators, (lift,), idle_a=0.15)
