"""A robot at rest: the pulses and readings that its own firmware calls neutral, disarmed, armed and open.

Whatever has to send "hands off" asks here: the bench's hand sticks, an explanation, faults, scenarios, the
vectors of an export. A stick at rest stands where its command, trim and reverse counted in, is nearest
to 0; a switch stands in the middle of the pulses that bring it to its position from every other one.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from mixer.core.intake import scale
from mixer.core.layout import layout_of, power_up
from mixer.core.ops import magnitude
from mixer.core.plan import Guard, Plan, StickPlan, SwitchPlan, SwitchPosition
from mixer.core.tick import tick

FRAME_MS = 20.0
"""From one frame of a receiver to the next (common practice, no source)."""


def good_pulse(plan: Plan, channel: int, pulse: int) -> int:
    """The nearest pulse that counts as good on a channel, in µs."""
    wire = plan.channels[channel]
    return min(max(pulse, wire.good_low_us), wire.good_high_us)


def neutral_pulse(plan: Plan, stick: StickPlan) -> int:
    """The good pulse at which the stick's command is nearest to 0; of several the one nearest its centre.

    A stick's command never turns back as its pulse rises, so two searches by halves find it.
    """
    wire = plan.channels[stick.channel]
    good = range(wire.good_low_us, wire.good_high_us + 1)

    def command(pulse: int) -> int:
        scaled = int(scale(stick, pulse))
        return -scaled if stick.reverse else scaled

    at = bisect_left(good, 0, key=command)
    least = min((command(pulse) for pulse in good[max(at - 1, 0) : at + 1]), key=magnitude)
    first, last = bisect_left(good, least, key=command), bisect_right(good, least, key=command) - 1
    return min(max(stick.centre_us, good[first]), good[last])


def position_pulse(plan: Plan, switch: SwitchPlan, position: int) -> int:
    """A good pulse that brings a switch to a position from every other: the middle of all that do."""
    last = len(switch.edges_us)
    raised = last - position if switch.reverse else position
    wire = plan.channels[switch.channel]
    low, high = wire.good_low_us, wire.good_high_us
    if raised > 0:
        low = max(low, switch.edges_us[raised - 1] + switch.hysteresis_us)
    if raised < last:
        high = min(high, switch.edges_us[raised] - switch.hysteresis_us - 1)
    return good_pulse(plan, switch.channel, (low + high) // 2)


def resting_position(plan: Plan, number: int, *, armed: bool) -> int:
    """Where switch `number` stands: mixed ones without effect, upright, armed or beside it, else at 0."""
    guard, flip = plan.guard, plan.flip
    if guard.arm is not None and number == guard.arm.switch:
        return guard.arm.position if armed else beside(guard.arm.position)
    told_by = None if flip is None else flip.told_by
    if isinstance(told_by, SwitchPosition) and number == told_by.switch:
        return beside(told_by.position)
    return len(plan.switches[number].edges_us) - 1 if number in plan.mixed_switches else 0


def beside(position: int) -> int:
    """A neighbour of a switch's position."""
    return position - 1 if position > 0 else position + 1


def resting_pulses(plan: Plan, *, armed: bool) -> list[int]:
    """One pulse in µs a channel: all sticks at neutral, every switch where it rests."""
    pulses = [channel.rest_us for channel in plan.channels]
    for stick in plan.sticks:
        pulses[stick.channel] = neutral_pulse(plan, stick)
    for number, switch in enumerate(plan.switches):
        position = resting_position(plan, number, armed=armed)
        pulses[switch.channel] = position_pulse(plan, switch, position)
    return pulses


def contact_levels(plan: Plan, closed: Sequence[bool] = ()) -> list[int]:
    """What each contact's wire reads: all open, or each as `closed` says."""
    states = closed or (False,) * len(plan.contacts)
    return [contact.level(closed=state) for contact, state in zip(plan.contacts, states, strict=True)]


def resting_inputs(plan: Plan, *, armed: bool) -> list[int]:
    """A tick's inputs from hands off: `resting_pulses`, then every contact open."""
    return resting_pulses(plan, armed=armed) + contact_levels(plan)


def frame_ticks(plan: Plan, frame_ms: float = FRAME_MS) -> int:
    """Ticks from one frame to the next; never so many that the plan would call a healthy pace a loss."""
    return max(1, min(round(frame_ms / plan.tick_ms), plan.guard.lost_ticks))


def arming(plan: Plan, every: int = 1) -> list[list[int]]:
    """Inputs, a row a tick, that make a robot live from any state: at rest disarmed, then at rest armed.

    Pulses come `every` so many ticks. A robot that is not live after them cannot be armed at all.
    """
    release = max((contact.release_ticks for contact in plan.contacts), default=0)
    settle = 3 * every + release + (plan.flip.settle_ticks if plan.flip else 0) + plan.guard.off_ticks
    rows: list[list[int]] = []
    for armed, ticks in ((False, settle), (True, 3 * every + plan.guard.hold_ticks)):
        row = resting_inputs(plan, armed=armed)
        gap = [0] * len(plan.channels) + row[len(plan.channels) :]
        rows += [gap if at % every else row for at in range(-(-ticks // every) * every)]
    return rows


def can_go_live(plan: Plan) -> bool:
    """Whether hands off and the arm switch bring this robot to life, tried with the firmware itself."""
    layout, state = layout_of(plan), power_up(plan)
    for row in arming(plan):
        state = tick(plan, layout.inputs_of(row), state).state
    return state.guard.state == Guard.LIVE
