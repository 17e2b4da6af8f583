"""What somebody means by "throttle=1620, arm=on": names and words turned into the board's inputs."""

from collections.abc import Mapping, Sequence

from mixer.core.plan import Plan
from mixer.core.rest import position_pulse, resting_inputs
from mixer.errors import OptionError, offer
from mixer.runs.log.cells import MOST_US

CONTACT_WORDS = ("open", "closed")


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
            return channel, position_pulse(plan, switch, switch.position_names.index(str(value)))
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
    raise OptionError(f"{name}: {plan.name} has no such channel", offer(name, everything, "channels"))


def _expected(plan: Plan, channel: int) -> str:
    names = [", ".join(s.position_names) for s in plan.switches if s.channel == channel]
    return "a pulse in µs, such as 1500" + (f", or a position: {names[0]}" if names else "")
