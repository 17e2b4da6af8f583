"""One controller that feeds two actuators: what stops one of them stops both, and every rule is proven."""

import pytest

from mixer.core.layout import flat, layout_of, power_up
from mixer.core.rest import arming
from mixer.core.tick import flat_tick
from mixer.failsafe.proof.theorems import prove_rules
from mixer.profile.profile import parse_profile

TEXT = """
[robot]
name = "shared"
[stick.tip]
receiver = 1
[output.tray]
pin = 1
mix = { tip = 1.0 }
motors = 2
[contact.left_out]
pin = 2
[contact.left_in]
pin = 3
[contact.right_out]
pin = 4
[contact.right_in]
pin = 5
[actuator.left]
output = "tray"
out_stop = "left_out"
in_stop = "left_in"
full_travel_ms = 3000
[actuator.right]
output = "tray"
out_stop = "right_out"
in_stop = "right_in"
full_travel_ms = 3000
"""
PLAN = parse_profile(TEXT, "shared.toml").plan()


@pytest.mark.parametrize(
    ("closed", "out", "back"),
    [
        ((), True, True),
        ((0,), False, True),
        ((2,), False, True),
        ((1,), True, False),
        ((0, 3), False, False),
    ],
)
def test_either_stop_stops_both(closed: tuple[int, ...], out: bool, back: bool) -> None:
    """A closed outer stop of either forbids extending, a closed inner one of either retracting."""
    layout = layout_of(PLAN)
    for pulse, free, sign in ((2000, out, 1), (1000, back, -1)):
        pushed = [pulse, *(int(number not in closed) for number in range(4))]
        state = flat(power_up(PLAN))
        for row in [*arming(PLAN), *([pushed] * 20)]:
            signals, state = flat_tick(PLAN, row, state)
        assert (layout.signals_of(signals).outputs[0].command * sign > 0) is free


def test_every_rule_is_proven() -> None:
    """For all inputs and states, the shared channel included."""
    assert prove_rules(PLAN).proven
