"""Faults of what the outputs move."""

from dataclasses import dataclass

from mixer.faults.fault import Fault


@dataclass(frozen=True, slots=True)
class MotorGone(Fault):
    """A motor that gives nothing: stalled, disconnected or its driver switched off."""

    output: int = 0

    def effort(self, output: int) -> float:
        """Nothing on this output."""
        return 0.0 if output == self.output else 1.0


@dataclass(frozen=True, slots=True)
class Jammed(Fault):
    """An actuator that sticks before its stops."""

    actuator: int = 0

    def reach(self, actuator: int) -> tuple[float, float]:
        """It moves in the middle of its travel only."""
        return (0.25, 0.75) if actuator == self.actuator else (0.0, 1.0)
