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
from mixer.plant.parts.lift import Linkage, Spring
from mixer.plant.parts.motor import Motor
from mixer.plant.parts.quantities import require
from mixer.plant.parts.screw import Screw
from mixer.plant.parts.traction import traction_limit


@dataclass(frozen=True, slots=True)
class Output:
    """One motor channel and the `count` equal motors in parallel on it; no motor = draws nothing.

    `stuck` is the duty of a controller that does not listen any more, `share` what one that has grown weak
    puts out of what it is told.
    """

    name: str
    driver: Driver = field(default_factory=Driver)
    motor: Motor | None = None
    gearing: Gearing = field(default_factory=Gearing)
    count: int = 1
    heat: HeatPath | None = None
    motor_name: str = ""
    stuck: float | None = None
    share: float = 1.0
    nominal_v: float | None = None
    """For which the motor's sheet holds."""
    gear_torque_nm: float | None = None
    """What the gearing of one motor stands at its output shaft."""

    def stall_current(self, rest_v: float, series_ohm: float = 0.0, celsius: float = 25.0) -> float:
        """Current in A at full command with its motors held, behind a resistance, after its own limit."""
        if self.motor is None:
            return 0.0
        motor = self.motor.parallel(self.count).at_temperature(celsius)
        ohm = motor.resistance_ohm + self.driver.resistance_ohm + series_ohm
        return self.driver.limited(self.driver.motor_volts(1.0, rest_v) / ohm)


@dataclass(frozen=True, slots=True)
class Dragged:
    """`count` gearmotors that nothing feeds, turned by the wheel they hang on."""

    motor: Motor
    gearing: Gearing
    count: float = 1.0


@dataclass(frozen=True, slots=True)
class Wheel:
    """A wheel at (x forward, y left) in m, driving towards `angle` (rad, 0 forward, pi/2 left).

    `slides` marks a wheel of rollers: it carries no force along them. `load_n` is the weight on it,
    `magnet_n` the pull added to its normal force but not to the robot's mass, `magnet_back_n` the same
    with the robot on its back. `dragged` are dead gearmotors on it, `seized` says that it cannot turn.
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
    magnet_back_n: float = 0.0
    slides: bool = False
    inertia_kgm2: float = 0.0
    dragged: Dragged | None = None
    seized: bool = False

    def __post_init__(self) -> None:
        require(self.radius > 0, f"wheel.{self.name}.diameter_m", f"{2 * self.radius:g}", "more than zero")
        require(self.grip >= 0, "chassis.grip", f"{self.grip:g} is negative", "give zero or more")

    @property
    def normal_n(self) -> float:
        """Force between wheel and floor in N."""
        return max(self.load_n + self.magnet_n, 0.0)

    @property
    def most_n(self) -> float:
        """The most it can push along the floor, in N."""
        return traction_limit(self.grip, self.load_n, self.magnet_n)


@dataclass(frozen=True, slots=True)
class Skid:
    """Something that rubs on the floor and carries `load_n` of the weight: a nose, a scoop, a stub."""

    name: str
    x: float
    y: float
    load_n: float
    friction: float


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
    start: float = 0.0
    seized: bool = False

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
    linkage: Linkage | Spring
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
    skids: tuple[Skid, ...] = ()

    def __post_init__(self) -> None:
        require(self.mass_kg > 0, "chassis.mass_kg", f"{self.mass_kg:g}", "give more than zero")
        require(
            self.yaw_inertia_kgm2 > 0, "chassis.yaw_inertia_kgm2", f"{self.yaw_inertia_kgm2:g}", "above 0"
        )

    def motors_at(self, wheel: Wheel) -> float:
        """How many motors drive this wheel: an equal share of its output's, less those that are dead."""
        if wheel.output < 0 or self.outputs[wheel.output].motor is None:
            return 0.0
        sharing = sum(other.output == wheel.output for other in self.wheels)
        dead = wheel.dragged.count if wheel.dragged else 0.0
        return max(self.outputs[wheel.output].count / sharing - dead, 0.0)

    def stall_currents(self) -> tuple[float, ...]:
        """Current of each output alone at full command with its motors held, in A, cold, sag included."""
        volts = self.battery.rest_volts(1.0)
        return tuple(
            output.stall_current(volts, self.battery.series_ohm, self.air_c) for output in self.outputs
        )


def flipped(robot: Robot) -> Robot:
    """The robot rolled onto its back: sides change, wheels push the other way, the other magnets pull.

    With nose kept, (x, y) becomes (x, -y); a wheel driving towards (cos a, sin a) now drives towards
    (-cos a, sin a), because its other edge meets the floor.
    """
    wheels = tuple(
        replace(
            wheel, y=-wheel.y, angle=math.pi - wheel.angle,
            magnet_n=wheel.magnet_back_n, magnet_back_n=wheel.magnet_n,
        )
        for wheel in robot.wheels
    )  # fmt: skip
    return replace(robot, wheels=wheels, skids=tuple(replace(skid, y=-skid.y) for skid in robot.skids))
