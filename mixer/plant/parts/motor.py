"""A brushed permanent-magnet motor.

Convention (data sheets know three, this is ours and the only one): friction is a constant torque that
the no-load current feeds, so that with K = Kt = Ke in SI units

    V = R·I + K·w          T = K·I - Tf - D·w          Tf = K·I0
    stall current V/R      stall torque K·V/R - Tf     no-load speed (V - R·I0)/K

Stall torque is therefore *net* of friction. Sheets that print K·V/R are off by Tf, a few percent.
Inductance is neglected: L/R has to be short against what is asked.

Sources: the equations in any handbook of drives (Dubey, Fundamentals of Electrical Drives, ch. 5); the
torque line with friction and damping
from Pittman's data sheets.
"""

from dataclasses import dataclass, replace

from mixer.plant.parts.quantities import COPPER_PER_K, RADIANS_PER_RPM, REFERENCE_C, require


@dataclass(frozen=True, slots=True)
class OperatingPoint:
    """A steady state at given volts. Speeds in rad/s, torque in N·m, powers in W."""

    volts: float
    speed: float
    torque: float
    current: float

    @property
    def power_in(self) -> float:
        """Electrical power taken, in W."""
        return self.volts * self.current

    @property
    def power_out(self) -> float:
        """Mechanical power given, in W."""
        return self.torque * self.speed

    @property
    def efficiency(self) -> float:
        """Share of the power taken that is given; 0 where none is taken."""
        return self.power_out / self.power_in if self.power_in else 0.0


@dataclass(frozen=True, slots=True)
class Motor:
    """Constants of one motor, SI units, resistance at 20 °C."""

    resistance_ohm: float
    constant: float
    """Kt in N·m/A, the same number as Ke in V·s/rad."""
    friction_nm: float = 0.0
    viscous_nms: float = 0.0
    inertia_kgm2: float = 0.0

    def __post_init__(self) -> None:
        for key in ("resistance_ohm", "constant"):
            value = getattr(self, key)
            require(value > 0, f"motor.{key}", f"{value:g} is not above zero", "give a positive number")
        for key in ("friction_nm", "viscous_nms", "inertia_kgm2"):
            value = getattr(self, key)
            require(value >= 0, f"motor.{key}", f"{value:g} is negative", "give zero or more")

    @property
    def damping(self) -> float:
        """Torque lost per rad/s at constant volts through back-EMF, K²/R in N·m·s."""
        return self.constant**2 / self.resistance_ohm

    def stall_current(self, volts: float) -> float:
        """Current at standstill, V/R in A."""
        return volts / self.resistance_ohm

    def stall_torque(self, volts: float) -> float:
        """Net torque at standstill in N·m, 0 where friction holds the motor."""
        return max(self.constant * self.stall_current(volts) - self.friction_nm, 0.0)

    def at_speed(self, volts: float, speed: float) -> OperatingPoint:
        """The point at a forward speed in rad/s."""
        current = (volts - self.constant * speed) / self.resistance_ohm
        torque = self.constant * current - self.friction_nm - self.viscous_nms * speed
        return OperatingPoint(volts, speed, torque, current)

    def at_torque(self, volts: float, torque: float) -> OperatingPoint:
        """The point at a net load torque in N·m."""
        speed = (self.constant * volts / self.resistance_ohm - self.friction_nm - torque) / (
            self.damping + self.viscous_nms
        )
        return self.at_speed(volts, speed)

    def parallel(self, count: int) -> "Motor":
        """`count` equal motors on one channel and one shaft as one motor (Kirchhoff): R/n, J·n, Tf·n, K."""
        require(count >= 1, "output.motors", f"{count} motors", "give one or more")
        return Motor(
            self.resistance_ohm / count,
            self.constant,
            self.friction_nm * count,
            self.viscous_nms * count,
            self.inertia_kgm2 * count,
        )

    def at_temperature(self, celsius: float) -> "Motor":
        """The same motor with its copper at another temperature; magnets are taken as unchanged."""
        factor = 1 + COPPER_PER_K * (celsius - REFERENCE_C)
        return replace(self, resistance_ohm=self.resistance_ohm * factor)


@dataclass(frozen=True, slots=True)
class SheetPoints:
    """What a data sheet prints for one voltage."""

    nominal_v: float
    no_load_rpm: float
    no_load_a: float
    stall_a: float
    stall_nm: float

    def __post_init__(self) -> None:
        for key in ("nominal_v", "no_load_rpm", "stall_a", "stall_nm"):
            value = getattr(self, key)
            require(value > 0, f"motor.{key}", f"{value:g} is not above zero", "give a positive number")
        require(self.no_load_a >= 0, "motor.no_load_a", f"{self.no_load_a:g} is negative", "zero or more")
        require(
            self.stall_a > self.no_load_a,
            "motor.stall_a",
            f"{self.stall_a:g} A at stall is not above {self.no_load_a:g} A without load",
            "a stalled motor draws the most: check which number is which",
        )


def motor_from_points(points: SheetPoints, ratio: float = 1.0, inertia_kgm2: float = 0.0) -> Motor:
    """The motor behind a sheet, from its currents and speed: R = V/Is, K = (V - R·I0)/w0, Tf = K·I0.

    `ratio` is the gearing between the motor and the shaft whose speed and torque were printed. The
    printed stall torque is not needed for this; what it says is `sheet_efficiency`.
    """
    resistance = points.nominal_v / points.stall_a
    speed = points.no_load_rpm * RADIANS_PER_RPM * ratio
    constant = (points.nominal_v - resistance * points.no_load_a) / speed
    return Motor(resistance, constant, constant * points.no_load_a, inertia_kgm2=inertia_kgm2)


def sheet_efficiency(points: SheetPoints) -> float:
    """Printed stall torque over the torque that K makes of the current left after friction.

    Kt and Ke are one constant, so that for a gearmotor this quotient is the gearing's efficiency; for a
    bare motor it is near 1, and far from 1 it says that the sheet contradicts itself.
    """
    geared = motor_from_points(points)
    return points.stall_nm / geared.stall_torque(points.nominal_v)
