"""Firmware, watcher and body of one robot, stepped one tick at a time and put back to any moment kept.

Deterministic: equal inputs from an equal `saved` give equal ticks, whichever way the tick is compiled.
"""

from collections.abc import Sequence
from operator import itemgetter
from typing import NamedTuple

from mixer.live.judge.carry import carry_over
from mixer.live.judge.monitored import LiveBoard
from mixer.live.robot.body import Body, BodyState, Effort, Reach
from mixer.profile import Profile
from mixer.runs.bench_parts import Plan, contact_readings, layout_of, physics_of


class Moment(NamedTuple):
    """Everything a robot on the bench remembers."""

    board: tuple[int, ...]
    body: BodyState
    signals: tuple[int, ...]
    inputs: tuple[int, ...]


class Machine:
    """One robot in one loadout."""

    def __init__(self, profile: Profile, loadout: str | None) -> None:
        self.inputs: Sequence[int] = ()
        self.signals: Sequence[int] = ()
        """Inputs and signals of the last tick."""
        self._prepared = physics_of(profile, loadout)
        self.body = Body(profile.plan(loadout), profile.robot(loadout), self._prepared)
        self._take_up(profile, loadout, LiveBoard(profile.plan(loadout)))
        self.power_up()

    @property
    def plan(self) -> Plan:
        """What the firmware runs."""
        return self.board.plan

    @property
    def saved(self) -> Moment:
        """Where everything stands."""
        return Moment(self.board.saved, self.body.saved, tuple(self.signals), tuple(self.inputs))

    def restore(self, moment: Moment) -> None:
        """Go on from where everything stood, with the same plan."""
        self.board.restore(moment.board)
        self.body.restore(moment.body)
        self.signals, self.inputs = moment.signals, moment.inputs

    def power_up(self) -> None:
        """Board switched off and on, robot at rest."""
        self.board.power_up()
        self.body.rest()
        self.quiet()
        count = len(self.plan.channels)
        self.arrived, self.good = [0] * count, [False] * count

    def quiet(self) -> None:
        """What the signals say before the first tick: a tick without pulses, not kept."""
        before = self.board.saved
        self.inputs = self.idle_inputs()
        self.signals = self.board.step(self.inputs)
        self.board.restore(before)

    def change(self, profile: Profile, loadout: str | None) -> None:
        """Another tuning of the same robot, between two ticks; everything that moves goes on."""
        plan = profile.plan(loadout)
        saved = carry_over(self.plan, self.board.saved, plan)
        prepared = physics_of(profile, loadout)
        moving = self.body.saved
        if prepared.robot != self._prepared.robot:
            self._prepared = prepared
        same = prepared.robot == self.body.robot
        body = Body(plan, profile.robot(loadout), self._prepared)
        if same and len(body.positions) == len(moving.positions):
            body.restore(moving)
        self.body = body
        names = self.board.layout.signals
        was = dict(zip(names, self.signals, strict=True))
        heard = dict(zip(self.channel_names(), zip(self.arrived, self.good, strict=True), strict=True))
        self._take_up(profile, loadout, LiveBoard(plan, saved))
        for number, name in enumerate(self.channel_names()):
            self.arrived[number], self.good[number] = heard.get(name, (0, False))
        self.signals = tuple(was.get(name, 0) for name in self.board.layout.signals)

    def channel_names(self) -> list[str]:
        """The channels, in the plan's order."""
        return [channel.name for channel in self.plan.channels]

    def read_contacts(self) -> list[int]:
        """The level on each contact's wire as the body presses it; what nothing presses is open."""
        return contact_readings(self.plan, self.body.contacts())

    def idle_inputs(self) -> list[int]:
        """No pulses, contacts as they stand."""
        return [0] * len(self.plan.channels) + self.read_contacts()

    def commands(self) -> Sequence[int]:
        """The last command of each output, Q14."""
        return (
            self._commands(self.signals) if len(self.plan.outputs) > 1 else (self._commands(self.signals),)
        )

    def step(self, inputs: Sequence[int], effort: Effort | None = None, reach: Reach | None = None) -> None:
        """One tick of the firmware, then its time for the body."""
        self.inputs = inputs
        self.signals = self.board.step(inputs)
        count = len(self.arrived)
        if any(inputs[:count]):
            for number in range(count):
                if inputs[number]:
                    self.arrived[number] = inputs[number]
                    self.good[number] = bool(self.signals[self._goods[number]])
        self.coast(effort, reach)

    def coast(self, effort: Effort | None = None, reach: Reach | None = None) -> None:
        """A tick's time for the body with the commands as they are (the firmware did not get to run)."""
        self.body.turn_over(bool(self.signals[self._flip]))
        self.body.advance(self.commands(), self._tick_s, effort, reach)

    def _take_up(self, profile: Profile, loadout: str | None, board: LiveBoard) -> None:
        self.profile, self.loadout, self.board = profile, loadout, board
        plan = board.plan
        names = layout_of(plan).signals
        self._commands = itemgetter(
            *(names.index(f"output.{output.name}.command") for output in plan.outputs)
        )
        self._flip = names.index("flip.flipped")
        self._goods = [names.index(f"channel.{channel.name}.good") for channel in plan.channels]
        self.arrived = [0] * len(plan.channels)
        """The newest pulse that came on each channel, good or not; 0 = none yet."""
        self.good = [False] * len(plan.channels)
        """Whether that one was good."""
        self._tick_s = plan.tick_ms / 1000
