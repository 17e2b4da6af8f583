"""Keys turned by a first step from what a profile says now, and the profile's text with it."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from mixer.errors import StickwrightError
from mixer.profile.edit.differences import Change
from mixer.profile.edit.document import Editor, Scalar
from mixer.profile.edit.knobs import Knob, knob_value, knobs_of
from mixer.profile.edit.places import place_of
from mixer.profile.feel.roles import Roles, roles_of, shapes_of
from mixer.profile.profile import Profile, parse_profile
from mixer.profile.schema.root import Robot

PRACTICE = "common practice, no source"
Keys = Callable[[Robot, Roles], Sequence[str]]
Turn = Callable[[Any], Scalar]
"""From what a key says to what it shall say."""


@dataclass(frozen=True, slots=True)
class Step:
    """One way to answer a feeling: keys, what becomes of each, and why that helps."""

    keys: Keys
    turn: Turn
    why: str
    source: str = PRACTICE


def moves_of(robot: Robot, step: Step) -> tuple[Change, ...]:
    """The step on this robot: keys that it has and that are not at their end already.

    Shapes that a switch chooses go together or not at all, since the driver may be in any of them.
    """
    knobs = {knob.key: knob for knob in knobs_of(robot)}
    named = [knobs[key] for key in dict.fromkeys(step.keys(robot, roles_of(robot))) if key in knobs]
    moves = tuple(_moved(robot, named, step.turn))
    shapes = [knob for knob in named if knob.group.startswith("shape.")]
    return moves if len(moves) >= len(shapes) else ()


def with_moves(profile: Profile, loadout: str | None, moves: Sequence[Change]) -> str:
    """The profile's text with keys turned, comments kept. Raises StickwrightError where it is none then."""
    editor = Editor(profile.text)
    for move in moves:
        assert isinstance(move.now, Scalar)
        editor.set(place_of(editor.tables, tuple(move.key.split(".")), loadout), move.now)
    changed = parse_profile(editor.text, profile.where, editor.tables)
    changed.plan(loadout)
    return editor.text


def fits(profile: Profile, loadout: str | None, moves: Sequence[Change]) -> bool:
    """Whether the profile with these keys turned is one that `check` would not refuse."""
    try:
        with_moves(profile, loadout, moves)
    except StickwrightError:
        return False
    return True


def _moved(robot: Robot, knobs: Sequence[Knob], turn: Turn) -> Iterator[Change]:
    for knob in knobs:
        held = knob_value(robot, knob)
        was = held if held is not None else knob.default
        if knob.kind == "choice":
            now: Scalar = turn(was)
            if was is not None and now != was and now in knob.choices:
                yield Change(knob.key, was, now)
        elif isinstance(was, int | float):
            number = min(max(float(turn(float(was))), knob.low), knob.high)
            now = round(number) if knob.kind == "whole" or knob.unit == "ms" else round(number, 3)
            if now != was:
                yield Change(knob.key, was, now)


def of_shapes(key: str, *roles: str) -> Keys:
    """A key of every shape that bends the sticks of these roles, whatever else it bends."""
    return lambda robot, of: [
        _key("shape", name, key) for role in roles for name in shapes_of(robot, getattr(of, role))
    ]


def of_own_shapes(key: str, role: str) -> Keys:
    """A key of every shape that bends the sticks of a role and no others."""

    def keys(robot: Robot, roles: Roles) -> Sequence[str]:
        own = getattr(roles, role)
        shared = shapes_of(robot, [stick for stick in robot.stick if stick not in own])
        return [_key("shape", name, key) for name in shapes_of(robot, own) if name not in shared]

    return keys


def of_outputs(role: str, key: str) -> Keys:
    """A key of every output of a role."""
    return lambda _, roles: [_key("output", name, key) for name in getattr(roles, role)]


def of_braking(role: str, key: str) -> Keys:
    """The same of those that brake at zero, or may: while a command goes down, the motor brakes anyhow."""
    return lambda robot, roles: [
        _key("output", name, key) for name in getattr(roles, role) if robot.output[name].at_zero != "coast"
    ]


def of_mix(outputs: str, sticks: str) -> Keys:
    """The weights of some sticks on some outputs, of those that are not zero."""
    return lambda robot, roles: [
        _key("output", name, "mix", stick)
        for name in getattr(roles, outputs)
        for stick in getattr(roles, sticks)
        if robot.output[name].mix.get(stick)
    ]


def of_guard(key: str) -> Keys:
    """A key of the guard."""
    return lambda _robot, _roles: [_key("guard", key)]


def of_clipping_groups(key: str) -> Keys:
    """A key of every group that clips and loses a turn by it.

    With s of steering on a side and both sticks at full, clipping leaves a difference of s between the
    sides, scaling one of 2s/(1 + s), which is more while s is below 1.
    """

    def keys(robot: Robot, roles: Roles) -> Sequence[str]:
        return [
            _key("group", name, key)
            for name, group in robot.group.items()
            if group.over_range == "clip"
            and any(
                0 < abs(robot.output[o].mix.get(s, 0.0)) < 1 for o in group.outputs for s in roles.around
            )
        ]

    return keys


def of_turning_end(*, left: bool) -> Keys:
    """The endpoint of the turning sticks on the side where they turn left, or right."""

    def keys(robot: Robot, roles: Roles) -> Sequence[str]:
        ends = ("low_us", "high_us")
        return [
            _key("stick", stick, ends[(roles.turns_right[stick] != robot.stick[stick].reverse) != left])
            for stick in roles.around
        ]

    return keys


def _key(*names: str) -> str:
    return ".".join(names)
