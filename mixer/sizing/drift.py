"""Side gains that make a robot run straight: found by running it, scrub and all.

A drift run says only that one side is stronger than the other. The strength that makes the simulated robot
drift as measured is searched for (a share of the command that reaches the motors of one side), then the
gains under which that same robot comes out straight. Each trial is a run at full stick through the firmware
with the gains that are tried: breakaway, limit and slew come after a gain and take from it. A skid-steered
chassis scrubs, so that much less drift comes of a side's strength than its rolling speeds would make.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from mixer.errors import OptionError
from mixer.live.robot.robot import Build
from mixer.plant.parts.damage import weaker
from mixer.plant.parts.robot import Robot
from mixer.profile.integers.to_plan import plan_of
from mixer.sizing.drive import STRAIGHT, fastest
from mixer.sizing.finding import Finding, Verdict
from mixer.sizing.trial import AHEAD, Trial, sticks_for

LONGEST_S = 20.0
PIECE_S = 0.25
LOOKED_M = 2.0
"""The way on which a robot's own pull is looked for."""
WEAKEST = 0.05
ROUNDS = 24
DIGITS = 4
"""Of a gain in the profile; a step of the firmware's own is 1/16384."""
LEFT, RIGHT = "left", "right"


@dataclass(frozen=True, slots=True)
class SideGains:
    """What to change, and what it comes to."""

    stronger: str | None
    """The side that is too strong; None when the run was straight."""
    factor: float
    """For the gains of that side."""
    before_m: float
    """Sideways at the end of the way, as measured; left positive."""
    after_m: float
    """The same run with these gains, by the simulation."""
    gains: Mapping[str, float]
    """New gains by output."""


def sides_of(robot: Robot) -> dict[str, tuple[int, ...]]:
    """Outputs whose wheels stand left, and right, of the middle."""
    sides: dict[str, set[int]] = {LEFT: set(), RIGHT: set()}
    for wheel in robot.wheels:
        if wheel.output >= 0 and abs(wheel.y) > 1e-6:
            sides[LEFT if wheel.y > 0 else RIGHT].add(wheel.output)
    both = sides[LEFT] & sides[RIGHT]
    return {name: tuple(sorted(outputs - both)) for name, outputs in sides.items()}


class Straights:
    """Runs told to go straight."""

    def __init__(self, build: Build, length_m: float, body: Robot | None = None) -> None:
        """With another body than the build's, where one is given."""
        self.build, self.trial, self.length_m, self._body = build, Trial(build), length_m, body
        self.sides = sides_of(self.trial.whole)
        self._pace = fastest(self.trial)
        self._ahead = sticks_for(self.trial.plan, self.trial.whole, AHEAD)

    def gains(self, side: str, factor: float) -> dict[str, float]:
        """The gains of a side's outputs, changed by a factor, as the profile will say them."""
        names = [self.trial.whole.outputs[output].name for output in self.sides[side]]
        return {name: round(self.build.robot.output[name].gain * factor, DIGITS) for name in names}

    def tuned(self, gains: Mapping[str, float]) -> "Straights":
        """The same body with a firmware that has these gains."""
        robot = self.build.robot
        outputs = dict(robot.output)
        for name, gain in gains.items():
            outputs[name] = outputs[name].model_copy(update={"gain": gain})
        robot = robot.model_copy(update={"output": outputs})
        plan = plan_of(robot, robot.robot.name)
        return Straights(Build(plan, robot, self.build.prepared), self.length_m, self._body)

    def sideways(self, strength: Mapping[str, float]) -> float:
        """How far to the left it ends, with each side's strength as a share of the command."""
        body = self._body or self.trial.whole
        for side, share in strength.items():
            for output in self.sides[side]:
                body = weaker(body, output, share)
        self.trial.begin(self._pace, body)
        seconds = 0.0
        while seconds < LONGEST_S:
            seen = self.trial.hold(self._ahead, PIECE_S)
            x, y = seen.of("x"), seen.of("y")
            if x[-1] >= self.length_m:
                return float(np.interp(self.length_m, x, y))
            if abs(y[-1]) > self.length_m or abs(seen.last("yaw")) > np.pi / 2:
                # Turned away before it got there: more than any drift that was measured.
                return float(np.copysign(self.length_m, seen.last("yaw")))
            seconds += PIECE_S
        return float(y[-1])


def side_gains(build: Build, length_m: float, sideways_m: float) -> SideGains:
    """Gains from a run that was told to go straight and ended so far ahead and to the left.

    Raises OptionError where no difference of strength makes such a drift.
    """
    if length_m <= 0 or abs(sideways_m) >= length_m:
        raise OptionError(
            f"--drift {length_m:g} {sideways_m:g}: more sideways than ahead is no drift",
            "give the way ahead, then the way to the left (negative: right), in m",
        )
    runs = Straights(build, length_m)
    if not all(runs.sides.values()):
        raise OptionError("--drift needs a left and a right side", "give wheels on both sides, with y_m")
    strength = _strength(runs, sideways_m)
    if strength is None:
        raise OptionError(
            f"--drift {length_m:g} {sideways_m:g}: no difference of its sides makes it drift so far",
            "measure again, or look for a wheel that drags or a motor that is dead",
        )
    return _straightened(runs, strength, sideways_m)


def _strength(runs: Straights, sideways_m: float) -> dict[str, float] | None:
    """The sides' strengths that make the robot drift as measured."""
    usual = runs.sideways({})
    if abs(usual - sideways_m) < 1e-6:
        return {}
    weak = RIGHT if sideways_m < usual else LEFT
    found = _root(lambda share: runs.sideways({weak: share}) - sideways_m, usual - sideways_m)
    return None if found is None else {weak: found}


def _straightened(runs: Straights, strength: Mapping[str, float], before_m: float) -> SideGains:
    if abs(before_m) < STRAIGHT * runs.length_m:
        return SideGains(None, 1.0, before_m, before_m, {})
    stronger = RIGHT if before_m > 0 else LEFT

    def with_gain(factor: float) -> float:
        return runs.tuned(runs.gains(stronger, factor)).sideways(strength)

    factor = _root(with_gain, runs.sideways(strength))
    if factor is None:
        raise OptionError(
            "no gain makes this robot run straight", "look for what holds one side back, or for a limit"
        )
    return SideGains(stronger, factor, before_m, with_gain(factor), runs.gains(stronger, factor))


def _root(off: Callable[[float], float], at_one: float) -> float | None:
    """Where a drift crosses zero below a share of 1 (regula falsi, Illinois); None if it never does."""
    high, off_high, low = 1.0, at_one, 1.0
    off_low = off_high
    for low in (0.97, 0.9, 0.75, 0.5, 0.25, WEAKEST):
        off_low = off(low)
        if off_low * off_high <= 0:
            break
        high, off_high = low, off_low
    else:
        return None
    for _ in range(ROUNDS):
        middle = (low * off_high - high * off_low) / (off_high - off_low) if off_high != off_low else low
        off_middle = off(middle)
        if abs(off_middle) < 5e-4 or abs(high - low) < 1e-5:
            return middle
        if off_middle * off_high > 0:
            high, off_high, off_low = middle, off_middle, off_low / 2
        else:
            low, off_low, off_high = middle, off_middle, off_high / 2
    return middle


def trim_findings(build: Build) -> Iterator[Finding]:
    """Where the robot pulls to a side as it is: to which, and the gains that make it run straight."""
    runs = Straights(build, LOOKED_M)
    before = runs.sideways({})
    if abs(before) < STRAIGHT * LOOKED_M or not all(runs.sides.values()):
        return
    side = LEFT if before > 0 else RIGHT
    key, label = "pull", f"pulls to the {side} over {LOOKED_M:g} m"
    try:
        gains = _straightened(runs, {}, before)
    except OptionError as refused:
        yield Finding("drive", key, label, abs(before), "m", None, Verdict.TIGHT, str(refused.args[0]))
        return
    lines = ", ".join(f"[output.{name}] gain = {gain:.3f}" for name, gain in gains.gains.items())
    yield Finding("drive", key, label, abs(before), "m", None, Verdict.TIGHT, f"to paste: {lines}")
