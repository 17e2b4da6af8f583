"""What somebody means by "throttle=1620, arm=on": names and words turned into the board's inputs."""

from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from functools import lru_cache

from mixer.core.intake import scale
from mixer.core.ops import magnitude
from mixer.core.plan import Plan, StickPlan, SwitchPlan
from mixer.errors import OptionError
from mixer.runs.log.cells import MOST_US

_EDGE_TO_END_US = 250
CONTACT_WORDS = ("open", "closed")


@lru_cache(maxsize=256)
def neutral_pulse(stick: StickPlan) -> int:
    """The pulse at which the stick's command is nearest to zero: the centre, moved by the trim."""
    ends = stick.centre_us - stick.low_span_us, stick.centre_us + stick.high_span_us
    nearest = sorted(range(ends[0], ends[1] + 1), key=lambda pulse: abs(pulse - stick.centre_us))
    return min(nearest, key=lambda pulse: magnitude(scale(stick, pulse)))


def switch_pulse(switch: SwitchPlan, position: int) -> int:
    """A pulse in the middle of a switch's position."""
    last = len(switch.edges_us)
    raised = last - position if switch.reverse else position
    if raised == 0:
        return max(switch.edges_us[0] - _EDGE_TO_END_US - switch.hysteresis_us, 1)
    if raised == last:
        return switch.edges_us[-1] + _EDGE_TO_END_US + switch.hysteresis_us
    return (switch.edges_us[raised - 1] + switch.edges_us[raised]) // 2


def resting_inputs(plan: Plan, *, armed: bool) -> list[int]:
    """Sticks at neutral, switches at their first position but the arm switch, contacts open."""
    pulses = [channel.rest_us for channel in plan.channels]
    for stick in plan.sticks:
        pulses[stick.channel] = neutral_pulse(stick)
    for index, switch in enumerate(plan.switches):
        position = len(switch.edges_us) - 1 if index in plan.mixed_switches else 0
        pulses[switch.channel] = switch_pulse(switch, position)
    if plan.flip is not None and plan.flip.switch >= 0:
        switch = plan.switches[plan.flip.switch]
        upright = 0 if plan.flip.position != 0 else 1
        pulses[switch.channel] = switch_pulse(switch, upright)
    if plan.guard.arm_switch >= 0:
        switch = plan.switches[plan.guard.arm_switch]
        positions = len(switch.edges_us) + 1
        off = next(at for at in range(positions) if at != plan.guard.arm_position)
        pulses[switch.channel] = switch_pulse(switch, plan.guard.arm_position if armed else off)
    return pulses + [contact.level(closed=False) for contact in plan.contacts]


def inputs_at(plan: Plan, at: Mapping[str, int | str]) -> list[int]:
    """The armed robot at rest, with some inputs as given.

    A channel, stick or switch takes a pulse in µs or one of its switch's position names; a contact takes
    "open" or "closed". Raises OptionError for a name or a value that fits nothing.
    """
    inputs = resting_inputs(plan, armed=True)
    for name, value in at.items():
        place, given = _place_and_value(plan, name, value)
        inputs[place] = given
    return inputs


def _place_and_value(plan: Plan, name: str, value: int | str) -> tuple[int, int]:
    for index, contact in enumerate(plan.contacts):
        if contact.name == name:
            if value not in CONTACT_WORDS:
                raise OptionError(f"{name}={value}: no state of a contact", "open or closed")
            return len(plan.channels) + index, contact.level(closed=value == "closed")
    channel = _channel(plan, name)
    for switch in plan.switches:
        if switch.channel == channel and value in switch.position_names:
            return channel, switch_pulse(switch, switch.position_names.index(str(value)))
    try:
        pulse = int(value)
    except ValueError:
        pulse = -1
    if not 0 <= pulse <= MOST_US:
        raise OptionError(f"{name}={value}: no pulse", _expected(plan, channel))
    return channel, pulse


def _channel(plan: Plan, name: str) -> int:
    known = {channel.name: index for index, channel in enumerate(plan.channels)}
    for stick in plan.sticks:
        known.setdefault(stick.name, stick.channel)
    for switch in plan.switches:
        known.setdefault(switch.name, switch.channel)
    if name in known:
        return known[name]
    everything: Sequence[str] = [*known, *(contact.name for contact in plan.contacts)]
    near = get_close_matches(name, everything, 1, 0.5)
    remedy = f"did you mean {near[0]}?" if near else f"one of {', '.join(everything)}"
    raise OptionError(f"{name}: {plan.name} has no such channel", remedy)


def _expected(plan: Plan, channel: int) -> str:
    names = [", ".join(s.position_names) for s in plan.switches if s.channel == channel]
    return "a pulse in µs, such as 1500" + (f", or a position: {names[0]}" if names else "")
