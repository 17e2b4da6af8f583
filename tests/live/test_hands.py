"""Hands on sticks and switches."""

import pytest

from mixer.core.intake import scale
from mixer.core.ops import ONE
from mixer.core.plan import Plan
from mixer.core.rest import neutral_pulse
from mixer.errors import OptionError
from mixer.live.inputs.hands import HandSticks, pulse_for
from mixer.profile.profile import load_profile, parse_profile
from mixer.profile.starter import starter_profile
from tests.live.benches import ROOT

CARRIER = load_profile(ROOT / "profiles" / "sample_carrier.toml").plan()


def sent(hands: HandSticks, plan: Plan, ticks: int, first: int = 0) -> list[list[int]]:
    """What goes out in a stretch of ticks."""
    open_contacts = [1 - contact.closed_reads for contact in plan.contacts]
    return [hands.inputs(tick, open_contacts) for tick in range(first, first + ticks)]


def test_pulses_come_at_the_receivers_pace() -> None:
    """Every 20 ms all channels carry a good pulse, in between none; contacts are there in every tick."""
    rows = sent(HandSticks(CARRIER, 20.0), CARRIER, 40)
    count = len(CARRIER.channels)
    assert [tick for tick, row in enumerate(rows) if any(row[:count])] == [0, 10, 20, 30]
    for channel, pulse in zip(CARRIER.channels, rows[10], strict=False):
        assert channel.good_low_us <= pulse <= channel.good_high_us
    assert all(row[count:] == [0, 0, 0, 0] for row in rows)


@pytest.mark.parametrize("reverse", [False, True])
@pytest.mark.parametrize("trim", [0.0, 0.1])
def test_a_value_is_the_command_it_asks_for(reverse: bool, trim: float) -> None:
    """0 is neutral whatever the trim; +1 is full forward command whichever way round the channel is."""
    text = starter_profile("hands").replace(
        "reverse = false                # true", f"reverse = {str(reverse).lower()} #"
    )
    text = text.replace(
        "[stick.steering]\n", f"[stick.steering]\ntrim = {trim}\nreverse = {str(reverse).lower()}\n"
    )
    plan = parse_profile(text, "hands").plan()
    stick = next(item for item in plan.sticks if item.name == "steering")
    assert stick.reverse is reverse
    neutral = neutral_pulse(plan, stick)
    assert abs(scale(stick, pulse_for(stick, 0.0, neutral))) <= 34
    assert scale(stick, pulse_for(stick, 1.0, neutral)) >= ONE * (1 - abs(trim)) - 34
    assert scale(stick, pulse_for(stick, -1.0, neutral)) <= -ONE * (1 - abs(trim)) + 34
    commands = [scale(stick, pulse_for(stick, value / 50, neutral)) for value in range(-50, 51)]
    assert commands == sorted(commands)


def test_a_held_key_runs_out_and_springs_back() -> None:
    """Full in a quarter of a second, back at neutral a tenth after it is let go, through values between."""
    hands = HandSticks(CARRIER, 20.0)
    hands.hold("throttle", 1)
    sent(hands, CARRIER, 50)
    assert 0.2 < hands.value("throttle") < 0.6
    sent(hands, CARRIER, 100)
    assert hands.value("throttle") == 1.0
    hands.let_go("throttle", 1)
    sent(hands, CARRIER, 20)
    assert 0 < hands.value("throttle") < 1
    sent(hands, CARRIER, 60)
    assert hands.value("throttle") == 0.0


def test_letting_go_of_the_other_key_does_not_stop_this_one() -> None:
    """Left held after right, then right let go: it still runs left."""
    hands = HandSticks(CARRIER, 20.0)
    hands.hold("steering", 1)
    hands.hold("steering", -1)
    hands.let_go("steering", 1)
    sent(hands, CARRIER, 200)
    assert hands.value("steering") == -1.0


def test_the_mouse_sets_at_once_and_springs_back() -> None:
    """Set stays as long as it is held; released it returns within a tenth of a second."""
    hands = HandSticks(CARRIER, 20.0)
    hands.set("throttle", -3.0)
    sent(hands, CARRIER, 500)
    assert hands.value("throttle") == -1.0
    hands.release("throttle")
    sent(hands, CARRIER, 80)
    assert hands.value("throttle") == 0.0


def test_nudges_stay_and_come_back_to_zero_exactly() -> None:
    """Three tenths up and three down is neutral, and no nudge leaves the range."""
    hands = HandSticks(CARRIER, 20.0)
    for by in (0.1, 0.1, 0.1, -0.1, -0.1, -0.1):
        hands.nudge("throttle", by)
    assert hands.value("throttle") == 0.0
    for _ in range(15):
        hands.nudge("throttle", 0.1)
    assert hands.value("throttle") == 1.0
    hands.centre()
    assert hands.value("throttle") == 0.0


def test_switches_go_round_and_stay_within() -> None:
    """Three positions come round to the first; a position beyond the last is the last."""
    hands = HandSticks(CARRIER, 20.0)
    seen = []
    for _ in range(4):
        seen.append(hands.position("pace"))
        hands.cycle("pace")
    assert seen == [0, 1, 2, 0]
    hands.turn("arm", 7)
    assert hands.position("arm") == 1


def test_unknown_names_are_refused_in_words() -> None:
    """Stick or switch, the message names those there are."""
    hands = HandSticks(CARRIER, 20.0)
    with pytest.raises(OptionError, match="no stick 'rudder'"):
        hands.set("rudder", 1.0)
    with pytest.raises(OptionError, match="no switch 'mode'"):
        hands.turn("mode", 1)
