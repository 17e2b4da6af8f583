"""What keeps an output from what the mix asked for, stage by stage, in words."""

from collections.abc import Iterator

from mixer.core.ops import ONE, clamp
from mixer.core.plan import Guard, OverRange, Plan
from mixer.core.signals import Signals, State
from mixer.live.views.snapshot import Held
from mixer.runs.explain.interlock import blocked_ways
from mixer.runs.explain.steps import percent


def held_back(plan: Plan, number: int, signals: Signals[int], state: State[int]) -> tuple[Held, ...]:
    """Everything that holds output `number` back in this tick, in the order of the stages."""
    output, now = plan.outputs[number], signals.outputs[number]
    command = now.command
    found = list(_over_range(plan, number, now.mixed, now.blended))
    if signals.guard.state != Guard.LIVE:
        name = Guard(signals.guard.state).name.lower()
        found.append(Held("guard", f"{name}: held at zero" if not command else f"{name}: ramping down"))
        return tuple(found)
    if now.limited != now.started:
        asked = f"asked for {abs(now.started) / ONE:.0%}"
        found.append(Held("limit", f"limit {output.limit / ONE:.0%}, {asked}"))
    target = now.wanted
    for held, allowed in _interlock(plan, number, now.wanted, signals, state):
        found.append(held)
        target = allowed
    pause = state.outputs[number].pause
    if target * pause < 0 and not command:
        found.append(Held("pause", f"rests {abs(pause) * plan.tick_ms} ms more before it reverses"))
    elif command != target:
        found.append(Held("slew", f"on its way to {percent(target)}"))
    return tuple(found)


def _over_range(plan: Plan, number: int, mixed: int, blended: int) -> Iterator[Held]:
    if mixed == blended:
        return
    group = next((group for group in plan.groups if number in group.outputs), None)
    change = f"{percent(mixed)} -> {percent(blended)}"
    if group is None or group.policy is OverRange.CLIP:
        yield Held("over-range", f"clipped, {change}")
    elif group.policy is OverRange.SCALE:
        yield Held("over-range", f"{group.name} scaled together, {change}")
    elif group.yielding is not None:
        yield Held("over-range", f"{plan.sources[group.yielding]} yields, {change}")


def _interlock(
    plan: Plan, number: int, wanted: int, signals: Signals[int], state: State[int]
) -> Iterator[tuple[Held, int]]:
    for at, (actuator, may) in enumerate(zip(plan.actuators, signals.actuators, strict=True)):
        allowed = clamp(wanted, may.low, may.high)
        if actuator.output == number and allowed != wanted:
            way = 1 if wanted > 0 else -1
            yield Held("interlock", blocked_ways(plan, at, signals, state)[way]), allowed
