"""Which pulse a stick has to send for what is wanted, and how a robot is told which way up it lies."""

from collections.abc import Sequence

from mixer.core.plan import Plan, StickPlan
from mixer.core.rest import good_pulse, position_pulse


def stick_pulse(plan: Plan, stick: StickPlan, share: float) -> int:
    """The pulse of a stick held at a share of its way, -1 to 1."""
    span = stick.low_span_us if share < 0 else stick.high_span_us
    return good_pulse(plan, stick.channel, stick.centre_us + round(span * share))


def flip_input(plan: Plan, flipped: int, pulses: Sequence[int], contacts: Sequence[int]) -> list[int]:
    """The inputs of a robot lying on its belly (0) or its back (1): pulses, then contacts."""
    row, readings = list(pulses), list(contacts)
    if plan.flip is not None and plan.flip.switch >= 0:
        switch = plan.switches[plan.flip.switch]
        upright = plan.flip.position - 1 if plan.flip.position > 0 else plan.flip.position + 1
        row[switch.channel] = position_pulse(plan, switch, plan.flip.position if flipped else upright)
    elif plan.flip is not None:
        readings[plan.flip.contact] = plan.contacts[plan.flip.contact].level(closed=bool(flipped))
    return row + readings
