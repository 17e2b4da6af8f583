"""Why an actuator may not go a way now, in the words of `explain` and of the bench."""

from mixer.core.plan import Plan
from mixer.core.signals import Signals, State


def blocked_ways(plan: Plan, number: int, signals: Signals[int], state: State[int]) -> dict[int, str]:
    """Each way that actuator `number` may not go, 1 out and -1 in, with what blocks it."""
    actuator, may = plan.actuators[number], signals.actuators[number]
    ways = ((1, "extending", may.high, actuator.out_stop), (-1, "retracting", may.low, actuator.in_stop))
    latched = bool(state.actuators[number].latched) and not actuator.stops_robot
    found = {}
    for way, word, allowed, stop in ways:
        name = "" if stop is None else plan.contacts[stop].name
        if allowed:
            continue
        if latched:
            why = "both end stops were closed, disarm to clear"
        elif stop is not None and signals.contacts[stop].closed:
            why = f"end stop {name} is closed"
        else:
            why = f"driven longer than its travel without meeting {name or 'a stop'}"
        found[way] = f"{word} blocked: {why}"
    return found
