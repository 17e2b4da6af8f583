"""Why the robot is not live: what the guard is waiting for, in words."""

from mixer.core.ops import ONE
from mixer.core.plan import Guard, Plan
from mixer.core.signals import Signals, State
from mixer.runs.explain.steps import percent


def why_not_live(plan: Plan, signals: Signals[int], state: State[int]) -> tuple[str, ...]:
    """Everything that keeps the robot from going live, from the signals and the state; empty when live."""
    if signals.guard.state == Guard.LIVE:
        return ()
    reasons = [*faults_in(plan, signals), *lost_in(plan, signals)]
    guard = plan.guard
    if guard.arm is not None:
        switch = plan.switches[guard.arm.switch]
        wanted = switch.position_names[guard.arm.position]
        if not signals.guard.armed:
            now = switch.position_names[signals.switches[guard.arm.switch].position]
            reasons.append(f"the arm switch {switch.name} is {now}, not {wanted}")
        elif not state.guard.seen_off:
            long = guard.off_ticks * plan.tick_ms
            reasons.append(
                f"the arm switch {switch.name} has not been seen off for {long} ms since the signal came"
            )
    reasons += not_neutral_in(plan, signals)
    if not reasons:
        left = (guard.hold_ticks - state.guard.held) * plan.tick_ms
        reasons.append(f"everything must stay as it is for another {left} ms")
    return tuple(reasons)


def faults_in(plan: Plan, signals: Signals[int]) -> list[str]:
    """Faults that stop the whole robot, present or latched."""
    both = [
        f"both end stops of {actuator.name} are closed"
        for actuator, told in zip(plan.actuators, signals.actuators, strict=True)
        if actuator.stops_robot and told.fault
    ]
    if both or signals.guard.state != Guard.FAULTED:
        return both
    return ["a fault is latched until the robot is disarmed"]


def lost_in(plan: Plan, signals: Signals[int]) -> list[str]:
    """The channels that count as lost, in one reason."""
    lost = plan.guard.lost_ticks
    told = zip(plan.channels, signals.channels, strict=True)
    names = [channel.name for channel, now in told if now.age >= lost]
    if len(names) == len(plan.channels) > 1:
        return ["no signal on any channel"]
    return [f"no signal on {', '.join(names)}"] if names else []


def not_neutral_in(plan: Plan, signals: Signals[int]) -> list[str]:
    """Sticks and mixed switches away from neutral."""
    within = plan.guard.neutral_within
    away = [
        f"{stick.name} is at {percent(now.scaled)}, not within ±{within * 100 / ONE:.1f} %"
        for stick, now in zip(plan.sticks, signals.sticks, strict=True)
        if abs(now.scaled) > within
    ]
    for index in plan.mixed_switches:
        switch = plan.switches[index]
        position = signals.switches[index].position
        if position != len(switch.edges_us) - 1:
            away.append(f"the switch {switch.name} is at {switch.position_names[position]}, not at rest")
    return away
