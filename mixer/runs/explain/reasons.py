"""Why the robot is not live: what the guard is waiting for, in words."""

from collections.abc import Mapping

from mixer.core.ops import ONE
from mixer.core.plan import Guard, Plan
from mixer.runs.explain.steps import percent


def why_not_live(plan: Plan, signals: Mapping[str, int], state: Mapping[str, int]) -> tuple[str, ...]:
    """Everything that keeps the robot from going live, by name of signal and of state; empty when live."""
    if signals["guard.state"] == Guard.LIVE:
        return ()
    reasons = [*_faults(plan, signals), *_lost(plan, signals)]
    guard = plan.guard
    if guard.arm is not None:
        switch = plan.switches[guard.arm.switch]
        wanted = switch.position_names[guard.arm.position]
        if not signals["guard.armed"]:
            now = switch.position_names[signals[f"switch.{switch.name}.position"]]
            reasons.append(f"the arm switch {switch.name} is {now}, not {wanted}")
        elif not state["guard.seen_off"]:
            long = guard.off_ticks * plan.tick_ms
            reasons.append(
                f"the arm switch {switch.name} has not been seen off for {long} ms since the signal came"
            )
    reasons += _not_neutral(plan, signals)
    if not reasons:
        left = (guard.hold_ticks - state["guard.held"]) * plan.tick_ms
        reasons.append(f"everything must stay as it is for another {left} ms")
    return tuple(reasons)


def _faults(plan: Plan, signals: Mapping[str, int]) -> list[str]:
    both = [
        f"both end stops of {actuator.name} are closed"
        for actuator in plan.actuators
        if actuator.stops_robot and signals[f"actuator.{actuator.name}.fault"]
    ]
    if both or signals["guard.state"] != Guard.FAULTED:
        return both
    return ["a fault is latched until the robot is disarmed"]


def _lost(plan: Plan, signals: Mapping[str, int]) -> list[str]:
    lost = plan.guard.lost_ticks
    names = [c.name for c in plan.channels if signals[f"channel.{c.name}.age"] >= lost]
    return [f"no signal on {', '.join(names)}"] if names else []


def _not_neutral(plan: Plan, signals: Mapping[str, int]) -> list[str]:
    within = plan.guard.neutral_within
    scaled = {stick.name: signals[f"stick.{stick.name}.scaled"] for stick in plan.sticks}
    away = [
        f"{name} is at {percent(command)}, not within ±{within * 100 / ONE:.1f} %"
        for name, command in scaled.items()
        if abs(command) > within
    ]
    for index in plan.mixed_switches:
        switch = plan.switches[index]
        position = signals[f"switch.{switch.name}.position"]
        if position != len(switch.edges_us) - 1:
            away.append(f"the switch {switch.name} is at {switch.position_names[position]}, not at rest")
    return away
