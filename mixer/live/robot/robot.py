"""One robot running in time: firmware, body and faults, whoever gives it inputs and whoever listens.

    source.inputs ──► faults ──► firmware ──► body
          ▲                         │           │
          └── contacts ◄────────────┼───────────┘
                                    └──► sinks, a stretch of ticks at a time

There is no other player: `replay`, `compare`, `size`, the bench and the programs' front door all run this.
Inputs come from a `Source` (`play`) or as recorded rows (`take`). Deterministic: equal inputs from an equal
`saved` give equal ticks, whichever way the tick is compiled.
"""

from collections.abc import Callable, Sequence
from operator import itemgetter
from typing import NamedTuple, Protocol

import numpy as np

from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.core.rest import arming, frame_ticks
from mixer.errors import OptionError
from mixer.live.judge.carry import carry_over
from mixer.live.judge.monitored import LiveBoard
from mixer.live.robot.body import Body, BodyState
from mixer.live.robot.damage import Faults, Hit, Unharmed
from mixer.live.robot.firmware import Firmware, PlainBoard
from mixer.plant.from_profile import Prepared, prepare
from mixer.plant.parts.damage import Damage
from mixer.plant.plant import contact_readings
from mixer.profile.profile import Profile
from mixer.profile.schema.root import Robot
from mixer.runs.play.stretch import Numbers, Sink, Stretch


class Source(Protocol):
    """Where a tick's inputs come from."""

    @property
    def mode(self) -> str:
        """``hand``, ``replay``, ``link``, ``pad`` or ``demo``."""
        ...

    def inputs(self, tick: int, readings: Sequence[int]) -> list[int]:
        """Pulses in µs (0 = none came in this tick), then contact levels.

        `readings` is what the robot's own movement presses; a source that knows better gives its own.
        """
        ...


class Build(NamedTuple):
    """What a robot is made of: its plan, its profile in one loadout, its physics."""

    plan: Plan
    robot: Robot
    prepared: Prepared
    """Its `robot` is None where the profile says too little for physics."""


def build_of(profile: Profile, loadout: str | None = None) -> Build:
    """One loadout of a profile. Raises OptionError for an unknown one."""
    robot = profile.robot(loadout)
    return Build(profile.plan(loadout), robot, prepare(robot))


def with_physics(build: Build) -> Build:
    """The same. Raises OptionError that says which data the profile lacks for physics."""
    if build.prepared.robot is None:
        missing = "no [battery]" if build.robot.battery is None else "no output with a motor"
        raise OptionError(
            f"no physics for this robot: its profile has {missing}",
            "add [battery] and the motors of the outputs; `stickwright size` lists what else is not said",
        )
    return build


class Moment(NamedTuple):
    """Everything a running robot remembers."""

    board: tuple[int, ...]
    body: BodyState
    signals: tuple[int, ...]
    inputs: tuple[int, ...]


class LiveRobot:
    """One robot. Not for sharing between threads."""

    def __init__(
        self, build: Build, board: Firmware | None = None, *, bodiless: bool = False, charge: float = 1.0
    ) -> None:
        """Power up. `board` runs the firmware; without one it is judged by the rules, tick by tick.

        `bodiless` leaves out everything below the firmware, so that a `PlainBoard` runs recorded rows in
        whole stretches. `charge` is the share of the battery's charge to begin with.
        """
        self.tick = 0
        """Ticks since the beginning; goes on through power-ups, plans and jumps."""
        self.jumps = 0
        """Times it was put into another state by other means than a tick."""
        self.faults: Faults = Unharmed()
        """Whoever breaks things on it."""
        self.driven_by: Callable[[], Sequence[int]] | None = None
        """What drives the body instead of the core's commands: those that a board's pins show, Q14."""
        self.inputs: Sequence[int] = ()
        self.signals: Sequence[int] = ()
        """Inputs and signals of the last tick."""
        self._sinks: list[Sink] = []
        self._charge = charge
        self.bodiless = bodiless
        """Whether nothing below the firmware is simulated."""
        self._fit(build, board or LiveBoard(build.plan))
        self.body = Body(*build, charge=charge)
        self.power_up()

    @property
    def plan(self) -> Plan:
        """What the firmware runs."""
        return self.build.plan

    @property
    def time_s(self) -> float:
        """Seconds since the beginning."""
        return self.tick * self._tick_s

    @property
    def saved(self) -> Moment:
        """Where everything stands."""
        return Moment(self.board.saved, self.body.saved, tuple(self.signals), tuple(self.inputs))

    def restore(self, moment: Moment) -> None:
        """Go on from where everything stood, with the same plan."""
        self.jumps += 1
        self.board.restore(moment.board)
        self.body.restore(moment.body)
        self.signals, self.inputs = moment.signals, moment.inputs

    def power_up(self, state: Sequence[int] | None = None) -> None:
        """Board off and on, or put into a recorded state of its firmware; the robot stands at its start."""
        self.jumps += 1
        self.board.power_up()
        if state is not None:
            self.board.begin(state)
        self.body.rest()
        self._quiet()
        count = len(self.plan.channels)
        self.arrived = [0] * count
        """The newest pulse that came on each channel, good or not; 0 = none yet."""
        self.good = [False] * count
        """Whether that one was good."""

    def rebuild(self, build: Build) -> None:
        """Other parts on the same bench, powered up; sinks, faults and time go on."""
        self._fit(build, LiveBoard(build.plan))
        self.body = Body(*build, charge=self._charge)
        self.power_up()

    def retune(self, build: Build) -> None:
        """Another tuning of the same robot, between two ticks; everything that moves goes on.

        Only for a judged board: the watcher's memory is carried over with the firmware's state.
        """
        names = layout_of(self.plan).signals
        was = dict(zip(names, self.signals, strict=True))
        heard = {
            channel.name: (self.arrived[number], self.good[number])
            for number, channel in enumerate(self.plan.channels)
        }
        if build.prepared.robot == self.build.prepared.robot:
            build = build._replace(prepared=self.build.prepared)
        self.body = self.body.rebuilt(*build)
        saved = carry_over(self.plan, self.board.saved, build.plan)
        self._fit(build, LiveBoard(build.plan, saved))
        known = [heard.get(channel.name, (0, False)) for channel in build.plan.channels]
        self.arrived, self.good = [pulse for pulse, _ in known], [good for _, good in known]
        self.signals = tuple(was.get(name, 0) for name in layout_of(build.plan).signals)

    def add(self, sink: Sink) -> None:
        """Tell a listener of every stretch from now on."""
        self._sinks.append(sink)

    def remove(self, sink: Sink) -> None:
        """Tell it no more."""
        self._sinks.remove(sink)

    def play(self, source: Source, ticks: int) -> Stretch:
        """Run so many ticks on what a source gives; the sinks have been told when this returns."""
        return self._run(source.inputs, ticks)

    def take(self, rows: Numbers) -> Stretch:
        """Run recorded inputs, a row a tick. Contacts that the physics presses are read from it instead."""
        if self.bodiless and type(self.faults) is Unharmed and isinstance(self.board, PlainBoard):
            signals = self.board.run(rows)
            self.inputs, self.signals = rows[-1].tolist(), signals[-1].tolist()
            return self._tell(Stretch(self.tick, rows, signals))
        listed, pressed = rows.tolist(), self.pressed
        first, channels = self.tick, len(self.plan.channels)

        def row(tick: int, readings: Sequence[int]) -> list[int]:
            given: list[int] = listed[tick - first]
            for number in pressed:
                given[channels + number] = readings[number]
            return given

        return self._run(row, len(rows))

    def arm(self) -> Stretch:
        """Hands off, arm switch off and on: live at the end, if it can be. Frames come every 20 ms."""
        return self.take(np.array(arming(self.plan, frame_ticks(self.plan)), np.int32))

    def read_contacts(self) -> list[int]:
        """The level on each contact's wire as the body presses it; what nothing presses is open."""
        return contact_readings(self.plan, {} if self.bodiless else self.body.contacts())

    def commands(self) -> Sequence[int]:
        """The last command of each output, Q14."""
        return (
            self._commands(self.signals) if len(self.plan.outputs) > 1 else (self._commands(self.signals),)
        )

    def step(self, inputs: Sequence[int], damage: tuple[Damage, ...] = ()) -> None:
        """One tick of the firmware, then its time for the body; nobody is told."""
        self.inputs = inputs
        self.signals = self.board.step(inputs)
        count = len(self.arrived)
        if any(inputs[:count]):
            for number in range(count):
                if inputs[number]:
                    self.arrived[number] = inputs[number]
                    self.good[number] = bool(self.signals[self._goods[number]])
        self._pass(damage)

    def _pass(self, damage: tuple[Damage, ...]) -> None:
        """A tick's time for the body with the commands as they are."""
        if not self.bodiless:
            self.body.turn_over(bool(self.signals[self._flip]))
            commands = self.commands() if self.driven_by is None else self.driven_by()
            self.body.advance(commands, self._tick_s, damage)

    def _run(self, inputs_at: Callable[[int, Sequence[int]], list[int]], ticks: int) -> Stretch:
        kept = _Kept(self.tick, self.plan)
        plant = None if self.bodiless else self.body.plant
        for tick in range(self.tick, self.tick + ticks):
            hit = self.faults.apply(tick, inputs_at(tick, self.read_contacts()), self.commands())
            if hit.resets:
                self.board.power_up()
            late = hit.late > 0 and self.board.come_late(hit.late)
            if hit.dark:
                self.board.power_up()
                self._quiet()
            if hit.misses:
                self._pass(self.faults.damage())
            else:
                self.step(hit.inputs, self.faults.damage())
            kept.add(hit, self.signals, self.board.mask, late=late)
            if plant is not None:
                kept.plant.append((*plant.state, *plant.seen))
        return self._tell(kept.stretch(physics=plant is not None))

    def _tell(self, stretch: Stretch) -> Stretch:
        self.tick += len(stretch.inputs)
        for sink in self._sinks:
            sink.add(stretch)
        return stretch

    def _quiet(self) -> None:
        """What the signals say before the first tick: a tick without pulses, not kept."""
        before = self.board.saved
        self.inputs = [0] * len(self.plan.channels) + self.read_contacts()
        self.signals = self.board.step(self.inputs)
        self.board.restore(before)

    def _fit(self, build: Build, board: Firmware) -> None:
        self.build, self.board = build, board
        plan, places = build.plan, layout_of(build.plan).places
        self._commands = itemgetter(*(output.command for output in places.outputs))
        self._flip = places.flip.flipped
        self._goods = [channel.good for channel in places.channels]
        self._tick_s = plan.tick_ms / 1000
        physics = None if self.bodiless else build.prepared.robot
        moved = () if physics is None else physics.actuators
        pressed = {name for actuator in moved for name in (actuator.out_contact, actuator.in_contact)}
        self.pressed = [number for number, contact in enumerate(plan.contacts) if contact.name in pressed]
        """The contacts that the physics presses, by number."""


class _Kept:
    """What the ticks of a stretch leave, on its way into arrays."""

    def __init__(self, first_tick: int, plan: Plan) -> None:
        self._first, self._gap = first_tick, [0] * len(plan.channels)
        self._widths = len(plan.channels) + len(plan.contacts), len(layout_of(plan).signals)
        self._inputs: list[Sequence[int]] = []
        self._signals: list[Sequence[int]] = []
        self._broken: list[int] = []
        self._restarts: list[int] = []
        self._late: list[int] = []
        self.plant: list[tuple[float, ...]] = []

    def add(self, hit: Hit, signals: Sequence[int], mask: int, *, late: bool) -> None:
        """One tick. A board that does not run reads no pulses and is not judged."""
        if hit.resets or late:
            self._restarts.append(len(self._inputs))
        if late and not hit.resets:
            self._late.append(len(self._inputs))
        unread = self._gap + hit.inputs[len(self._gap) :]
        self._inputs.append(unread if hit.misses else hit.inputs)
        self._signals.append(signals)
        self._broken.append(0 if hit.misses else mask)

    def stretch(self, *, physics: bool) -> Stretch:
        """All of it."""
        count, (inputs, signals) = len(self._inputs), self._widths
        return Stretch(
            self._first,
            np.array(self._inputs, np.int32).reshape(count, inputs),
            np.array(self._signals, np.int32).reshape(count, signals),
            np.array(self.plant) if physics else None,
            np.array(self._broken, np.int32),
            tuple(self._restarts),
            tuple(self._late),
        )
