"""Which pulse a stick has to send for what is wanted, and how a robot is told which way up it lies."""

from collections.abc import Sequence

from mixer.core.plan import Plan, StickPlan, SwitchPosition
from mixer.core.rest import beside, good_pulse, position_pulse


def stick_pulse(plan: Plan, stick: StickPlan, share: float) -> int:
    """The pulse of a stick held at a share of its way, -1 to 1."""
    span = stick.low_span_us if share < 0 else stick.high_span_us
    return good_pulse(plan, stick.channel, stick.centre_us + round(span * share))


def flip_input(plan: Plan, flipped: int, pulses: Sequence[int], contacts: Sequence[int]) -> list[int]:
    """The inputs of a robot lying on its belly (0) or its back (1): pulses, then contacts."""
    row, readings = list(pulses), list(contacts)
    told_by = None if plan.flip is None else plan.flip.told_by
    if isinstance(told_by, SwitchPosition):
        switch = plan.switches[told_by.switch]
        stands = told_by.position if flipped else beside(told_by.position)
        row[switch.channel] = position_pulse(plan, switch, stands)
    elif told_by is not None:
        readings[told_by] = plan.contacts[told_by].level(closed=bool(flipped))
    return row + readings
