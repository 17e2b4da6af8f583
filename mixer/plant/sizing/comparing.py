"""Motors side by side: what another motor brings to the same robot.

The other motor takes the place of one motor wherever that hangs; everything else stays, mass included.
"""

from dataclasses import dataclass, replace

from mixer.plant.parts.gearing import Gearing
from mixer.plant.parts.heat import HeatPath
from mixer.plant.parts.motor import Motor
from mixer.plant.parts.quantities import require
from mixer.plant.parts.robot import Output, Robot
from mixer.plant.sizing.report import SizeReport

COMPARED = ("top_speed", "sprint", "turn_rate", "push", "charge", "peak_a", "lowest_v")


@dataclass(frozen=True, slots=True)
class Change:
    """One number before and after."""

    key: str
    label: str
    unit: str
    before: float | None
    after: float | None

    @property
    def percent(self) -> float | None:
        """Change in percent of the value before."""
        if self.before is None or self.after is None or self.before == 0:
            return None
        return 100 * (self.after - self.before) / abs(self.before)


def with_motor(robot: Robot, old: str, name: str, fitted: tuple[Motor, Gearing, HeatPath | None]) -> Robot:
    """The robot with `fitted` wherever the motor `old` was. Raises ProfileError where no output has it."""
    names = sorted({output.motor_name for output in robot.outputs if output.motor is not None})
    require(old in names, "motor", f"no output carries a motor {old!r}", f"one of {', '.join(names)}")

    def changed(output: Output) -> Output:
        if output.motor_name != old:
            return output
        motor, gearing, heat = fitted
        return replace(output, motor=motor, gearing=gearing, heat=heat, motor_name=name)

    return replace(robot, outputs=tuple(changed(output) for output in robot.outputs))


def changes(before: SizeReport, after: SizeReport) -> tuple[Change, ...]:
    """The numbers worth comparing: speeds, push, charge, peaks, each output's current and winding."""
    rows = []
    later = {finding.key: finding for finding in after.findings}
    for finding in before.findings:
        first = finding.key.split(".")[0]
        if finding.key not in COMPARED and first not in ("stall_a", "typical_a", "winding_c", "stall_s"):
            continue
        other = later.get(finding.key)
        rows.append(
            Change(finding.key, finding.label, finding.unit, finding.value, other.value if other else None)
        )
    return tuple(rows)
