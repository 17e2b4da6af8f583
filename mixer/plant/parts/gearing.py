"""A gear train: ratio, efficiency, and what is left of it when the load drives the motor.

Sources: referred torque from Dubey, Fundamentals of Electrical Drives, sec. 2.3; the
efficiency backwards, 2 - 1/e, is the classical result for equal friction both ways, which is why a
train with e <= 1/2 locks itself.
"""

from dataclasses import dataclass

from mixer.plant.parts.quantities import require

LEAST_BACKWARDS = 0.05
"""Below this the train locks; the friction that holds it is bounded so that a step stays solvable."""


@dataclass(frozen=True, slots=True)
class Gearing:
    """`ratio` turns of the motor for one of the output shaft."""

    ratio: float = 1.0
    efficiency: float = 1.0

    def __post_init__(self) -> None:
        require(self.ratio > 0, "motor.gear_ratio", f"{self.ratio:g} is not above zero", "give a ratio > 0")
        require(
            0 < self.efficiency <= 1,
            "motor.gear_efficiency",
            f"{self.efficiency:g} is not a share of the power",
            "give more than 0 and at most 1",
        )

    @property
    def backwards(self) -> float:
        """Efficiency with the load driving, 2 - 1/e, at least 0 (self-locking)."""
        return max(2 - 1 / self.efficiency, 0.0)

    @property
    def locks(self) -> bool:
        """Whether no load at the output can turn the motor."""
        return self.backwards <= 0

    def output_torque(self, motor_torque: float) -> float:
        """Torque at the output while the motor drives, in N·m."""
        return motor_torque * self.ratio * self.efficiency

    @property
    def holding(self) -> float:
        """Friction of the train while the load drives, as a share of what it holds: 1/backwards - 1."""
        return 1 / max(self.backwards, LEAST_BACKWARDS) - 1

    def held_torque(self, motor_torque: float) -> float:
        """Torque at the output that overcomes one at the motor, with the load driving, in N·m."""
        return motor_torque * self.ratio * (1 + self.holding)

    def motor_torque(self, output_torque: float) -> float:
        """Torque the motor must give to drive an output torque, in N·m."""
        return output_torque / (self.ratio * self.efficiency)
