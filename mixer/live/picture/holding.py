"""What keeps an output from what the mix asked for, stage by stage, in words."""

from collections.abc import Iterator, Mapping

from mixer.core.ops import ONE
from mixer.core.plan import Guard, OutputPlan, OverRange, Plan
from mixer.live.views.snapshot import Held
from mixer.runs.explain.steps import percent

Numbers = Mapping[str, int]


def held_back(plan: Plan, number: int, signals: Numbers, state: Numbers) -> tuple[Held, ...]:
    """Everything that holds output `number` back in this tick, in the order of the stages."""
    output = plan.outputs[number]
    mixed, blended, wanted, command = (
        signals[f"output.{output.name}.{field}"] for field in ("mixed", "blended", "wanted", "command")
    )
    found = list(_over_range(plan, number, mixed, blended))
    if signals["guard.state"] != Guard.LIVE:
        name = Guard(signals["guard.state"]).name.lower()
        found.append(Held("guard", f"{name}: held at zero" if not command else f"{name}: ramping down"))
        return tuple(found)
    found += _limit(output, blended)
    target = wanted
    for held, allowed in _interlock(plan, number, wanted, signals, state):
        found.append(held)
        target = allowed
    pause = state[f"output.{output.name}.pause"]
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


def _limit(output: OutputPlan, blended: int) -> Iterator[Held]:
    """Gain, breakaway and limit as the drive stage takes them, to within its rounding."""
    share = min(abs(blended) * output.gain / ONE, ONE)
    asked = share and output.breakaway + share * (ONE - output.breakaway) / ONE
    if asked > output.limit + 1:
        yield Held("limit", f"limit {output.limit / ONE:.0%}, asked for {asked / ONE:.0%}")


def _interlock(
    plan: Plan, number: int, wanted: int, signals: Numbers, state: Numbers
) -> Iterator[tuple[Held, int]]:
    for actuator in plan.actuators:
        if actuator.output != number:
            continue
        low, high = (signals[f"actuator.{actuator.name}.{field}"] for field in ("low", "high"))
        allowed = min(max(wanted, low), high)
        if allowed == wanted:
            continue
        way, stop = ("extending", actuator.out_stop) if wanted > 0 else ("retracting", actuator.in_stop)
        name = "" if stop is None else plan.contacts[stop].name
        if state[f"actuator.{actuator.name}.latched"]:
            why = "both end stops were closed, disarm to clear"
        elif name and signals[f"contact.{name}.closed"]:
            why = f"end stop {name} is closed"
        else:
            why = f"driven longer than its travel without meeting {name or 'a stop'}"
        yield Held("interlock", f"{way} blocked: {why}"), allowed
