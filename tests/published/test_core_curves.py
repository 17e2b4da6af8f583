"""Servo pulses and the expo curve against published conventions and calculus.

Pulses: Texas Instruments application brief SLAA784 "Servo Motor Controller Using MSP430 MCUs" (2017): a
high pulse of 1 to 2 ms every 20 ms. The middle at 1.5 ms: common practice, e.g. Wikipedia "Servo control".
Expo: y = (1-k)x + kx³; values, slopes and turning points follow from calculus, no source needed.
"""

import pytest

from mixer.core import drive, intake, shape
from mixer.core.ops import ONE
from tests.plans import plain_output, plain_stick

CONVENTION = [
    (1000, -1.0, 0.05),
    (1250, -0.5, 0.0625),
    (1500, 0.0, 0.075),
    (1750, 0.5, 0.0875),
    (2000, 1.0, 0.1),
]
"""Pulse in µs, position as a share of full, duty at a frame of 20 ms."""


@pytest.mark.parametrize(("pulse", "position", "duty"), CONVENTION)
def test_servo_pulse_convention_in_and_out(pulse: int, position: float, duty: float) -> None:
    """A stick reads the convention's pulse as its position, and an output writes it back exactly."""
    command = intake.scale(plain_stick("stick", 0), pulse)
    assert command == position * ONE
    wire = drive.on_wire(plain_output("servo", ()), command)
    assert wire == pulse
    assert wire / 20_000 == duty


EXPO_VALUES = [
    (0.3, {0.25: 0.1796875, 0.5: 0.3875, 0.75: 0.6515625}),
    (0.5, {0.25: 0.1328125, 0.5: 0.3125, 0.75: 0.5859375}),
    (1.0, {0.25: 0.015625, 0.5: 0.125, 0.75: 0.421875}),
    (-0.5, {0.25: 0.3671875, 0.5: 0.6875, 0.75: 0.9140625}),
]


@pytest.mark.parametrize(("k", "values"), EXPO_VALUES)
def test_expo_values(k: float, values: dict[float, float]) -> None:
    """At quarter, half and three quarters of the stick, both ways, within 2 of 16384."""
    for x, y in values.items():
        for side in (-1, 1):
            assert abs(shape.expo(side * round(x * ONE), round(k * ONE)) - side * y * ONE) <= 2


@pytest.mark.parametrize("k", [-0.5, 0.3, 0.5, 1.0])
def test_expo_slopes(k: float) -> None:
    """The slope is 1-k at the centre and 1+2k at full, measured over a hundredth of the stick."""
    step, share = ONE // 100, round(k * ONE)
    at_centre = shape.expo(step, share) / step
    at_full = (ONE - shape.expo(ONE - step, share)) / step
    assert at_centre == pytest.approx(1 - k, abs=0.02)
    assert at_full == pytest.approx(1 + 2 * k, abs=0.04)


@pytest.mark.parametrize(("k", "x_top", "y_top"), [(-1.0, 0.816497, 1.088662), (-0.75, 0.881917, 1.028903)])
def test_expo_turns_back_below_minus_a_half(k: float, x_top: float, y_top: float) -> None:
    """Outside the range that plans allow the curve has its top at sqrt((1-k)/(-3k)): why they forbid it."""
    bent = [shape.expo(x, round(k * ONE)) for x in range(ONE + 1)]
    assert max(bent) / ONE == pytest.approx(y_top, abs=2e-4)
    top = bent.index(max(bent))
    assert top / ONE == pytest.approx(x_top, abs=0.01)
    assert bent[-1] < bent[top]
