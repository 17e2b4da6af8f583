"""The steps of one source, from its pulse to the command that enters the mix."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from mixer.core.intake import command_of
from mixer.core.ops import ONE
from mixer.core.plan import Plan, ShapePlan, StickPlan, SwitchPlan


@dataclass(frozen=True, slots=True)
class Step:
    """One stage."""

    stage: str
    """pulse, scale, deadband, expo, rate, flip, switch, mix, over-range, gain, breakaway, limit, guard,
    interlock, slew, wire."""
    text: str
    """What happened, with the numbers."""
    value: int
    """What left the stage: µs for pulse and wire (or duty counts), otherwise Q14."""


def percent(value: int) -> str:
    """A Q14 number as people say it."""
    return f"{value / ONE:+.1%}".replace("%", " %") if value else "0 %"


def share(value: int) -> str:
    """A setting as a share of full, without a sign."""
    return f"{value / ONE:.3g}"


def source_steps(
    plan: Plan, source: int, inputs: Sequence[int], signals: Mapping[str, int]
) -> Iterator[Step]:
    """The steps of a source of the mix, by its place among `plan.sources`."""
    if source < len(plan.sticks):
        yield from _stick_steps(plan, plan.sticks[source], inputs, signals)
    else:
        switch = plan.switches[plan.mixed_switches[source - len(plan.sticks)]]
        yield _pulse_step(plan, switch.channel, inputs, signals)
        yield _switch_step(switch, signals)


def command_of_source(plan: Plan, source: int, signals: Mapping[str, int]) -> int:
    """What a source hands to the mix."""
    if source < len(plan.sticks):
        return signals[f"stick.{plan.sticks[source].name}.command"]
    return _switch_step(plan.switches[plan.mixed_switches[source - len(plan.sticks)]], signals).value


def _pulse_step(plan: Plan, channel: int, inputs: Sequence[int], signals: Mapping[str, int]) -> Step:
    wire = plan.channels[channel]
    held = signals[f"channel.{wire.name}.pulse"]
    if signals[f"channel.{wire.name}.good"]:
        text = f"{wire.name} receives {held} µs"
        if held != inputs[channel]:
            text = f"{wire.name} receives {inputs[channel]} µs, of which the median makes {held} µs"
    else:
        what = f"{inputs[channel]} µs, no good pulse" if inputs[channel] else "no pulse"
        good = f"{wire.good_low_us} to {wire.good_high_us} µs"
        text = f"{wire.name} receives {what} ({good} are): {held} µs stays"
    return Step("pulse", text, held)


def _switch_step(switch: SwitchPlan, signals: Mapping[str, int]) -> Step:
    position = signals[f"switch.{switch.name}.position"]
    command = command_of(switch, position)
    return Step(
        "switch", f"{switch.name} is at {switch.position_names[position]} -> {percent(command)}", command
    )


def _stick_steps(
    plan: Plan, stick: StickPlan, inputs: Sequence[int], signals: Mapping[str, int]
) -> Iterator[Step]:
    scaled, banded, curved, rated, command = (
        signals[f"stick.{stick.name}.{field}"]
        for field in ("scaled", "banded", "curved", "rated", "command")
    )
    pulse = _pulse_step(plan, stick.channel, inputs, signals)
    yield pulse
    ends = (
        f"{stick.centre_us - stick.low_span_us}/{stick.centre_us}/{stick.centre_us + stick.high_span_us} µs"
    )
    extras = (", reversed" if stick.reverse else "") + (
        f", trim {percent(stick.trim)}" if stick.trim else ""
    )
    yield Step("scale", f"{pulse.value} µs between {ends}{extras} -> {percent(scaled)}", scaled)
    shape = _shape_in_use(plan, stick, signals)
    if shape.band:
        text = f"deadband {share(shape.band)}: {percent(scaled)} -> {percent(banded)}"
        yield Step("deadband", text, banded)
    if shape.expo:
        yield Step("expo", f"expo {share(shape.expo)}: {percent(banded)} -> {percent(curved)}", curved)
    if shape.rate != ONE:
        yield Step("rate", f"rate {share(shape.rate)}: {percent(curved)} -> {percent(rated)}", rated)
    if stick.flips and signals["flip.flipped"]:
        yield Step("flip", f"upside down: {percent(rated)} -> {percent(command)}", command)


def _shape_in_use(plan: Plan, stick: StickPlan, signals: Mapping[str, int]) -> ShapePlan:
    if stick.chooser is None:
        return stick.shapes[0]
    position = signals[f"switch.{plan.switches[stick.chooser].name}.position"]
    return stick.shapes[min(position, len(stick.shapes) - 1)]
