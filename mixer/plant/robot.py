"""A robot as the physics sees it: parts with numbers, in the order of the plan's outputs.

Indices refer to `outputs`; -1 means none. `from_profile` builds it, tests write it by hand.
"""

import math
from dataclasses import dataclass, field, replace
from typing import Literal

from mixer.plant.parts.battery import Battery
from mixer.plant.parts.driver import Driver
from mixer.plant.parts.gearing import Gearing
from mixer.plant.parts.heat import HeatPath
from mixer.plant.parts.lift import Linkage
from mixer.plant.parts.motor import Motor
from mixer.plant.parts.quantities import require
from mixer.plant.parts.screw import Screw


@dataclass(frozen=True, slots=True)
class Output:
    """One motor channel and the `count` equal motors in parallel on it; no motor = draws nothing."""

    name: str
    driver: Driver = field(default_factory=Driver)
    motor: Motor | None = None
    gearing: Gearing = field(default_factory=Gearing)
    count: int = 1
    heat: HeatPath | None = None
    motor_name: str = ""


@dataclass(frozen=True, slots=True)
class Wheel:
    """A wheel at (x forward, y left) in m, driving towards `angle` (rad, 0 forward, pi/2 left).

    `slides` marks a wheel of rollers: it carries no force along them. `load_n` is the weight on it,
    `magnet_n` the pull added to its normal force but not to the robot's mass.
    """

    name: str
    output: int
    x: float
    y: float
    radius: float
    load_n: float
    angle: float = 0.0
    grip: float = 0.8
    rolling: float = 0.0
    magnet_n: float = 0.0
    slides: bool = False
    inertia_kgm2: float = 0.0

    def __post_init__(self) -> None:
        require(self.radius > 0, f"wheel.{self.name}.diameter_m", f"{2 * self.radius:g}", "more than zero")
        require(self.grip >= 0, "chassis.grip", f"{self.grip:g} is negative", "give zero or more")

    @property
    def normal_n(self) -> float:
        """Force between wheel and floor in N."""
        return max(self.load_n + self.magnet_n, 0.0)


@dataclass(frozen=True, slots=True)
class Actuator:
    """A screw driven by an output. Positive commands extend; lengths in m.

    `stops`: "seen" (switches the firmware reads), "circuit" (switches with diodes in the motor's own
    circuit), "none" (only the mechanical ends). Switches close `stop_margin` before the mechanical end.
    """

    name: str
    output: int
    screw: Screw
    travel: float
    stops: Literal["seen", "circuit", "none"] = "none"
    out_contact: str | None = None
    in_contact: str | None = None
    stop_margin: float = 0.0005
    diode_v: float = 0.7
    start: float = 0.0

    def __post_init__(self) -> None:
        require(
            self.travel > 0, f"actuator.{self.name}.travel_mm", f"{self.travel * 1000:g}", "more than 0"
        )

    @property
    def out_at(self) -> float:
        """Extension at which the outer switch closes."""
        return self.travel - min(self.stop_margin, self.travel / 4)

    @property
    def in_at(self) -> float:
        """Extension at which the inner switch closes."""
        return min(self.stop_margin, self.travel / 4)


@dataclass(frozen=True, slots=True)
class Lift:
    """A load in N that `actuators` (indices) raise together, each an equal share.

    `stiffness` in N/m couples them: the one ahead of their mean carries that much more.
    """

    name: str
    linkage: Linkage
    actuators: tuple[int, ...]
    load_n: float = 0.0
    stiffness: float = 0.0


@dataclass(frozen=True, slots=True)
class Opponent:
    """Another robot against the nose, pushed along for as long as the run lasts."""

    mass_kg: float
    grip: float


@dataclass(frozen=True, slots=True)
class Robot:
    """Everything the coupled step needs."""

    name: str
    battery: Battery
    outputs: tuple[Output, ...]
    mass_kg: float = 1.0
    yaw_inertia_kgm2: float = 0.01
    wheels: tuple[Wheel, ...] = ()
    actuators: tuple[Actuator, ...] = ()
    lifts: tuple[Lift, ...] = ()
    opponent: Opponent | None = None
    idle_a: float = 0.0
    air_c: float = 25.0

    def __post_init__(self) -> None:
        require(self.mass_kg > 0, "chassis.mass_kg", f"{self.mass_kg:g}", "give more than zero")
        require(
            self.yaw_inertia_kgm2 > 0, "chassis.yaw_inertia_kgm2", f"{self.yaw_inertia_kgm2:g}", "above 0"
        )

    def motors_at(self, wheel: Wheel) -> float:
        """How many of its output's motors turn this wheel (an equal share of them)."""
        if wheel.output < 0 or self.outputs[wheel.output].motor is None:
            return 0.0
        sharing = sum(other.output == wheel.output for other in self.wheels)
        return self.outputs[wheel.output].count / sharing


def flipped(robot: Robot) -> Robot:
    """The robot rolled onto its back: sides change, wheels push the other way, magnets hang in the air.

    With nose kept, (x, y) becomes (x, -y); a wheel driving towards (cos a, sin a) now drives towards
    (-cos a, sin a), because its other edge meets the floor.
    """
    wheels = tuple(
        replace(wheel, y=-wheel.y, angle=math.pi - wheel.angle, magnet_n=0.0) for wheel in robot.wheels
    )
    return replace(robot, wheels=wheels)
