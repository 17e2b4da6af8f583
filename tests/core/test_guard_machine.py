"""Guard and interlock as a machine that hypothesis plays with: any order of anything that can happen.

Every tick is watched by `Watch`, which knows the rules and nothing of the core. Unlike a recorded
trace, what happens next can depend on where the board stands now.
"""

from typing import Any

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule

from mixer.core.layout import layout_of
from mixer.core.plan import Guard, Plan
from mixer.core.tick import FlatTick, flat_tick
from tests.core.ticks import commands_of, named
from tests.core.watch import Watch
from tests.lengths import examples
from tests.strategies import arming, frame_ticks, neutral_row, open_contacts, plans

durations = st.integers(1, 12)


class Radio(RuleBasedStateMachine):
    """A board, its receiver, its end stops, and the hand on the sticks."""

    @initialize(plan=plans())
    def build(self, plan: Plan) -> None:
        """Power up with the transmitter off and everything open."""
        self.plan = plan
        self.armed = False
        self.pulses: list[int] = list(neutral_row(plan, armed=False)[: len(plan.channels)])
        self.contacts: list[int] = list(open_contacts(plan))
        self.silent: set[int] = set()
        self.power_up()

    @rule()
    def power_up(self) -> None:
        """A reset: the board forgets everything, the world stays as it is."""
        self.state: Any = list(layout_of(self.plan).start)
        self.watch = Watch(self.plan)
        self.last: FlatTick | None = None

    def run(self, ticks: int) -> None:
        """Let time pass, a frame on every tick that has one."""
        for number in range(ticks):
            frame = number % frame_ticks(self.plan) == 0
            row = [
                pulse if frame and channel not in self.silent else 0
                for channel, pulse in enumerate(self.pulses)
            ]
            self.feed((*row, *self.contacts))

    def feed(self, row: tuple[int, ...]) -> None:
        """One tick under the watch."""
        self.last = flat_tick(self.plan, row, self.state)
        self.state = self.last.state
        self.watch.see(row, self.last)

    @rule(ticks=durations)
    def wait(self, ticks: int) -> None:
        """Nothing changes."""
        self.run(ticks)

    @rule(ticks=durations, data=st.data())
    def move_sticks(self, ticks: int, data: st.DataObject) -> None:
        """The hands go anywhere."""
        for stick in self.plan.sticks:
            self.pulses[stick.channel] = data.draw(st.integers(900, 2100))
        self.run(ticks)

    @rule(ticks=durations)
    def let_go(self, ticks: int) -> None:
        """Every stick to neutral, switches as arming wants them."""
        self.pulses = list(neutral_row(self.plan, self.armed)[: len(self.plan.channels)])
        self.run(ticks)

    @rule(ticks=durations)
    def throw_arm_switch(self, ticks: int) -> None:
        """On if it was off, off if it was on; nothing else moves."""
        self.armed = not self.armed
        if self.plan.guard.arm is not None:
            channel = self.plan.switches[self.plan.guard.arm.switch].channel
            self.pulses[channel] = neutral_row(self.plan, self.armed)[channel]
        self.run(ticks)

    @rule(ticks=durations, data=st.data())
    def lose_channels(self, ticks: int, data: st.DataObject) -> None:
        """Some wires fall silent, others come back."""
        self.silent = data.draw(st.sets(st.integers(0, len(self.plan.channels) - 1)))
        self.run(ticks)

    @rule(ticks=durations)
    def find_signal(self, ticks: int) -> None:
        """Every wire speaks again."""
        self.silent = set()
        self.run(ticks)

    @precondition(lambda self: self.contacts)
    @rule(ticks=durations, data=st.data())
    def touch_contacts(self, ticks: int, data: st.DataObject) -> None:
        """Contacts read anything, and stay so."""
        self.contacts = [data.draw(st.integers(0, 1)) for _ in self.contacts]
        self.run(ticks)

    @rule(data=st.data())
    def receive_anything(self, data: st.DataObject) -> None:
        """One tick of pulses no receiver should send."""
        wild = [data.draw(st.sampled_from((0, 1, 900, 1500, 2100, 4000, 65535))) for _ in self.pulses]
        self.feed((*wild, *self.contacts))

    @rule()
    def arm_in_order(self) -> None:
        """Whatever was before, arming in order brings the robot to life, unless a fault is latched."""
        self.silent, self.armed, self.contacts = set(), True, list(open_contacts(self.plan))
        for row in arming(self.plan):
            self.feed(row)
        self.pulses = list(neutral_row(self.plan, armed=True)[: len(self.plan.channels)])
        assert self.last is not None
        stuck = self.plan.guard.arm is None and self.watch.state == Guard.FAULTED
        assert stuck or named(self.plan, self.last)["guard.state"] == Guard.LIVE

    @rule()
    def switch_transmitter_off(self) -> None:
        """Silence on every wire: stopped after `lost_ticks`, and stays so for as long as one likes."""
        self.silent = set(range(len(self.pulses)))
        self.run(self.plan.guard.lost_ticks)
        assert self.watch.state in (Guard.STOPPED, Guard.SEARCHING, Guard.FAULTED)
        if not self.plan.guard.ramps:
            assert self.last is not None
            assert not any(commands_of(self.plan, self.last))


Radio.TestCase.settings = settings(examples(50, 200), stateful_step_count=25)
TestRadio = Radio.TestCase
