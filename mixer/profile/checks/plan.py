"""What `mixer.core.plan` promises under its fields, as one check.

Profiles that pass the loader keep all of it; a plan made another way can be held to it here. Each
breach is one sentence naming the field.
"""

from collections.abc import Callable, Iterator

from mixer.core.ops import HALF, ONE
from mixer.core.plan import (
    ActuatorPlan,
    GroupPlan,
    OutputPlan,
    OverRange,
    Plan,
    ShapePlan,
    StickPlan,
    SwitchPosition,
    Wire,
)
from mixer.errors import InternalError


def check_plan(plan: Plan) -> None:
    """Nothing, or InternalError listing every broken promise: no profile should lead here."""
    broken = list(broken_promises(plan))
    if broken:
        said = f"plan {plan.name!r} breaks its own rules: {'; '.join(broken)}"
        raise InternalError(said, "this is a bug in Stickwright: please report it with the profile")


def broken_promises(plan: Plan) -> Iterator[str]:
    """Every invariant of the plan that does not hold."""
    rules: tuple[Callable[[Plan], Iterator[tuple[bool, str]]], ...] = (
        _sizes,
        _channels,
        _sticks,
        _switches,
        _flip_and_contacts,
        _outputs,
        _groups,
        _actuators,
        _guard,
    )
    for rule in rules:
        yield from (said for holds, said in rule(plan) if not holds)


def _sizes(plan: Plan) -> Iterator[tuple[bool, str]]:
    yield plan.tick_ms >= 1, "tick_ms >= 1"
    yield 1 <= len(plan.channels) <= 16, "1 to 16 channels"
    yield 1 <= len(plan.outputs) <= 24, "1 to 24 outputs"
    yield len(plan.actuators) <= 8, "at most 8 actuators"
    for things in (plan.channels, plan.contacts, plan.outputs, plan.groups, plan.actuators):
        names = [thing.name for thing in things]
        yield len(set(names)) == len(names), f"names occur once: {names}"
    read = sorted([stick.channel for stick in plan.sticks] + [switch.channel for switch in plan.switches])
    yield len(set(read)) == len(read), "a channel is one stick or one switch"
    yield all(0 <= index < len(plan.channels) for index in read), "channels that are read exist"
    mixed = plan.mixed_switches
    yield len(set(mixed)) == len(mixed), "mixed switches occur once"
    yield all(0 <= index < len(plan.switches) for index in mixed), "mixed switches exist"


def _channels(plan: Plan) -> Iterator[tuple[bool, str]]:
    for channel in plan.channels:
        low, high = channel.good_low_us, channel.good_high_us
        yield 1 <= low < high <= 4000, f"{channel.name}: 1 <= good_low_us < good_high_us <= 4000"
        yield low <= channel.rest_us <= high, f"{channel.name}: rest_us is a good pulse"


def _sticks(plan: Plan) -> Iterator[tuple[bool, str]]:
    for stick in plan.sticks:
        yield from _stick(plan, stick)
        for shape in stick.shapes:
            yield from _shape(stick.name, shape)


def _stick(plan: Plan, stick: StickPlan) -> Iterator[tuple[bool, str]]:
    name, spans = stick.name, (stick.low_span_us, stick.high_span_us)
    yield min(spans) >= 0 and max(spans) > 0, f"{name}: spans >= 0 and not both 0"
    for span, gain in zip(spans, (stick.low_gain, stick.high_gain), strict=True):
        yield gain == _reciprocal(span), f"{name}: gain is round(ONE²/span)"
    yield abs(stick.trim) <= HALF, f"{name}: |trim| <= ONE/2"
    if stick.chooser is None:
        yield len(stick.shapes) == 1, f"{name}: one shape without a chooser"
    else:
        exists = 0 <= stick.chooser < len(plan.switches)
        yield exists, f"{name}: chooser exists"
        fits = exists and len(stick.shapes) == len(plan.switches[stick.chooser].position_names)
        yield fits, f"{name}: a shape for each position"


def _shape(name: str, shape: ShapePlan) -> Iterator[tuple[bool, str]]:
    yield 0 <= shape.band < ONE, f"{name}: 0 <= band < ONE"
    yield shape.gain == _reciprocal(ONE - shape.band), f"{name}: gain is round(ONE²/(ONE - band))"
    yield -HALF <= shape.expo <= ONE, f"{name}: -ONE/2 <= expo <= ONE"
    yield 0 < shape.rate <= ONE, f"{name}: 0 < rate <= ONE"


def _reciprocal(span: int) -> int:
    return round(ONE * ONE / span + 1e-9) if span else 0


def _switches(plan: Plan) -> Iterator[tuple[bool, str]]:
    for switch in plan.switches:
        name, edges = switch.name, switch.edges_us
        yield len(edges) in {1, 2} and list(edges) == sorted(set(edges)), f"{name}: one or two rising edges"
        yield len(switch.position_names) == len(edges) + 1, f"{name}: a name for each position"
        yield switch.hysteresis_us >= 0, f"{name}: hysteresis_us >= 0"
        gap = edges[-1] - edges[0]
        yield len(edges) == 1 or 2 * switch.hysteresis_us < gap, f"{name}: hysteresis bands do not meet"


def _flip_and_contacts(plan: Plan) -> Iterator[tuple[bool, str]]:
    for contact in plan.contacts:
        yield contact.closed_reads in {0, 1}, f"{contact.name}: closed_reads is 0 or 1"
        yield contact.release_ticks >= 0, f"{contact.name}: release_ticks >= 0"
    flip = plan.flip
    if flip is None:
        return
    yield flip.settle_ticks >= 1, "flip: settle_ticks >= 1"
    if isinstance(flip.told_by, SwitchPosition):
        yield from _standing(plan, "flip", flip.told_by)
    else:
        yield 0 <= flip.told_by < len(plan.contacts), "flip: contact exists"


def _standing(plan: Plan, name: str, at: SwitchPosition) -> Iterator[tuple[bool, str]]:
    exists = 0 <= at.switch < len(plan.switches)
    yield exists, f"{name}: switch exists"
    stands = exists and 0 <= at.position < len(plan.switches[at.switch].position_names)
    yield stands, f"{name}: position exists"


def _outputs(plan: Plan) -> Iterator[tuple[bool, str]]:
    sources = len(plan.sticks) + len(plan.mixed_switches)
    for output in plan.outputs:
        yield len(output.weights) == sources, f"{output.name}: a weight for each source"
        yield (
            all(abs(weight) <= 2 * ONE for weight in output.weights),
            f"{output.name}: weights within ±2 ONE",
        )
        yield sum(map(abs, output.weights)) <= 4 * ONE, f"{output.name}: weights sum to 4 ONE at most"
        yield from _drive(output)


def _drive(output: OutputPlan) -> Iterator[tuple[bool, str]]:
    name = output.name
    yield 0 < output.gain <= 2 * ONE, f"{name}: 0 < gain <= 2 ONE"
    yield 0 < output.limit <= ONE, f"{name}: 0 < limit <= ONE"
    yield 0 <= output.breakaway < ONE, f"{name}: 0 <= breakaway < ONE"
    yield 1 <= output.up_step <= ONE and 1 <= output.down_step <= ONE, f"{name}: 1 <= step <= ONE"
    yield output.pause_ticks >= 0, f"{name}: pause_ticks >= 0"
    spans = (output.low_span, output.high_span)
    yield all(0 <= span <= 16383 for span in spans), f"{name}: spans are 0 to 16383"
    if output.wire is Wire.DUTY:
        yield output.rest == 0, f"{name}: rest is 0 on a duty wire"
    else:
        yield not output.brake, f"{name}: only a duty wire brakes"


def _groups(plan: Plan) -> Iterator[tuple[bool, str]]:
    grouped = [index for group in plan.groups for index in group.outputs]
    yield len(set(grouped)) == len(grouped), "groups are disjoint"
    yield all(0 <= index < len(plan.outputs) for index in grouped), "grouped outputs exist"
    for group in plan.groups:
        yield _yields_rightly(plan, group), f"{group.name}: yielding names a source, or none"


def _yields_rightly(plan: Plan, group: GroupPlan) -> bool:
    if group.yielding is None:
        return group.policy is not OverRange.YIELD
    sources = len(plan.sticks) + len(plan.mixed_switches)
    return group.policy is OverRange.YIELD and 0 <= group.yielding < sources


def _actuators(plan: Plan) -> Iterator[tuple[bool, str]]:
    for actuator in plan.actuators:
        yield from _actuator(plan, actuator)


def _actuator(plan: Plan, actuator: ActuatorPlan) -> Iterator[tuple[bool, str]]:
    name, contacts = actuator.name, len(plan.contacts)
    yield 0 <= actuator.output < len(plan.outputs), f"{name}: output exists"
    stops = [stop for stop in (actuator.out_stop, actuator.in_stop) if stop is not None]
    yield all(0 <= stop < contacts for stop in stops), f"{name}: stops exist"
    yield actuator.both_ticks >= 1, f"{name}: both_ticks >= 1"
    limit = actuator.travel_limit
    yield limit is None or 0 < limit < 2**30, f"{name}: 0 < travel_limit < 2**30"


def _guard(plan: Plan) -> Iterator[tuple[bool, str]]:
    guard = plan.guard
    yield guard.lost_ticks >= 1, "guard: lost_ticks >= 1"
    yield guard.hold_ticks >= 1, "guard: hold_ticks >= 1"
    yield guard.off_ticks >= 1, "guard: off_ticks >= 1"
    yield 0 <= guard.neutral_within < ONE, "guard: 0 <= neutral_within < ONE"
    if guard.arm is not None:
        yield from _standing(plan, "guard: arm", guard.arm)
