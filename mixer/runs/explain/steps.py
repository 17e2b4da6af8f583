"""The steps of one source, from its pulse to the command that enters the mix."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from mixer.core.intake import command_of
from mixer.core.ops import ONE
from mixer.core.plan import Plan, StickPlan
from mixer.core.signals import Signals


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


def source_steps(plan: Plan, source: int, inputs: Sequence[int], signals: Signals[int]) -> Iterator[Step]:
    """The steps of a source of the mix, by its place among `plan.sources`."""
    if source < len(plan.sticks):
        yield from _stick_steps(plan, source, inputs, signals)
    else:
        switch = plan.mixed_switches[source - len(plan.sticks)]
        yield _pulse_step(plan, plan.switches[switch].channel, inputs, signals)
        yield _switch_step(plan, switch, signals)


def command_of_source(plan: Plan, source: int, signals: Signals[int]) -> int:
    """What a source hands to the mix."""
    if source < len(plan.sticks):
        return signals.sticks[source].command
    return _switch_step(plan, plan.mixed_switches[source - len(plan.sticks)], signals).value


def _pulse_step(plan: Plan, channel: int, inputs: Sequence[int], signals: Signals[int]) -> Step:
    wire = plan.channels[channel]
    good, _, held = signals.channels[channel]
    if good:
        text = f"{wire.name} receives {held} µs"
        if held != inputs[channel]:
            text = f"{wire.name} receives {inputs[channel]} µs, of which the median makes {held} µs"
    else:
        what = f"{inputs[channel]} µs, no good pulse" if inputs[channel] else "no pulse"
        fine = f"{wire.good_low_us} to {wire.good_high_us} µs"
        text = f"{wire.name} receives {what} ({fine} are): {held} µs stays"
    return Step("pulse", text, held)


def _switch_step(plan: Plan, number: int, signals: Signals[int]) -> Step:
    switch, position = plan.switches[number], signals.switches[number].position
    command = command_of(switch, position)
    return Step(
        "switch", f"{switch.name} is at {switch.position_names[position]} -> {percent(command)}", command
    )


def _stick_steps(plan: Plan, number: int, inputs: Sequence[int], signals: Signals[int]) -> Iterator[Step]:
    stick = plan.sticks[number]
    scaled, banded, curved, rated, command = signals.sticks[number]
    pulse = _pulse_step(plan, stick.channel, inputs, signals)
    yield pulse
    ends = (
        f"{stick.centre_us - stick.low_span_us}/{stick.centre_us}/{stick.centre_us + stick.high_span_us} µs"
    )
    extras = (", reversed" if stick.reverse else "") + (
        f", trim {percent(stick.trim)}" if stick.trim else ""
    )
    yield Step("scale", f"{pulse.value} µs between {ends}{extras} -> {percent(scaled)}", scaled)
    shape = stick.shapes[shape_number(stick, signals)]
    if shape.band:
        text = f"deadband {share(shape.band)}: {percent(scaled)} -> {percent(banded)}"
        yield Step("deadband", text, banded)
    if shape.expo:
        yield Step("expo", f"expo {share(shape.expo)}: {percent(banded)} -> {percent(curved)}", curved)
    if shape.rate != ONE:
        yield Step("rate", f"rate {share(shape.rate)}: {percent(curved)} -> {percent(rated)}", rated)
    if stick.flips and signals.flip.flipped:
        yield Step("flip", f"upside down: {percent(rated)} -> {percent(command)}", command)


def shape_number(stick: StickPlan, signals: Signals[int]) -> int:
    """Which of its shapes bends a stick now."""
    if stick.chooser is None:
        return 0
    return min(signals.switches[stick.chooser].position, len(stick.shapes) - 1)
