"""One run, followed tick by tick as a sink of the live robot: it does not matter how ticks are handed over.

It begins when the robot is live and a driving stick leaves its middle, and ends as the task says.
"""

import math
from collections.abc import Sequence

import numpy as np

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import Guard
from mixer.course.run.follow import Follower
from mixer.course.run.measures import RunMeasures
from mixer.course.run.sticks import driving_sticks, reversals
from mixer.course.tasks.scale import footprint_of
from mixer.course.tasks.shapes import Pose
from mixer.course.tasks.task import Ends, Task
from mixer.live.robot.robot import Build
from mixer.runs.measure.physics import plant_columns
from mixer.runs.play.stretch import Stretch

BEGINS, FULL, CORRECTION = 0.05, 0.95, 0.05
"""Shares of a stick's way: a run begins, it is full, a reversal counts (common practice, no source)."""
REST_S, REST_SHARE, REST_RADPS = 0.4, 0.02, 0.05
"""At rest: so long below this share of the top speed and below this turn rate (tried out; no source)."""
LOOK_MS = 10
"""How often it is looked where the robot is: twice a frame of the receiver."""
HALF_TURN, ABOUT = math.pi, math.radians(10)


class Lap:
    """One run of one task by one robot."""

    def __init__(self, task: Task, build: Build) -> None:
        """Nothing has been driven yet. The build has physics."""
        robot = build.prepared.robot
        assert robot is not None
        self.task, self.finished = task, False
        self.trace: list[tuple[float, float]] = []
        """Where the robot was, look by look since the run began."""
        self.touched = 0
        """Times a post was touched so far."""
        self._tick_s, self._foot = build.plan.tick_ms / 1000, footprint_of(robot)
        self._stride = max(1, round(LOOK_MS / build.plan.tick_ms))
        self._ticks = 0
        columns, places = plant_columns(robot), layout_of(build.plan).places
        names = ["x", "y", "yaw", "vx", "vy", "turn", "battery_a"]
        names += [f"wheel.{wheel.name}.slip" for wheel in robot.wheels]
        self._columns = [columns.index(name) for name in names]
        self._sticks = [places.sticks[number].scaled for number in driving_sticks(build.plan, robot)]
        self._guard = places.guard.state
        self._way = Follower(task.way, task.scale.unit)
        self._against: set[int] = set()
        self._off: list[float] = []
        self._slid = self._charge = self._past = 0.0
        self._hands: list[list[int]] = []
        self._still = 0

    @property
    def begun(self) -> bool:
        """Whether a stick has been moved."""
        return bool(self._ticks)

    @property
    def seconds(self) -> float:
        """Since the run began."""
        return self._ticks * self._tick_s

    @property
    def over(self) -> bool:
        """Whether it has been driven to its end, or for too long."""
        return self.finished or self.seconds >= self.task.limit_s

    def add(self, stretch: Stretch) -> None:
        """Ticks of a robot with physics."""
        assert stretch.plant is not None
        moved = stretch.plant[:, self._columns].tolist()
        hands = stretch.signals[:, self._sticks].tolist()
        guards = stretch.signals[:, self._guard].tolist()
        for body, sticks, guard in zip(moved, hands, guards, strict=True):
            live = guard == Guard.LIVE and max(map(abs, sticks), default=0) >= BEGINS * ONE
            if not self.over and (self.begun or live):
                self._tick(body, sticks)

    def measures(self) -> RunMeasures:
        """Of a finished run."""
        look_s = self._stride * self._tick_s
        seconds = max(self.seconds - self._still * look_s, look_s)
        count = max(len(self.trace) - self._still, 1)
        off = np.array(self._off[:count])
        sticks = list(zip(*self._hands[:count], strict=True))
        full = sum(max(map(abs, row)) >= FULL * ONE for row in self._hands[:count])
        return RunMeasures(
            time_s=seconds,
            off_rms_m=float(np.sqrt((off * off).mean())),
            off_most_m=float(np.abs(off).max()),
            touched=self.touched,
            overshoot=self._past,
            corrections_per_s=sum(reversals(one, CORRECTION * ONE) for one in sticks) / seconds,
            full_share=100 * full / count,
            slid_m=self._slid,
            charge_mah=self._charge * 1000 / 3600,
        )

    def _tick(self, body: Sequence[float], sticks: list[int]) -> None:
        x, y, yaw, vx, vy, turn, amps, *slips = body
        self._slid += sum(map(abs, slips)) / max(len(slips), 1) * self._tick_s
        self._charge += amps * self._tick_s
        if self._ticks % self._stride == 0:
            self._look(Pose(x, y, yaw), math.hypot(vx, vy), abs(turn))
            self._hands.append(sticks)
        self._ticks += 1

    def _look(self, pose: Pose, speed: float, turn: float) -> None:
        self.trace.append((pose.x, pose.y))
        self._off.append(self._way.off(pose.x, pose.y))
        self._touch(pose)
        self._past = max(self._past, self._overshoot(pose))
        rests = speed < REST_SHARE * self.task.scale.speed_mps and turn < REST_RADPS
        self._still = self._still + 1 if rests and self._there(pose) else 0
        rested = self._still * self._stride * self._tick_s >= REST_S
        self.finished = self._way.arrived if self.task.ends is Ends.LINE else rested

    def _touch(self, pose: Pose) -> None:
        against = {at for at, post in enumerate(self.task.posts) if self._foot.touches(post, pose)}
        self.touched += len(against - self._against)
        self._against = against

    def _there(self, pose: Pose) -> bool:
        """Whether a robot at rest here has done what is asked."""
        if self.task.ends is Ends.TURNED:
            return abs(abs(pose.yaw) - HALF_TURN) <= ABOUT
        return self.task.box is not None and self.task.box.holds(self._foot.corners(pose))

    def _overshoot(self, pose: Pose) -> float:
        """Beyond what was asked: m, of a half turn degrees."""
        if self.task.ends is Ends.TURNED:
            return math.degrees(abs(pose.yaw) - HALF_TURN)
        if self.task.box is not None:
            return pose.x - self.task.box.x
        return -self._way.bend * self._off[-1]
