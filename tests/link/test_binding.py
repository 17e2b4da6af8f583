"""Frames bound to a plan by the profile's numbers."""

from dataclasses import replace
from pathlib import Path

import pytest

from mixer.board.frames import Frame
from mixer.errors import WrongDeviceError
from mixer.link.binding import Binding
from mixer.profile.profile import load_profile, parse_profile
from tests.plans import cart_plan

LOADOUTS = """
[robot]
name = "cart"
[stick.lift]
receiver = 1
[stick.throttle]
receiver = 2
[stick.steer]
receiver = 5
[contact.up]
pin = 7
[contact.down]
pin = 8
[contact.belly]
pin = 9
[flip]
contact = "belly"
reverses = ["throttle"]
[output.left]
pin = 1
mix = { throttle = 1.0, steer = 1.0 }
[output.right]
pin = 2
mix = { throttle = 1.0, steer = -1.0 }
[output.arm]
pin = 3
mix = { lift = 1.0 }
[actuator.arm]
output = "arm"
out_stop = "up"
in_stop = "down"
[loadout.plain]
remove = ["stick.lift", "output.arm", "actuator.arm", "contact.up", "contact.down"]
"""
FRAME = Frame(1, 20_000, (2222, 3000, 4444, 5555, 3900, 6666), contacts=0b100)


def test_a_loadout_without_the_first_stick_shifts_nothing() -> None:
    """Throttle stays on the receiver's second channel, the belly's contact on the board's third input."""
    profile = parse_profile(LOADOUTS, "cart.toml")
    base, plain = (Binding(profile.plan(loadout)).bound(FRAME) for loadout in (None, "plain"))
    assert base.pulses_us == (1111, 1500, 1950)
    assert plain.pulses_us == (1500, 1950)
    assert (base.contacts, plain.contacts) == (0b100, 0b1)
    assert (plain.sequence, plain.time_us) == (FRAME.sequence, FRAME.time_us)


def test_spare_channels_are_passed_over() -> None:
    """A reader with more channels than the profile uses gives the ones that are named."""
    plan = cart_plan()
    frame = Frame(1, 20_000, (3000, 3000, 2000, 1234, 4321), contacts=0b11)
    assert Binding(plan).bound(frame).widths == (3000, 3000, 2000)
    fitting = replace(frame, widths=frame.widths[:3])
    assert Binding(plan).bound(fitting).widths == fitting.widths


def test_a_frame_that_does_not_fit_says_what_to_do() -> None:
    """Too few channels: which one is missing, and how the reader is to be built."""
    plan = parse_profile(LOADOUTS, "cart.toml").plan()
    with pytest.raises(
        WrongDeviceError, match=r"3 channels; steer is on the receiver's channel 5"
    ) as raised:
        Binding(plan).bound(replace(FRAME, widths=FRAME.widths[:3]))
    assert "CHANNELS=5" in raised.value.remedy


@pytest.mark.parametrize("robot", ["sample_carrier", "tank_pair", "holonomic_trio", "long_crawler"])
def test_every_loadout_of_the_examples_reads_the_same_wires(robot: str) -> None:
    """A channel or contact of one name has one number, whatever is fitted."""
    profile = load_profile(Path("profiles") / f"{robot}.toml")
    numbers: dict[str, int] = {}
    for loadout in (None, *profile.loadouts):
        plan = profile.plan(loadout)
        wires = [*zip(plan.channels, plan.receivers, strict=True)]
        contacts = [*zip(plan.contacts, plan.contact_inputs, strict=True)]
        for part, number in (*wires, *contacts):
            assert numbers.setdefault(part.name, number) == number
