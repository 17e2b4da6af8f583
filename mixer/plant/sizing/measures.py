"""What a drive did to the robot: charge, stall, slip, heat. Fed with snapshots, in any order of tools."""

import math
from dataclasses import dataclass, field

from mixer.plant.parts.robot import Output, Robot
from mixer.plant.plant import Snapshot

STALL_SHARE = 0.8
"""An output draws at least this share of its stall current at the present volts: it counts as stalled."""
SLIDING_MPS = 0.05


@dataclass(slots=True)
class Measures:
    """Sums over a run; call `add` once a step."""

    robot: Robot
    seconds: float = 0.0
    charge_ah: float = 0.0
    peak_a: float = 0.0
    lowest_v: float = math.inf
    peak_output_a: list[float] = field(default_factory=list)
    square_a: list[float] = field(default_factory=list)
    """Sum of current squared x time, for the effective current."""
    stalled_s: list[float] = field(default_factory=list)
    slipping_s: float = 0.0
    hottest_c: list[float | None] = field(default_factory=list)

    def __post_init__(self) -> None:
        count = len(self.robot.outputs)
        self.peak_output_a, self.square_a, self.stalled_s = [0.0] * count, [0.0] * count, [0.0] * count
        self.hottest_c = [None] * count

    def add(self, seen: Snapshot, seconds: float) -> None:
        """Take in what was seen at the end of a step of `seconds`."""
        self.seconds += seconds
        self.charge_ah += seen.battery_a * seconds / 3600
        self.peak_a = max(self.peak_a, seen.battery_a)
        self.lowest_v = min(self.lowest_v, seen.battery_v)
        self.slipping_s += seconds if any(abs(slip) > SLIDING_MPS for slip in seen.wheel_slip_mps) else 0.0
        for index, output in enumerate(self.robot.outputs):
            current = abs(seen.output_a[index])
            self.peak_output_a[index] = max(self.peak_output_a[index], current)
            self.square_a[index] += current * current * seconds
            stall = _stall_current(output, seen.output_v[index], seen.winding_c[index])
            self.stalled_s[index] += seconds if stall and current > STALL_SHARE * stall else 0.0
            warm, before = seen.winding_c[index], self.hottest_c[index]
            if warm is not None:
                self.hottest_c[index] = warm if before is None else max(before, warm)

    def effective_a(self, index: int) -> float:
        """Root mean square current of an output over the run, in A."""
        return math.sqrt(self.square_a[index] / self.seconds) if self.seconds else 0.0

    def hottest(self) -> tuple[str, float] | None:
        """Name and °C of the output whose winding became hottest."""
        known = [(value, index) for index, value in enumerate(self.hottest_c) if value is not None]
        if not known:
            return None
        value, index = max(known)
        return self.robot.outputs[index].name, value


def _stall_current(output: Output, volts: float, winding_c: float | None) -> float:
    """Current at standstill at the present volts and temperature, in A; 0 below one volt."""
    if output.motor is None or abs(volts) < 1.0:
        return 0.0
    warm = output.motor.parallel(output.count).at_temperature(25.0 if winding_c is None else winding_c)
    return abs(volts) / (warm.resistance_ohm + output.driver.resistance_ohm)
