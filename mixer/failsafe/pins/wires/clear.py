"""Pulses that keep away from whatever a microsecond decides."""

from functools import lru_cache

from mixer.core.intake import scale
from mixer.core.ops import magnitude
from mixer.core.plan import Plan
from mixer.laws.sticks import bent

CLEAR_US = 3


def clear(plan: Plan, channel: int, pulse_us: int) -> int:
    """The same pulse, or the nearest on its side of every decision that a microsecond cannot turn.

    A board measures to half a microsecond; what is nearer than that to a limit may be read either way.
    """
    for limit in decisions(plan, channel):
        if limit - CLEAR_US <= pulse_us < limit:
            return limit - CLEAR_US
        if limit <= pulse_us < limit + CLEAR_US - 1:
            return limit + CLEAR_US - 1
    return pulse_us


@lru_cache(maxsize=256)
def decisions(plan: Plan, channel: int) -> tuple[int, ...]:
    """Pulses from which on something is decided otherwise: good, a switch, neutral, a deadband."""
    wire = plan.channels[channel]
    good = range(wire.good_low_us, wire.good_high_us + 1)
    found = {wire.good_low_us, wire.good_high_us + 1}
    for switch in plan.switches:
        if switch.channel == channel:
            found |= {edge + side * switch.hysteresis_us for edge in switch.edges_us for side in (-1, 1)}
    for stick in plan.sticks:
        if stick.channel == channel:
            neutral = [magnitude(scale(stick, pulse)) <= plan.guard.neutral_within for pulse in good]
            found |= {good[at] for at in range(1, len(good)) if neutral[at] != neutral[at - 1]}
            for position in range(len(stick.shapes)):
                told = [position] * len(plan.switches)
                rests = [bent(stick, pulse, told, False).command == 0 for pulse in good]
                found |= {good[at] for at in range(1, len(good)) if rests[at] != rests[at - 1]}
    return tuple(sorted(found))
