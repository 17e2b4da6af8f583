"""Where wheels and motor channels are, and what each channel mixes, from the answers about a robot."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from mixer.profile.begin.questions import Answers

TURN = 0.8
"""Share of the steering stick on a side; less than 1, so that full stick does not spin it."""
TURN_AROUND = 0.6
NAMES = {1: ("",), 2: ("_front", "_rear"), 3: ("_front", "_middle", "_rear")}


@dataclass(frozen=True, slots=True)
class Place:
    """One wheel: metres from the middle, forward and left; degrees to where it drives."""

    name: str
    x_m: float
    y_m: float
    angle_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class Drive:
    """One motor channel."""

    name: str
    mix: Mapping[str, float]
    wheels: Sequence[Place]
    side: str = ""


def drives_of(answers: Answers) -> Sequence[Drive]:
    """Every channel that turns wheels."""
    if answers["layout"] == "sides":
        return [*_side("left", answers), *_side("right", answers)]
    return _around({"trio": 3, "cross": 4}[answers["layout"]], answers["track_mm"] / 2000)


def _side(side: str, answers: Answers) -> Sequence[Drive]:
    """Channels of one side, from front to rear; each axle's wheels on it as they come."""
    sign, axles, each = (1 if side == "left" else -1), answers["motors"] // 2, answers["motors_per_channel"]
    length = answers.get("wheelbase_mm", 0.0) / 1000
    xs = [length * (0.5 - at / (axles - 1)) for at in range(axles)] if axles > 1 else [0.0]
    y = sign * answers["track_mm"] / 2000
    wheels = [Place(f"{side}_{at}", round(x, 4), round(y, 4)) for at, x in enumerate(xs, start=1)]
    count = axles // each
    endings = NAMES.get(count, [f"_{number}" for number in range(1, count + 1)])
    mix = {"throttle": 1.0, "steering": sign * TURN}
    return [
        Drive(f"{side}{ending}", mix, wheels[at * each : (at + 1) * each], side)
        for at, ending in enumerate(endings)
    ]


def _around(count: int, radius_m: float) -> Sequence[Drive]:
    """Wheels on a circle, each driving along it; three have one in front, four stand in the corners.

    A wheel that drives to the angle a gets cos a of ahead and -sin a of sideways to the right; both are
    brought to full for the wheel that gets most.
    """
    places = [360 * at / count + (45 if count == 4 else 0) for at in range(count)]
    most = max(abs(math.cos(math.radians(place + 90))) for place in places)
    drives = []
    for number, place in enumerate(places, start=1):
        angle = math.radians(place + 90)
        wheel = Place(
            f"wheel_{number}",
            round(radius_m * math.cos(math.radians(place)), 4),
            round(radius_m * math.sin(math.radians(place)), 4),
            (place + 90) % 360,
        )
        shares = {"throttle": math.cos(angle) / most, "sideways": -math.sin(angle) / most}
        mix = {stick: round(share, 3) for stick, share in shares.items() if abs(share) > 1e-6}
        drives.append(Drive(wheel.name, {**mix, "steering": -TURN_AROUND}, [wheel]))
    return drives
