"""What a tuning does on a log, in a few numbers, and at half stick without one."""

from collections.abc import Iterator
from dataclasses import dataclass

from mixer.core.drive import level
from mixer.core.ops import ONE
from mixer.core.plan import Plan
from mixer.core.rest import position_pulse, resting_position, resting_pulses
from mixer.core.tick import mix_sticks
from mixer.laws.expect import loss_ms, rest_ms
from mixer.runs.measure.physics import PhysicsSummary

EFFECTS = ("way", "top speed", "turning", "slipping", "charge", "stop on a loss", "sticks let go to zero")
UNITS = ("m", "m/s", "°", "s", "mAh", "ms", "ms")
"""In the order of `effects_of`; without physics only the last two are known."""


@dataclass(frozen=True, slots=True)
class HalfStick:
    """What a change does to one output at half of one stick, the others at rest."""

    stick: str
    position: str
    """``pace at dash``; empty where the robot has no switch, or none matters."""
    output: str
    before: float
    after: float
    """Commands as a share of full."""


def effects_of(plan: Plan, physics: PhysicsSummary | None) -> list[float]:
    """The numbers of `EFFECTS`."""
    stops = [float(loss_ms(plan)), float(rest_ms(plan))]
    if physics is None:
        return [0.0] * (len(EFFECTS) - len(stops)) + stops
    return [
        physics.distance_m,
        physics.top_speed_mps,
        physics.turned_deg,
        physics.slipping_s,
        physics.charge_ah * 1000,
        *stops,
    ]


def half_stick(before: Plan, after: Plan) -> HalfStick | None:
    """Where the two differ most at half stick; None where they do not differ there, or in what there is."""
    sticks = [stick.name for stick in before.sticks]
    names = [output.name for output in before.outputs]
    if sticks != [s.name for s in after.sticks] or names != [o.name for o in after.outputs]:
        return None
    found: HalfStick | None = None
    asked = zip(_asked(before), _asked(after), strict=False)
    for (stick, position, here), (_, other, there) in asked:
        if position != other:
            return None
        for name, was, now in zip(names, here, there, strict=True):
            if abs(now - was) > (abs(found.after - found.before) if found else 0.0):
                found = HalfStick(stick, position, name, was, now)
    return found


def _asked(plan: Plan) -> Iterator[tuple[str, str, list[float]]]:
    """Each stick at half towards its high end (its low one where it has no other), by switch positions."""
    rest = [resting_position(plan, number, armed=True) for number in range(len(plan.switches))]
    for stick in plan.sticks:
        pulses = resting_pulses(plan, armed=True)
        pulses[stick.channel] = stick.centre_us + (stick.high_span_us or -stick.low_span_us) // 2
        choosers = sorted({other.chooser for other in plan.sticks if other.chooser is not None})
        if not choosers:
            yield stick.name, "", _levels(plan, pulses, rest)
        for number in choosers:
            switch = plan.switches[number]
            for position, name in enumerate(switch.position_names):
                positions, turned = list(rest), list(pulses)
                positions[number] = position
                turned[switch.channel] = position_pulse(plan, switch, position)
                yield stick.name, f"{switch.name} at {name}", _levels(plan, turned, positions)


def _levels(plan: Plan, pulses: list[int], positions: list[int]) -> list[float]:
    blended = mix_sticks(plan, pulses, positions, 0).blended
    return [level(output, value).limited / ONE for output, value in zip(plan.outputs, blended, strict=True)]
