"""The design's rules, checked from outside: what went into the ticks against what came out.

Written with plain ifs and its own memory, from the rules and not from the core. From the core it
takes only the signals ``neutral``, ``armed`` and ``state`` of the guard; where a channel is lost or a
stop is closed it works out from the raw inputs.
"""

from dataclasses import dataclass, field

from mixer.core.ops import ONE
from mixer.core.plan import ActuatorPlan, Guard, OutputPlan, Plan, Wire
from mixer.core.tick import FlatTick
from tests.core.ticks import named
from tests.strategies import Row


@dataclass
class ActuatorMemory:
    """What the watch remembers of one actuator."""

    both: int = 0
    run: int = 0
    latched: bool = False


@dataclass
class Watch:
    """Follows one board from power-up; `see` raises AssertionError when a rule is broken."""

    plan: Plan
    silent: list[int] = field(default_factory=list)
    open_for: list[int] = field(default_factory=list)
    ready_for: int = 0
    seen_off: bool = False
    ticks: int = 0
    off_since: int = -1
    """The tick from which the arm switch has read off without a break; -1 while it does not."""
    off_sure: bool = False
    """Whether a pulse still said so when a finger's time had gone by."""
    state: int = Guard.SEARCHING
    since_live: int = 10**6
    commands: list[int] = field(default_factory=list)
    rested: list[int] = field(default_factory=list)
    last_sign: list[int] = field(default_factory=list)
    lifts: list[ActuatorMemory] = field(default_factory=list)

    def __post_init__(self) -> None:
        outputs = len(self.plan.outputs)
        self.silent = [10**6] * len(self.plan.channels)
        self.open_for = [10**6] * len(self.plan.contacts)
        self.commands, self.rested, self.last_sign = [0] * outputs, [10**6] * outputs, [0] * outputs
        self.lifts = [ActuatorMemory() for _ in self.plan.actuators]

    def see(self, row: Row, after: FlatTick) -> None:
        """One tick: its inputs and what it left behind."""
        signals = named(self.plan, after)
        self._hear(row)
        signal = max(self.silent) < self.plan.guard.lost_ticks
        assert signals["guard.signal"] == signal
        fault = self._check_faults(signals)
        self._time_off(row, signal and not signals["guard.armed"])
        self._check_guard(signals, signal, fault)
        commands = [signals[f"output.{output.name}.command"] for output in self.plan.outputs]
        self._check_movement(commands)
        self._check_actuators(commands, signals)
        for number, output in enumerate(self.plan.outputs):
            self._check_output(number, output, commands[number], signals)
        self.commands = commands

    def _hear(self, row: Row) -> None:
        for number, channel in enumerate(self.plan.channels):
            good = channel.good_low_us <= row[number] <= channel.good_high_us
            self.silent[number] = 0 if good else self.silent[number] + 1
        for number, contact in enumerate(self.plan.contacts):
            touching = row[len(self.plan.channels) + number] == contact.closed_reads
            self.open_for[number] = 0 if touching else self.open_for[number] + 1

    def _closed(self, contact: int | None) -> bool:
        if contact is None:
            return False
        return self.open_for[contact] < max(1, self.plan.contacts[contact].release_ticks)

    def _check_faults(self, signals: dict[str, int]) -> bool:
        """Both stops closed for long enough is a fault, and of the whole robot where the plan says so."""
        stops_robot = False
        for lift, memory in zip(self.plan.actuators, self.lifts, strict=True):
            both = self._closed(lift.out_stop) and self._closed(lift.in_stop)
            memory.both = memory.both + 1 if both else 0
            fault = memory.both >= lift.both_ticks
            assert signals[f"actuator.{lift.name}.fault"] == fault
            stops_robot |= fault and lift.stops_robot
        assert signals["guard.fault"] == stops_robot
        return stops_robot

    def _time_off(self, row: Row, off: bool) -> None:
        self.ticks += 1
        guard = self.plan.guard
        if guard.arm is None:
            return
        number = self.plan.switches[guard.arm.switch].channel
        channel, pulse = self.plan.channels[number], row[number]
        heard = channel.good_low_us <= pulse <= channel.good_high_us
        if not off or (pulse and not heard):
            self.off_since, self.off_sure = -1, False
            return
        self.off_since = self.ticks if self.off_since < 0 else self.off_since
        self.off_sure |= heard and self.ticks - self.off_since + 1 >= guard.off_ticks

    def _check_guard(self, signals: dict[str, int], signal: bool, fault: bool) -> None:
        guard, state = self.plan.guard, signals["guard.state"]
        neutral, armed = signals["guard.neutral"] == 1, signals["guard.armed"] == 1
        disarmed = self.off_sure
        if not signal and not guard.resumes:
            self.seen_off = False
        if disarmed or guard.arm is None:
            self.seen_off = True
        self.ready_for = self.ready_for + 1 if signal and neutral and armed and not fault else 0
        if state == Guard.LIVE:
            assert signal, "live without signal"
            assert armed, "live while disarmed"
            assert not fault, "live with a fault"
            if self.state != Guard.LIVE:
                assert self.ready_for >= guard.hold_ticks, "went live before neutral was held"
                assert self.seen_off, "went live though the arm switch was never seen off"
        if fault:
            assert state == Guard.FAULTED
        if self.state == Guard.FAULTED and state != Guard.FAULTED:
            assert disarmed, "a fault went away without disarming"
        if state in (Guard.SEARCHING, Guard.STOPPED):
            assert not signal
        self.since_live = 0 if state == Guard.LIVE else self.since_live + 1
        for memory, lift in zip(self.lifts, self.plan.actuators, strict=True):
            held = memory.latched and not disarmed
            memory.latched = memory.both >= lift.both_ticks or held
        self.state = state

    def _check_movement(self, commands: list[int]) -> None:
        """Nothing moves unless live, or still ramping down within the promised ticks."""
        for command, output in zip(commands, self.plan.outputs, strict=True):
            if self.state == Guard.LIVE:
                continue
            ramp = -(-output.limit // output.down_step) if self.plan.guard.ramps and output.slews else 1
            if self.state == Guard.FAULTED or self.since_live >= ramp:
                assert command == 0, f"{output.name} moves in state {Guard(self.state).name}"

    def _check_actuators(self, commands: list[int], signals: dict[str, int]) -> None:
        for lift, memory in zip(self.plan.actuators, self.lifts, strict=True):
            command = commands[lift.output]
            out_blocked = self._closed(lift.out_stop)
            in_blocked = self._closed(lift.in_stop)
            if lift.travel_limit:
                out_blocked |= memory.run >= lift.travel_limit
                in_blocked |= memory.run <= -lift.travel_limit
            if not lift.stops_robot:
                out_blocked |= memory.latched
                in_blocked |= memory.latched
            assert command <= 0 or not out_blocked, f"{lift.name} driven out against a veto"
            assert command >= 0 or not in_blocked, f"{lift.name} driven in against a veto"
            allowed = (signals[f"actuator.{lift.name}.low"], signals[f"actuator.{lift.name}.high"])
            assert allowed == (0 if in_blocked else -ONE, 0 if out_blocked else ONE)
            self._add_way(lift, memory, command)

    def _add_way(self, lift: ActuatorPlan, memory: ActuatorMemory, command: int) -> None:
        if command * memory.run < 0:
            memory.run = 0
        memory.run += command
        met_out = memory.run >= 0 and self._closed(lift.out_stop)
        met_in = memory.run <= 0 and self._closed(lift.in_stop)
        if met_out or met_in:
            memory.run = 0

    def _check_output(self, number: int, output: OutputPlan, command: int, signals: dict[str, int]) -> None:
        before = self.commands[number]
        assert abs(command) <= output.limit
        wire = signals[f"output.{output.name}.wire"]
        assert output.rest - output.low_span <= wire <= output.rest + output.high_span
        assert output.wire is Wire.PULSE or abs(wire) <= output.high_span
        assert command != 0 or wire == output.rest
        if output.slews:
            assert before * command >= 0, "crossed zero within a tick"
            if abs(command) > abs(before):
                assert abs(command) - abs(before) <= output.up_step, "faster than its slew"
            elif command != 0:
                assert abs(before) - abs(command) <= output.down_step, "slower than its slew allows"
        sign = (command > 0) - (command < 0)
        if sign and sign == -self.last_sign[number]:
            assert self.rested[number] >= output.pause_ticks, "reversed without its pause"
        self.rested[number] = 0 if sign else self.rested[number] + 1
        self.last_sign[number] = sign or self.last_sign[number]
