"""The match, driven by the live robot: a pattern of named shares, or a recorded drive, over and over.

A stretch of the pattern is played as it is; then its means carry charge and temperatures on to the next
stretch, which is played again with the pack and the copper as they are by then. Over a match whose driving
repeats, that is the whole match but for what changes within one of `STRETCHES`.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from mixer.plant.from_profile import Prepared
from mixer.plant.parts.heat import copper_factor, heat_step
from mixer.plant.parts.robot import Opponent, Output, Robot
from mixer.plant.step.advance import LOW_VOLTAGE_S
from mixer.sizing.trial import AHEAD, AROUND, Course, Pace, Sticks, Trial, sticks_for, sticks_moving

CYCLE_S = 10.0
"""How long one round of the pattern is."""
STRETCHES = 3
USUAL_GRIP = 0.8
"""Of an opponent that the profile does not describe; it then weighs what the robot weighs."""

Cycle = Callable[[Trial], Iterator[Course]]
"""One round of driving, piece by piece."""


@dataclass(slots=True)
class MatchResult:
    """What the match did."""

    seconds: float = 0.0
    charge_ah: float = 0.0
    charge_left: float = 1.0
    peak_a: float = 0.0
    lowest_v: float = math.inf
    cut_after_s: float | None = None
    """When the low-voltage stop cut the drives; None where it never did."""
    effective_a: list[float] = field(default_factory=list)
    """Root mean square current of each output."""
    peak_output_a: list[float] = field(default_factory=list)
    hottest_c: list[float | None] = field(default_factory=list)


def pattern(prepared: Prepared) -> Cycle:
    """The profile's shares as sticks: pushes at full stick, all else at its duty, opponents met at rest."""
    shares = prepared.shares

    def moves(trial: Trial) -> Iterator[Course]:
        robot, plan = trial.whole, trial.plan
        ahead, around = sticks_for(plan, robot, AHEAD), sticks_for(plan, robot, AROUND)
        screws = sticks_moving(plan, sorted({item.output for item in robot.actuators}))
        half, duty = CYCLE_S / 2, prepared.duty
        yield from _held(trial, _scaled(ahead, duty), shares.chase * half)
        yield from _pushed(trial, prepared, ahead, shares.push * CYCLE_S)
        yield from _held(trial, _scaled(ahead, -duty), shares.chase * half)
        # Rests around both turns: a turn out of a drive is harder on the side that has to reverse.
        yield from _held(trial, {}, shares.idle * half)
        yield from _held(trial, {**_scaled(around, duty), **screws}, shares.turn * half)
        yield from _held(trial, _scaled(around, -duty) | _scaled(screws, -1.0), shares.turn * half)
        yield from _held(trial, {}, shares.idle * half)

    return moves


def _scaled(sticks: Sticks, by: float) -> dict[str, float]:
    return {name: value * by for name, value in sticks.items()}


def _held(trial: Trial, sticks: Sticks, seconds: float) -> Iterator[Course]:
    if seconds > 0:
        yield trial.hold(sticks, seconds)


def _pushed(trial: Trial, prepared: Prepared, ahead: Sticks, seconds: float) -> Iterator[Course]:
    """Against an opponent at rest: what runs into it shares its momentum (a plastic impact)."""
    if seconds <= 0:
        return
    robot = trial.whole
    other = opponent_of(prepared, robot)
    kept = robot.mass_kg / (robot.mass_kg + other.mass_kg)
    trial.put({name: trial.value(name) * kept for name in ("vx", "vy")})
    trial.become(replace(robot, opponent=other))
    yield trial.hold(ahead, seconds)
    trial.become(robot)


def opponent_of(prepared: Prepared, robot: Robot) -> Opponent:
    """The profile's opponent, or one like the robot itself."""
    return prepared.opponent or Opponent(robot.mass_kg, USUAL_GRIP)


def play_match(
    trial: Trial, cycle: Cycle, minutes: float, progress: Callable[[float], None] = lambda _: None
) -> MatchResult:
    """The whole match; `progress` is told shares from 0 to 1."""
    robot, whole = trial.whole, minutes * 60
    result = MatchResult(
        effective_a=[0.0] * len(robot.outputs), peak_output_a=[0.0] * len(robot.outputs),
        hottest_c=[None] * len(robot.outputs),
    )  # fmt: skip
    squares = [0.0] * len(robot.outputs)
    number = 0
    while result.seconds < whole - 1e-6:
        sums = _Sums(robot)
        for seen in cycle(trial):
            sums.add(seen)
        left = whole - result.seconds
        share = min(left, max(whole / STRETCHES, sums.seconds)) / sums.seconds
        if result.cut_after_s is None and sums.cut_s is not None:
            result.cut_after_s = result.seconds + sums.cut_s
        _take(result, sums, share, squares)
        _carry_on(trial, sums, share, result)
        result.seconds += share * sums.seconds
        number += 1
        progress(min(result.seconds / whole, 1.0))
    result.effective_a = [math.sqrt(square / result.seconds) for square in squares]
    result.charge_left = trial.value("charge")
    return result


class _Sums:
    """Means and extremes of one round."""

    def __init__(self, robot: Robot) -> None:
        self.robot, self.seconds, self.charge_ah, self.peak_a, self.lowest_v = (
            robot,
            0.0,
            0.0,
            0.0,
            math.inf,
        )
        self.squares, self.peaks = [0.0] * len(robot.outputs), [0.0] * len(robot.outputs)
        self.warmest = [0.0] * len(robot.outputs)
        self.cut_s: float | None = None
        """When within it the low-voltage stop cut the drives."""

    def add(self, seen: Course) -> None:
        """The next piece."""
        cut = seen.of("low_s") >= LOW_VOLTAGE_S
        if self.cut_s is None and cut.any():
            self.cut_s = self.seconds + float(np.argmax(cut)) * seen.tick_s
        self.seconds += len(seen.rows) * seen.tick_s
        self.charge_ah += float(seen.of("battery_a").sum()) * seen.tick_s / 3600
        self.peak_a = max(self.peak_a, float(seen.of("battery_first_a").max()))
        self.lowest_v = min(self.lowest_v, float(seen.of("lowest_v").min()))
        for index, output in enumerate(self.robot.outputs):
            current = seen.of(f"output.{output.name}.current")
            self.squares[index] += float((current * current).sum()) * seen.tick_s
            self.peaks[index] = max(self.peaks[index], float(seen.of(f"output.{output.name}.peak").max()))
            if _is_heated(output):
                rise = float(seen.of(f"output.{output.name}.winding_rise").max())
                self.warmest[index] = max(self.warmest[index], rise)


def _is_heated(output: Output) -> bool:
    return output.motor is not None and output.heat is not None


def _take(result: MatchResult, sums: _Sums, share: float, squares: list[float]) -> None:
    result.charge_ah += sums.charge_ah * share
    result.peak_a, result.lowest_v = max(result.peak_a, sums.peak_a), min(result.lowest_v, sums.lowest_v)
    for index, square in enumerate(sums.squares):
        squares[index] += square * share
        result.peak_output_a[index] = max(result.peak_output_a[index], sums.peaks[index])


def _carry_on(trial: Trial, sums: _Sums, share: float, result: MatchResult) -> None:
    """Charge and temperatures after the rounds that are like the one that was played."""
    robot, more = trial.whole, sums.seconds * (share - 1)
    used = sums.charge_ah * (share - 1) / robot.battery.capacity_ah
    states = {"charge": max(trial.value("charge") - used, 0.0)}
    for index, output in enumerate(robot.outputs):
        if not _is_heated(output):
            continue
        names = f"output.{output.name}.winding_rise", f"output.{output.name}.case_rise"
        rises = trial.value(names[0]), trial.value(names[1])
        ripple = max(sums.warmest[index] - rises[0], 0.0)
        if more > 0:
            rises = _warmed(robot, output, rises, sums.squares[index] / sums.seconds, more)
        warm = robot.air_c + max(sums.warmest[index], rises[0] + ripple)
        result.hottest_c[index] = max(result.hottest_c[index] or warm, warm)
        states |= dict(zip(names, rises, strict=True))
    trial.put(states)


def _warmed(
    robot: Robot, output: Output, rises: tuple[float, float], square_a: float, seconds: float
) -> tuple[float, float]:
    """Rises of winding and case after a time at a mean square current of the output."""
    assert output.heat is not None
    assert output.motor is not None
    cold = square_a / output.count**2 * output.motor.resistance_ohm
    steps = max(1, math.ceil(seconds / (output.heat.winding_tau_s / 20)))
    step = heat_step(output.heat, seconds / steps)
    for _ in range(steps):
        rises = step.after(*rises, cold * copper_factor(robot.air_c + rises[0]))
    return rises


def shares_in_words(prepared: Prepared, robot: Robot, pace: Pace) -> Sequence[str]:
    """What the match assumes."""
    shares, other = prepared.shares, opponent_of(prepared, robot)
    like = "" if prepared.opponent else ", like the robot itself: give [match] opponent_kg"
    choice = f", {pace.name}" if pace.name else ""
    driven = f"{shares.chase:.0%} ahead and back and {shares.turn:.0%} turning at {prepared.duty:.0%} stick"
    return (
        f"{driven}{choice}, {shares.push:.0%} pushing at full stick, {shares.idle:.0%} at rest",
        f"the opponent: {other.mass_kg:g} kg with a grip of {other.grip:g}, met at rest{like}",
        "[match] push, chase, turn, idle and duty change it; a recorded drive (--log) is the better way",
    )
