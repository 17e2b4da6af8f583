"""A simulated driver: pure pursuit of the ideal way with slow reactions and an unsteady hand.

R. C. Coulter, "Implementation of the Pure Pursuit Path Tracking Algorithm", CMU-RI-TR-92-01 (1992): the arc
to a point a look-ahead away on the path has the curvature 2 y / l². The delay of a hand and its noise (of
first order) are common practice, no source.
"""

import math
import random
from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from mixer.course.run.follow import Follower
from mixer.course.tasks.task import Ends, Task
from mixer.live.inputs.hands import HandSticks
from mixer.live.robot.robot import Build, LiveRobot
from mixer.runs.measure.physics import plant_columns
from mixer.sizing.drive import fastest
from mixer.sizing.trial import AHEAD, AROUND, Trial, sticks_for

LOOK_AHEAD = 0.5
"""In units of the course."""
HURRY, MOOD = 0.6, 0.03
"""Share of the top speed that the driver wants on a way, and how it scatters from run to run."""
DELAY_S, NOISE, NOISE_S = 0.18, 0.03, 0.2


STICKS = (0.0, 0.1, 0.2, 0.3, 0.4, 0.55, 0.7, 0.85, 1.0)


@dataclass(frozen=True)
class Feeling:
    """What a driver knows of a robot: the switches to set, what speed and turn each stick settles to."""

    positions: tuple[tuple[str, int], ...]
    sticks: dict[str, Mapping[str, float]]
    rates: dict[str, tuple[float, ...]]

    def stick(self, way: str, rate: float) -> float:
        """How much of full a speed or a turn rate takes."""
        return math.copysign(float(np.interp(abs(rate), self.rates[way], STICKS)), rate)


def feeling_of(build: Build) -> Feeling:
    """Try every stick, the robot at its fastest."""
    trial = Trial(build)
    pace = fastest(trial)
    sticks, rates = {}, {}
    for way, direction, seen in (("ahead", AHEAD, "vx"), ("around", AROUND, "turn")):
        sticks[way] = sticks_for(build.plan, trial.whole, direction)
        trial.begin(pace)
        found = [
            abs(trial.hold({name: much * part for name, part in sticks[way].items()}, 0.6).last(seen))
            for much in STICKS
        ]
        rates[way] = tuple(np.maximum.accumulate(found))
    return Feeling(pace.positions, sticks, rates)


class Driver:
    """The source ``hand`` of a robot that somebody drives along a task."""

    mode = "hand"

    def __init__(
        self, robot: LiveRobot, task: Task, feeling: Feeling, seed: int, noise: float = NOISE
    ) -> None:
        """`noise` of the hand, as a share of the stick's way."""
        body = robot.build.prepared.robot
        assert body is not None
        self._robot, self._task, self._feeling = robot, task, feeling
        self._dice, self._shake = random.Random(seed), noise
        self._hurry = HURRY * (1 + self._dice.gauss(0.0, MOOD))
        columns = plant_columns(body)
        self._at = [columns.index(name) for name in ("x", "y", "yaw", "vx", "turn")]
        self._hands = HandSticks(robot.plan, robot.build.robot.receiver.frame_ms)
        self._way = Follower(task.way, task.scale.unit)
        self._points = np.array(task.way)
        self._late: deque[tuple[float, float]] = deque([(0.0, 0.0)] * self._frames(DELAY_S))
        self._noise = dict.fromkeys(self._hands.names, 0.0)
        arm = robot.plan.guard.arm
        if arm is not None:
            self._hands.turn(robot.plan.switches[arm.switch].name, arm.position)
        for name, position in feeling.positions:
            self._hands.turn(name, position)

    def _frames(self, seconds: float) -> int:
        return max(1, round(seconds * 1000 / self._robot.build.robot.receiver.frame_ms))

    def inputs(self, tick: int, readings: Sequence[int]) -> list[int]:
        """Look, decide, and do what was decided a moment ago."""
        if self._hands.sends(tick):
            self._late.append(self._decided())
            self._move(*self._late.popleft())
        return self._hands.inputs(tick, readings)

    def _move(self, ahead: float, around: float) -> None:
        names = dict.fromkeys(self._hands.names, 0.0)
        for way, much in (("ahead", ahead), ("around", around)):
            for stick, part in self._feeling.sticks[way].items():
                names[stick] += part * much
        keep = math.exp(-1 / self._frames(NOISE_S))
        for stick, value in names.items():
            drift = self._dice.gauss(0.0, self._shake * math.sqrt(1 - keep * keep))
            self._noise[stick] = self._noise[stick] * keep + drift
            self._hands.set(stick, value + (self._noise[stick] if ahead or around else 0.0))

    def _decided(self) -> tuple[float, float]:
        """(ahead, around) as shares of full."""
        plant = self._robot.body.plant
        assert plant is not None
        row = [*plant.state, *plant.seen]
        x, y, yaw, speed, turn = (row[at] for at in self._at)
        top, full = self._feeling.rates["ahead"][-1], self._feeling.rates["around"][-1]
        if self._task.ends is Ends.TURNED:
            return 0.0, self._feeling.stick("around", self._stopping(math.pi - yaw, turn, full, 0.12))
        if self._task.ends is Ends.BOX:
            rest = self._stopping(self._points[-1][0] - x, speed, top, 0.15 * self._task.scale.reach_m)
            lean = max(min(-1.5 * yaw - y / self._task.scale.unit, 1.0), -1.0) if rest else 0.0
            return self._feeling.stick("ahead", rest), self._feeling.stick("around", lean)
        self._way.off(x, y)
        goal = self._point_at(self._way.along + LOOK_AHEAD * self._task.scale.unit)
        left = (goal[1] - y) * math.cos(yaw) - (goal[0] - x) * math.sin(yaw)
        wanted = 2 * left / math.dist(goal, (x, y)) ** 2 * max(speed, 0.2 * top)
        wanted += 0.5 * (wanted - turn)
        rate = max(min(wanted, full), -full)
        return self._feeling.stick("ahead", self._hurry * top), self._feeling.stick("around", rate)

    def _stopping(self, rest: float, rate: float, most: float, near: float) -> float:
        """A rate that brings a way's rest to nothing: slower and slower, hands off when it is there."""
        ahead = rest - rate * (DELAY_S + 0.05)
        if abs(ahead) < near:
            return 0.0
        return math.copysign(min(max(1.5 * abs(ahead), 0.1 * most), 0.7 * most), ahead)

    def _point_at(self, along: float) -> tuple[float, float]:
        """The point of the way so far along; beyond its end straight on."""
        steps = np.hypot(*np.diff(self._points, axis=0).T)
        up_to = np.concatenate(([0.0], np.cumsum(steps)))
        over = max(along - up_to[-1], 0.0)
        end = (self._points[-1] - self._points[-2]) / steps[-1]
        x, y = (float(np.interp(along, up_to, self._points[:, axis])) for axis in (0, 1))
        return x + over * float(end[0]), y + over * float(end[1])
