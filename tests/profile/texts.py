"""A small valid profile for tests to spoil, and what a spoiled one is refused with."""

import re

from mixer.errors import ProfileError
from mixer.profile.profile import parse_profile

BASE = """\
[robot]
name = "spoilt"
[stick.throttle]
receiver = 2
[stick.steering]
receiver = 1
[stick.tip]
receiver = 3
[switch.arm]
receiver = 5
[switch.pace]
receiver = 6
positions = ["slow", "mid", "fast"]
[shape.soft]
expo = 0.3
[output.left]
pin = 5
mix = { throttle = 1.0, steering = 0.8 }
[output.right]
pin = 6
mix = { throttle = 1.0, steering = -0.8 }
[output.tray]
pin = 7
mix = { tip = 1.0 }
[group.drive]
outputs = ["left", "right"]
over_range = "scale"
[contact.out]
pin = "A0"
[contact.in]
pin = "A1"
[actuator.tray]
output = "tray"
out_stop = "out"
in_stop = "in"
[guard]
lost_after_ms = 250
arm = { switch = "arm", position = "on" }
"""


def spoiled(old: str, new: str, extra: str = "") -> str:
    """The base text with one place changed; fails when that place is not there exactly once."""
    assert BASE.count(old) == 1, f"{old!r} must stand in the base text once"
    return BASE.replace(old, new) + extra


def refusals(text: str) -> list[str]:
    """Every problem of a text, each as `where: key: said | remedy`."""
    try:
        problems = parse_profile(text, "p.toml").problems
    except ProfileError as error:
        problems = error.problems
    assert problems, "nothing is refused"
    return [f"{problem.where}: {problem.key}: {problem.said} | {problem.remedy}" for problem in problems]


def assert_only(text: str, expected: str) -> None:
    """The text is refused with exactly one problem, which matches the anchored pattern."""
    found = refusals(text)

    assert len(found) == 1, found
    assert re.fullmatch(expected, found[0]), found[0]
