"""The steps of one output: its sources, the mix, over-range, drive, guard, interlock, slew, wire."""

from collections.abc import Iterator, Sequence

from mixer.core.blend import contribution
from mixer.core.ops import ONE, clamp
from mixer.core.plan import Guard, OutputPlan, OverRange, Plan, Wire
from mixer.core.signals import OutputSignals, Signals, State
from mixer.runs.explain.interlock import blocked_ways
from mixer.runs.explain.steps import Step, command_of_source, percent, share, source_steps

_POLICIES = {
    OverRange.CLIP: "each output alone is held at full",
    OverRange.SCALE: "all its outputs shrink by the same factor",
    OverRange.YIELD: "{} gives way",
}


def output_steps(
    plan: Plan, number: int, inputs: Sequence[int], signals: Signals[int], state: State[int]
) -> Iterator[Step]:
    """Every stage of output `number`, in the firmware's order."""
    output, now = plan.outputs[number], signals.outputs[number]
    sources = [index for index, weight in enumerate(output.weights) if weight]
    for source in sources:
        yield from source_steps(plan, source, inputs, signals)
    yield from _mix_steps(plan, number, sources, signals)
    yield _over_range_step(plan, number, now)
    yield from _level_steps(output, now)
    yield from _protect_steps(plan, number, signals, state)
    yield _wire_step(output, now)


def _mix_steps(plan: Plan, number: int, sources: Sequence[int], signals: Signals[int]) -> Iterator[Step]:
    output = plan.outputs[number]
    for source in sources:
        command = command_of_source(plan, source, signals)
        part = contribution(output.weights[source], command)
        weight = f"{output.weights[source] / ONE:+.3g}"
        text = f"{plan.sources[source]} {percent(command)} × {weight} = {percent(part)}"
        yield Step("mix", text, part)
    if len(sources) != 1:
        mixed = signals.outputs[number].mixed
        yield Step("mix", f"together {percent(mixed)}", mixed)


def _over_range_step(plan: Plan, number: int, now: OutputSignals[int]) -> Step:
    mixed, blended = now.mixed, now.blended
    group = next((group for group in plan.groups if number in group.outputs), None)
    if mixed == blended:
        return Step("over-range", f"within range: {percent(blended)} stays", blended)
    policy = _POLICIES[group.policy if group else OverRange.CLIP]
    if group and group.yielding is not None:
        policy = policy.format(plan.sources[group.yielding])
    name = f"group {group.name}: " if group else ""
    return Step("over-range", f"{name}{policy}: {percent(mixed)} -> {percent(blended)}", blended)


def _level_steps(output: OutputPlan, now: OutputSignals[int]) -> Iterator[Step]:
    if output.gain != ONE:
        text = f"gain {share(output.gain)}: {percent(now.blended)} -> {percent(now.gained)}"
        yield Step("gain", text, now.gained)
    if output.breakaway:
        text = f"breakaway {share(output.breakaway)}: {percent(now.gained)} -> {percent(now.started)}"
        yield Step("breakaway", text, now.started)
    if now.limited != now.started:
        text = f"limit {share(output.limit)}: {percent(now.started)} -> {percent(now.limited)}"
        yield Step("limit", text, now.limited)


def _protect_steps(plan: Plan, number: int, signals: Signals[int], state: State[int]) -> Iterator[Step]:
    wanted, command = signals.outputs[number].wanted, signals.outputs[number].command
    guard = Guard(signals.guard.state)
    follows = "the output follows" if guard is Guard.LIVE else "the output is held at zero"
    yield Step("guard", f"{guard.name.lower()}: {follows}, {percent(wanted)}", wanted)
    allowed = wanted
    for at, (actuator, may) in enumerate(zip(plan.actuators, signals.actuators, strict=True)):
        if actuator.output != number:
            continue
        allowed = clamp(wanted, may.low, may.high)
        blocked = blocked_ways(plan, at, signals, state).values()
        text = "; ".join(blocked) or "both directions are free"
        yield Step("interlock", f"{text}: {percent(wanted)} -> {percent(allowed)}", allowed)
    if plan.outputs[number].slews:
        reached = "reached" if command == allowed else f"still on its way to {percent(allowed)}"
        yield Step("slew", f"{percent(command)}, {reached}", command)


def _wire_step(output: OutputPlan, now: OutputSignals[int]) -> Step:
    command, wire = now.command, now.wire
    turned = ", reversed" if output.reverse else ""
    if output.wire is Wire.PULSE:
        low, high = output.rest - output.low_span, output.rest + output.high_span
        ends = f"between {low}/{output.rest}/{high} µs{turned}"
        return Step("wire", f"{percent(command)} {ends} -> {wire} µs", wire)
    resting = "" if wire else f", the bridge {'brakes' if output.brake else 'coasts'}"
    return Step(
        "wire", f"{percent(command)} of {output.high_span} counts{turned} -> duty {wire}{resting}", wire
    )
