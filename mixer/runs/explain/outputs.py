"""The steps of one output: its sources, the mix, over-range, drive, guard, interlock, slew, wire."""

from collections.abc import Iterator, Mapping, Sequence

from mixer.core.blend import contribution
from mixer.core.drive import breakaway
from mixer.core.ops import ONE, clamp, mul
from mixer.core.plan import ActuatorPlan, Guard, OutputPlan, OverRange, Plan, Wire
from mixer.runs.explain.steps import Step, command_of_source, percent, share, source_steps

_POLICIES = {
    OverRange.CLIP: "each output alone is held at full",
    OverRange.SCALE: "all its outputs shrink by the same factor",
    OverRange.YIELD: "{} gives way",
}


def output_steps(
    plan: Plan, output: OutputPlan, inputs: Sequence[int], signals: Mapping[str, int]
) -> Iterator[Step]:
    """Every stage of one output, in the firmware's order."""
    sources = [index for index, weight in enumerate(output.weights) if weight]
    for source in sources:
        yield from source_steps(plan, source, inputs, signals)
    yield from _mix_steps(plan, output, sources, signals)
    yield _over_range_step(plan, output, signals)
    yield from _level_steps(output, signals[f"output.{output.name}.blended"])
    yield from _protect_steps(plan, output, signals)
    yield _wire_step(output, signals)


def _mix_steps(
    plan: Plan, output: OutputPlan, sources: Sequence[int], signals: Mapping[str, int]
) -> Iterator[Step]:
    for source in sources:
        command = command_of_source(plan, source, signals)
        part = contribution(output.weights[source], command)
        weight = f"{output.weights[source] / ONE:+.3g}"
        text = f"{plan.sources[source]} {percent(command)} × {weight} = {percent(part)}"
        yield Step("mix", text, part)
    if len(sources) != 1:
        mixed = signals[f"output.{output.name}.mixed"]
        yield Step("mix", f"together {percent(mixed)}", mixed)


def _over_range_step(plan: Plan, output: OutputPlan, signals: Mapping[str, int]) -> Step:
    mixed, blended = (signals[f"output.{output.name}.{field}"] for field in ("mixed", "blended"))
    place = plan.outputs.index(output)
    group = next((group for group in plan.groups if place in group.outputs), None)
    if mixed == blended:
        return Step("over-range", f"within range: {percent(blended)} stays", blended)
    policy = _POLICIES[group.policy if group else OverRange.CLIP]
    if group and group.yielding is not None:
        policy = policy.format(plan.sources[group.yielding])
    name = f"group {group.name}: " if group else ""
    return Step("over-range", f"{name}{policy}: {percent(mixed)} -> {percent(blended)}", blended)


def _level_steps(output: OutputPlan, blended: int) -> Iterator[Step]:
    gained = clamp(mul(blended, output.gain), -ONE, ONE)
    if output.gain != ONE:
        yield Step("gain", f"gain {share(output.gain)}: {percent(blended)} -> {percent(gained)}", gained)
    jumped = breakaway(gained, output.breakaway)
    if output.breakaway:
        text = f"breakaway {share(output.breakaway)}: {percent(gained)} -> {percent(jumped)}"
        yield Step("breakaway", text, jumped)
    limited = clamp(jumped, -output.limit, output.limit)
    if limited != jumped:
        yield Step(
            "limit", f"limit {share(output.limit)}: {percent(jumped)} -> {percent(limited)}", limited
        )


def _protect_steps(plan: Plan, output: OutputPlan, signals: Mapping[str, int]) -> Iterator[Step]:
    wanted, command = (signals[f"output.{output.name}.{field}"] for field in ("wanted", "command"))
    state = Guard(signals["guard.state"])
    follows = "the output follows" if state is Guard.LIVE else "the output is held at zero"
    yield Step("guard", f"{state.name.lower()}: {follows}, {percent(wanted)}", wanted)
    place = plan.outputs.index(output)
    allowed = wanted
    for actuator in (actuator for actuator in plan.actuators if actuator.output == place):
        low, high = (signals[f"actuator.{actuator.name}.{field}"] for field in ("low", "high"))
        allowed = clamp(wanted, low, high)
        text = _interlock_text(plan, actuator, signals)
        yield Step("interlock", f"{text}: {percent(wanted)} -> {percent(allowed)}", allowed)
    if output.slews:
        reached = "reached" if command == allowed else f"still on its way to {percent(allowed)}"
        yield Step("slew", f"{percent(command)}, {reached}", command)


def _interlock_text(plan: Plan, actuator: ActuatorPlan, signals: Mapping[str, int]) -> str:
    out_free = signals[f"actuator.{actuator.name}.high"] > 0
    in_free = signals[f"actuator.{actuator.name}.low"] < 0
    if out_free and in_free:
        return "both directions are free"
    stops = [
        f"{word} stop closed"
        for word, contact in (("outer", actuator.out_stop), ("inner", actuator.in_stop))
        if contact is not None and signals[f"contact.{plan.contacts[contact].name}.closed"]
    ]
    why = " and ".join(stops) or "the travel is used up without meeting a stop, or a fault is latched"
    blocked = " and ".join(
        word for word, free in (("extending", out_free), ("retracting", in_free)) if not free
    )
    return f"{blocked} blocked ({why})"


def _wire_step(output: OutputPlan, signals: Mapping[str, int]) -> Step:
    command, wire = (signals[f"output.{output.name}.{field}"] for field in ("command", "wire"))
    turned = ", reversed" if output.reverse else ""
    if output.wire is Wire.PULSE:
        low, high = output.rest - output.low_span, output.rest + output.high_span
        ends = f"between {low}/{output.rest}/{high} µs{turned}"
        return Step("wire", f"{percent(command)} {ends} -> {wire} µs", wire)
    resting = "" if wire else f", the bridge {'brakes' if output.brake else 'coasts'}"
    return Step(
        "wire", f"{percent(command)} of {output.high_span} counts{turned} -> duty {wire}{resting}", wire
    )
