"""What happens when the radio goes: how the robot stops, and in which times."""

from collections.abc import Iterator
from dataclasses import dataclass

from pydantic import computed_field

from mixer.board.incoming import GAP_US, LONGEST_PULSE_US
from mixer.board.wiring.wires import channels_of
from mixer.core.plan import Plan, Wire
from mixer.faults.power import watchdog_ticks
from mixer.laws.expect import LATE_TICKS, loss_ms, lost_ms, stop_ms
from mixer.profile.profile import Profile
from mixer.profile.schema.root import Robot

WIRE_FRAME_MS = 20.0
"""From one servo pulse of an output to the next (common practice, no source)."""
Part = tuple[str, float]
"""Of the way to a standstill: its name, and how long it takes in ms."""


@dataclass(frozen=True, slots=True)
class Stop:
    """How a lost signal stops the robot; times in ms from the last good pulse."""

    promised_ms: float
    """What the profile promises: all outputs at zero so long after the last good pulse."""
    worst_ms: float
    """What the plan's counters give, up to a tick until a pulse is read included."""
    detected_ms: float
    """From the last good pulse until the loss is noticed: the detection part of `worst_ms`."""
    reaction_ms: float
    """From there to all outputs at zero."""
    words: str
    """What the stop does, in the words of IEC 60204-1, 9.2.2, used by likeness only."""

    late: str
    """What a tick that comes late does."""
    hang: str
    """What ends a hang, which the mix cannot see."""
    parts: tuple[Part, ...]
    """From the radio's last good frame to the last moving pulse on a wire."""

    @computed_field
    @property
    def in_full_ms(self) -> float:
        """All of it."""
        return sum(ms for _, ms in self.parts)

    @computed_field
    @property
    def kept(self) -> bool:
        """Whether the promise holds in the worst case."""
        return self.worst_ms <= self.promised_ms


def stop_of(profile: Profile, loadout: str | None) -> Stop:
    """How one loadout stops."""
    plan = profile.plan(loadout)
    return Stop(
        promised_ms=profile.stop_within_ms(loadout),
        worst_ms=loss_ms(plan) + plan.tick_ms,
        detected_ms=lost_ms(plan) + plan.tick_ms,
        reaction_ms=stop_ms(plan),
        words=_words(plan),
        late=_late(plan),
        hang=_hang(plan),
        parts=tuple(_parts(plan, _whole_pulse(profile.robot(loadout), plan))),
    )


def _whole_pulse(robot: Robot, plan: Plan) -> Part:
    """From its begin until a pulse is known: it is measured when it ends, a train when its gap is over."""
    longest_us = max(LONGEST_PULSE_US, *(channel.good_high_us for channel in plan.channels))
    if robot.receiver.wire == "channels":
        return "pulse", longest_us / 1000
    return "train of pulses", (channels_of(robot) * longest_us + GAP_US) / 1000


def _parts(plan: Plan, whole_pulse: Part) -> Iterator[Part]:
    """A median adds nothing: what is lost is the last pulse, whatever it was."""
    yield whole_pulse
    yield "tick that reads it", plan.tick_ms
    yield "loss", lost_ms(plan)
    yield "ramp", stop_ms(plan)
    yield "output's own frame", output_ms(plan)


def output_ms(plan: Plan) -> float:
    """From the tick that sets an output to the last pulse or period that it had before."""
    pulses = any(output.wire is Wire.PULSE for output in plan.outputs)
    return WIRE_FRAME_MS if pulses else plan.tick_ms


def _words(plan: Plan) -> str:
    if plan.guard.ramps:
        return f"like stop category 1: outputs ramp to zero within {stop_ms(plan)} ms, then drive is off"
    return "like stop category 0: every output is told zero at once"


def _late(plan: Plan) -> str:
    again = "arms as after power-up" if plan.guard.arm is None else "waits to be armed again"
    return (
        f"a tick that begins {LATE_TICKS * plan.tick_ms} ms late or more: outputs stand as they are until "
        f"it does, then rest at once; the robot {again}"
    )


def _hang(plan: Plan) -> str:
    again = "arms as after power-up" if plan.guard.arm is None else "waits to be armed again"
    return (
        "a hang: the mix cannot see it; outputs stand as they are until the board's watchdog starts it "
        f"anew, {watchdog_ticks(plan.tick_ms) * plan.tick_ms} ms at most by `export --board`; then "
        f"rest, and the robot {again}"
    )
