"""Which pulse a stick or switch has to send for what is wanted, from the plan's numbers."""

from collections.abc import Sequence

from mixer.core.plan import Plan, StickPlan, SwitchPlan
from mixer.laws.expect import neutral_windows


def good(plan: Plan, channel: int, pulse: int) -> int:
    """The nearest pulse that counts as good on this channel."""
    wire = plan.channels[channel]
    return min(max(pulse, wire.good_low_us), wire.good_high_us)


def stick_pulse(plan: Plan, stick: StickPlan, share: float) -> int:
    """The pulse of a stick held at a share of its way, -1 to 1."""
    span = stick.low_span_us if share < 0 else stick.high_span_us
    return good(plan, stick.channel, stick.centre_us + round(span * share))


def neutral_pulses(plan: Plan) -> list[int]:
    """For each stick the pulse in the middle of what is neutral; its centre where nothing is."""
    return [
        (window.low_us + window.high_us) // 2 if window.low_us <= window.high_us else stick.centre_us
        for stick, window in zip(plan.sticks, neutral_windows(plan), strict=True)
    ]


def switch_pulse(plan: Plan, switch: SwitchPlan, position: int) -> int:
    """A pulse that brings the switch to a position from every other."""
    last = len(switch.edges_us)
    raised = last - position if switch.reverse else position
    wire = plan.channels[switch.channel]
    low = switch.edges_us[raised - 1] + switch.hysteresis_us if raised > 0 else wire.good_low_us
    high = switch.edges_us[raised] - switch.hysteresis_us - 1 if raised < last else wire.good_high_us
    return good(plan, switch.channel, (max(low, wire.good_low_us) + min(high, wire.good_high_us)) // 2)


def resting_pulses(plan: Plan, *, armed: bool) -> list[int]:
    """One pulse a channel: sticks and mixed switches at neutral, the arm switch as wanted, others at 0."""
    pulses = [good(plan, number, 1500) for number in range(len(plan.channels))]
    for stick, pulse in zip(plan.sticks, neutral_pulses(plan), strict=True):
        pulses[stick.channel] = good(plan, stick.channel, pulse)
    for number, switch in enumerate(plan.switches):
        position = len(switch.edges_us) - 1 if number in plan.mixed_switches else 0
        if number == plan.guard.arm_switch:
            position = arm_position(plan, armed=armed)
        pulses[switch.channel] = switch_pulse(plan, switch, position)
    return pulses


def arm_position(plan: Plan, *, armed: bool) -> int:
    """The arm switch's position for armed, or one that is not."""
    on = plan.guard.arm_position
    if armed:
        return on
    return on - 1 if on > 0 else on + 1


def open_readings(plan: Plan) -> list[int]:
    """What every contact reads while it is open."""
    return [contact.level(closed=False) for contact in plan.contacts]


def frame_ticks(plan: Plan, frame_ms: float = 20.0) -> int:
    """Ticks from one frame to the next; never so many that the plan would call a healthy pace a loss."""
    return max(1, min(round(frame_ms / plan.tick_ms), plan.guard.lost_ticks))


def flip_input(plan: Plan, flipped: int, pulses: Sequence[int], contacts: Sequence[int]) -> list[int]:
    """The inputs of a robot lying on its belly (0) or its back (1): pulses, then contacts."""
    row, readings = list(pulses), list(contacts)
    if plan.flip is not None and plan.flip.switch >= 0:
        switch = plan.switches[plan.flip.switch]
        upright = plan.flip.position - 1 if plan.flip.position > 0 else plan.flip.position + 1
        row[switch.channel] = switch_pulse(plan, switch, plan.flip.position if flipped else upright)
    elif plan.flip is not None:
        closed = plan.contacts[plan.flip.contact].closed_reads
        readings[plan.flip.contact] = closed if flipped else 1 - closed
    return row + readings
