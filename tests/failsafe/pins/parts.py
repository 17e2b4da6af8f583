"""The largest part of a robot that fits a board: found by trying, by the exact search for its pins."""

import json
from collections.abc import Iterator
from itertools import combinations

from mixer.board.kinds.kind import Board
from mixer.board.wiring.fit import Wiring, fit
from mixer.profile.profile import Profile, parse_profile
from mixer.profile.schema.root import Robot

PART = "largest"
"""The loadout that a part is."""


def largest_part(text: str, board: Board) -> tuple[Profile, tuple[str, ...]]:
    """The robot with a loadout `PART` of as many outputs as fit, on both sides if it can be; and those."""
    robot = parse_profile(text, "whole").robot(None)
    for kept in _parts(robot):
        part = parse_profile(f"{text}\n{_loadout(robot, kept)}", "part")
        if isinstance(fit(part, PART, board), Wiring):
            return part, kept
    raise AssertionError("not even one output fits")


def _parts(robot: Robot) -> Iterator[tuple[str, ...]]:
    """All sets of outputs, larger ones first."""
    for count in range(len(robot.output) - 1, 0, -1):
        some = combinations(robot.output, count)
        yield from sorted(some, key=lambda kept: -len({robot.output[name].side for name in kept}))


def _loadout(robot: Robot, kept: tuple[str, ...]) -> str:
    gone = [name for name in robot.output if name not in kept]
    remove = [f"output.{name}" for name in gone] + [f"wheel.{name}" for name in gone if name in robot.wheel]
    lines = [f"[loadout.{PART}]", f"remove = {json.dumps(remove)}"]
    for name, group in robot.group.items():
        left = [output for output in group.outputs if output in kept]
        lines.append(f"group.{name}.outputs = {json.dumps(left)}")
    return "\n".join([*lines, ""])
