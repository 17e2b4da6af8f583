"""Every tuning between two, driven through the same log, and how far each is from the first."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import Plan
from mixer.errors import OptionError
from mixer.live.robot.downstream import Downstream
from mixer.live.robot.firmware import PlainBoard
from mixer.live.robot.robot import Build, LiveRobot, build_of, with_physics
from mixer.profile.profile import Profile
from mixer.review.why.effects import effects_of
from mixer.runs.measure.physics import PhysicsMeasures
from mixer.runs.play.drive_log import DriveLog
from mixer.runs.play.engines import DEFAULT_ENGINE
from mixer.runs.play.stretch import Floats, Numbers, Stretch

LONG_TICKS = 400_000
"""Beyond so many, building a native engine for each tuning is quicker than generated Python."""
CHUNK_TICKS = 4096
OpenLog = Callable[[Plan], DriveLog]


class Commands:
    """A sink that keeps every output's commands."""

    def __init__(self, plan: Plan) -> None:
        self._places = [output.command for output in layout_of(plan).places.outputs]
        self._names = [output.name for output in plan.outputs]
        self._parts: list[Numbers] = []

    def add(self, stretch: Stretch) -> None:
        """The next stretch."""
        self._parts.append(stretch.signals[:, self._places])

    def by_name(self) -> dict[str, Numbers]:
        """(ticks,) of Q14 by the output's name."""
        return dict(zip(self._names, np.concatenate(self._parts).T, strict=True))


@dataclass(slots=True)
class Runs:
    """Drives tunings through one log and compares them with the first that came."""

    open_log: OpenLog
    physics: bool
    _read: dict[tuple[str, ...], tuple[DriveLog, Numbers]] = field(default_factory=dict)
    _first: dict[str, Numbers] = field(default_factory=dict)

    def drive(self, profile: Profile) -> tuple[Floats, list[float]]:
        """How far its commands are from the first one's, in every tick, and the numbers of `EFFECTS`.

        (ticks,) the mean over the outputs that both have, as a share of full. Raises LogError, and
        OptionError where the tick is another one, or there is no physics where some is asked for.
        """
        build = build_of(profile)
        log, inputs = self._inputs(build.plan)
        engine = "" if len(inputs) > LONG_TICKS else DEFAULT_ENGINE
        robot = LiveRobot(build, PlainBoard(build.plan, engine), bodiless=True)
        commands = Commands(build.plan)
        robot.add(commands)
        measures = self._below(build, robot) if self.physics else None
        robot.power_up(log.start_state)
        for first in range(0, len(inputs), CHUNK_TICKS):
            robot.take(inputs[first : first + CHUNK_TICKS])
        summary = None if measures is None else measures.summary()
        return self._apart(commands.by_name()), effects_of(build.plan, summary)

    @staticmethod
    def _below(build: Build, robot: LiveRobot) -> PhysicsMeasures:
        body = with_physics(build).prepared.robot
        assert body is not None
        measures = PhysicsMeasures(body, build.plan.tick_ms)
        robot.add(Downstream(build, [measures]))
        return measures

    def _apart(self, commands: dict[str, Numbers]) -> Floats:
        first = self._first or commands
        self._first = first
        both = [name for name in first if name in commands]
        total = np.zeros(len(next(iter(first.values()))))
        for name in both:
            total += np.abs(commands[name].astype(np.int64) - first[name])
        return total / (ONE * max(len(both), 1))

    def _inputs(self, plan: Plan) -> tuple[DriveLog, Numbers]:
        contacts = (f"{contact.name} {contact.closed_reads}" for contact in plan.contacts)
        wires = (*(channel.name for channel in plan.channels), *contacts, str(plan.tick_ms))
        if self._read and next(iter(self._read))[-1] != wires[-1]:
            raise OptionError("the two robots have different ticks", "give both the same tick_ms")
        if wires not in self._read:
            log = self.open_log(plan)
            self._read[wires] = log, log.inputs()
        return self._read[wires]
