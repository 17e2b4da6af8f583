"""What switches a motor's current: duty to volts, its own losses, its limit.

The bridge is taken as averaged over its switching period, current flowing on through the lower switches
while it is off ("slow decay", the brake row of every H-bridge truth table), so that the motor sees
duty x bus volts and the bus sees duty x motor current; a motor faster than its duty then charges the
battery. At a duty of zero the profile says whether the terminals are shorted (brake) or open (coast).
Dead time and diode paths are one fixed drop against the current.

Source: chopper control with motoring and regenerative braking, Dubey, ch. 5.19; four-row H-bridge truth
table: TI DRV8833 data sheet.
"""

from dataclasses import dataclass

from mixer.plant.parts.quantities import require


@dataclass(frozen=True, slots=True)
class Driver:
    """One motor channel. Ohms and drop count the whole path through the bridge."""

    rated_a: float | None = None
    limit_a: float | None = None
    resistance_ohm: float = 0.0
    drop_v: float = 0.0
    brakes: bool = False

    def __post_init__(self) -> None:
        for key in ("rated_a", "limit_a"):
            value = getattr(self, key)
            ok = value is None or value > 0
            require(ok, f"driver.{key}", f"{value} is not above zero", "give a positive current")
        for key in ("resistance_ohm", "drop_v"):
            value = getattr(self, key)
            require(value >= 0, f"driver.{key}", f"{value:g} is negative", "give zero or more")

    def motor_volts(self, duty: float, bus_volts: float) -> float:
        """Mean volts behind the drop for a duty in [-1, 1]; the drop never reverses them."""
        volts = abs(duty) * bus_volts - self.drop_v
        return max(volts, 0.0) if duty >= 0 else -max(volts, 0.0)

    def limited(self, current: float) -> float:
        """The current after the channel's own limit."""
        if self.limit_a is None:
            return current
        return max(-self.limit_a, min(current, self.limit_a))
