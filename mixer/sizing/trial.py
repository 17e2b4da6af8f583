"""The live robot with hands on its sticks: how every number of `size` is found.

Whatever the firmware does to a stick (scale, shape, mix, rate, limit, gain, breakaway, slew, pause) stands
between the hands and the floor here as on the field. The robot is armed once; each run begins from there.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from mixer.core.layout import layout_of
from mixer.core.plan import Guard, Plan
from mixer.live.inputs.hands import HandSticks
from mixer.live.robot.firmware import PlainBoard
from mixer.live.robot.robot import Build, LiveRobot, Moment
from mixer.plant.parts.robot import Robot
from mixer.plant.step.motion import Direction, driving_direction
from mixer.runs.measure.physics import plant_columns
from mixer.runs.play.stretch import Floats, Numbers

AHEAD, LEFT, AROUND = Direction(1.0, 0.0, 0.0), Direction(0.0, 1.0, 0.0), Direction(0.0, 0.0, 1.0)
MINDED = 0.2
"""A stick counts for a way where it does at least this share of what the strongest does."""


@dataclass(frozen=True, slots=True)
class Pace:
    """Positions of the switches that choose shapes."""

    name: str
    """The positions' names; empty where no switch chooses."""
    positions: tuple[tuple[str, int], ...] = ()


def paces_of(plan: Plan) -> tuple[Pace, ...]:
    """Every combination of positions of switches that choose a stick's shape."""
    choosers = sorted({stick.chooser for stick in plan.sticks if stick.chooser is not None})
    switches = [plan.switches[index] for index in choosers]
    return tuple(
        Pace(
            ", ".join(switch.position_names[at] for switch, at in zip(switches, chosen, strict=True)),
            tuple((switch.name, at) for switch, at in zip(switches, chosen, strict=True)),
        )
        for chosen in product(*(range(len(switch.position_names)) for switch in switches))
    )


Sticks = Mapping[str, float]
"""Values from -1 to 1 by the stick's name."""


def sticks_for(plan: Plan, robot: Robot, way: Direction) -> Sticks:
    """The sticks that drive a way, the strongest at full: what each puts on the wheels, projected on it."""
    parts = []
    for source in range(len(plan.sticks)):
        part = 0.0
        for wheel in robot.wheels:
            if wheel.output >= 0:
                along = driving_direction(wheel)
                share = along.x * way.x + along.y * way.y + along.arm * way.arm
                part += plan.outputs[wheel.output].weights[source] * share
        parts.append(part)
    return _strongest(plan, parts)


def sticks_moving(plan: Plan, outputs: Sequence[int]) -> Sticks:
    """The sticks that extend what hangs on these outputs."""
    return _strongest(plan, [
        float(sum(plan.outputs[output].weights[source] for output in outputs))
        for source in range(len(plan.sticks))
    ])  # fmt: skip


def _strongest(plan: Plan, parts: Sequence[float]) -> Sticks:
    most = max(map(abs, parts), default=0.0)
    return {
        stick.name: part / most
        for stick, part in zip(plan.sticks, parts, strict=True)
        if most > 0 and abs(part) >= MINDED * most
    }


class Trial:
    """One robot to try things with."""

    def __init__(self, build: Build, charge: float = 1.0) -> None:
        """Armed and at rest. The build must have physics."""
        self.plan, robot = build.plan, build.prepared.robot
        assert robot is not None
        self.whole = robot
        self._live = LiveRobot(build, PlainBoard(build.plan, "python"), charge=charge)
        self._frame_ms = build.robot.receiver.frame_ms
        self._place = {name: place for place, name in enumerate(plant_columns(robot))}
        self._live.arm()
        self._start = self._live.saved
        self.begin()

    @property
    def goes_live(self) -> bool:
        """Whether arming made it live."""
        signals = layout_of(self.plan).signals_of(self._start.signals)
        return signals.guard.state == Guard.LIVE

    def begin(self, pace: Pace | None = None, body: Robot | None = None) -> None:
        """At rest, armed and cold; with a body whose state is laid out like the robot's own."""
        self._live.restore(self._start)
        self.become(body or self.whole)
        self._hands = HandSticks(self.plan, self._frame_ms)
        if self.plan.guard.arm is not None:
            arm = self.plan.guard.arm
            self._hands.turn(self.plan.switches[arm.switch].name, arm.position)
        for name, position in pace.positions if pace else ():
            self._hands.turn(name, position)

    def become(self, body: Robot) -> None:
        """Go on with another body: an opponent at the nose, other brakes."""
        plant = self._live.body.plant
        assert plant is not None
        plant.robot = body

    def hold(self, sticks: Sticks, seconds: float) -> "Course":
        """Hold these sticks there and all others at neutral, for a time."""
        self._hands.centre()
        for name, value in sticks.items():
            self._hands.set(name, value)
        ticks = max(1, round(seconds * 1000 / self.plan.tick_ms))
        stretch = self._live.play(self._hands, ticks)
        assert stretch.plant is not None
        return Course(stretch.plant, self._place, self.plan.tick_ms / 1000)

    def take(self, rows: Numbers) -> "Course":
        """Recorded inputs, a row a tick."""
        stretch = self._live.take(rows)
        assert stretch.plant is not None
        return Course(stretch.plant, self._place, self.plan.tick_ms / 1000)

    def moment(self) -> Moment:
        """Where everything stands, to try several things from."""
        return self._live.saved

    def back(self, moment: Moment, body: Robot) -> None:
        """There again, with a body."""
        self._live.restore(moment)
        self.become(body)

    def put(self, values: Mapping[str, float]) -> None:
        """Set states of the plant by their names."""
        plant = self._live.body.plant
        assert plant is not None
        for name, value in values.items():
            plant.state[plant.layout.state_index(name)] = value

    def value(self, name: str) -> float:
        """A state or an observation of the plant now."""
        plant = self._live.body.plant
        assert plant is not None
        return plant.value(name)


@dataclass(frozen=True, slots=True)
class Course:
    """What the robot did while sticks were held, tick by tick."""

    rows: Floats
    place: Mapping[str, int]
    tick_s: float

    def of(self, name: str) -> Floats:
        """One state or observation over time."""
        column: Floats = self.rows[:, self.place[name]]
        return column

    def last(self, name: str) -> float:
        """Its value at the end."""
        return float(self.rows[-1, self.place[name]])
