"""The plan that examples and benchmarks of the lowerings use: four drive channels and two actuators."""

from mixer.core.ops import ONE
from mixer.core.plan import (
    ActuatorPlan,
    ChannelPlan,
    ContactPlan,
    GroupPlan,
    GuardPlan,
    OutputPlan,
    OverRange,
    Plan,
    ShapePlan,
    StickPlan,
    SwitchPlan,
    SwitchPosition,
    Wire,
)
from tests.strategies import rounded_ratio

BAND = ONE // 25
SHAPE = ShapePlan(band=BAND, gain=rounded_ratio(ONE - BAND), expo=4915, rate=ONE)
STICKS = ("throttle", "steering", "tilt")
CHANNELS = (*STICKS, "arm", "pace", "spare")


def carrier() -> Plan:
    """Three sticks, two switches, four end stops; drive outputs share one scaling group."""
    spans = rounded_ratio(500)
    sticks = tuple(
        StickPlan(name, number, 1500, 500, 500, spans, spans, False, 0, (SHAPE,), None, False)
        for number, name in enumerate(STICKS)
    )
    drives = {
        "front_left": (ONE, ONE, 0),
        "rear_left": (ONE, ONE, 0),
        "front_right": (ONE, -ONE, 0),
        "rear_right": (ONE, -ONE, 0),
        "left_screw": (0, 0, ONE),
        "right_screw": (0, 0, ONE),
    }
    return Plan(
        name="carrier",
        tick_ms=2,
        channels=tuple(ChannelPlan(name, 800, 2200, 1500, False) for name in CHANNELS),
        sticks=sticks,
        switches=(
            SwitchPlan("arm", 3, (1500,), 50, False, ("off", "on")),
            SwitchPlan("pace", 4, (1250, 1750), 50, False, ("slow", "mid", "fast")),
        ),
        mixed_switches=(),
        contacts=tuple(ContactPlan(name, 0, 10) for name in ("out_l", "in_l", "out_r", "in_r")),
        flip=None,
        groups=(GroupPlan("drive", (0, 1, 2, 3), OverRange.SCALE, None),),
        outputs=tuple(_output(name, weights) for name, weights in drives.items()),
        actuators=(
            ActuatorPlan("left", 4, 0, 1, 10, ONE * 2000, True),
            ActuatorPlan("right", 5, 2, 3, 10, ONE * 2000, True),
        ),
        guard=GuardPlan(125, 250, 983, SwitchPosition(0, 1), False, False),
    )


def _output(name: str, weights: tuple[int, ...]) -> OutputPlan:
    return OutputPlan(name, weights, ONE, ONE, 800, 160, 400, 30, Wire.PULSE, False, 1500, 500, 500, False)
