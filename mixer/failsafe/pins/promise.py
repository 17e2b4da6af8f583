"""By when a fault has to have stopped the robot at its pins, as the whole chain promises it."""

from mixer.core.plan import Plan
from mixer.failsafe.report.stop import Stop, output_ms
from mixer.faults.fault import Fault
from mixer.faults.power import WATCHDOG_MS, WATCHDOG_OFF, Hang


def promised_ms(plan: Plan, stop: Stop, fault: Fault) -> float | None:
    """From the onset to the last moving pulse, by the board's clock; None where nothing has to stop.

    Of a loss the onset lies after the last good pulse, so what is promised from that pulse on is kept from
    the onset on all the more.
    """
    if isinstance(fault, Hang):
        return WATCHDOG_MS * (1 + WATCHDOG_OFF) + plan.tick_ms + output_ms(plan)
    if not fault.must_stop:
        return None
    if fault.radio_gone:
        return (stop.in_full_ms + fault.grace_ticks * plan.tick_ms) * fault.slows
    if fault.restart_ticks:
        return (fault.restart_ticks + 1) * plan.tick_ms + output_ms(plan)
    return float(plan.tick_ms)
