"""What a driver feels and what is turned for it: driven on a simulated robot, the figure moves as said.

What is measured stands here, in the terms of the drive itself, apart from the list that speaks of it.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import pytest

from mixer.errors import OptionError
from mixer.examples.shipped import example_names, example_path
from mixer.live.robot.robot import LiveRobot, build_of
from mixer.profile.edit.document import Editor, Scalar
from mixer.profile.edit.knobs import knob_value, knobs_of
from mixer.profile.feel.advice import advice
from mixer.profile.feel.feelings import FEELINGS, Feeling, find_feelings
from mixer.profile.feel.roles import roles_of
from mixer.profile.feel.steps import with_moves
from mixer.profile.profile import Profile, load_profile, parse_profile
from mixer.profile.starter import starter_profile
from mixer.sizing.trial import AHEAD, AROUND, Course, Pace, Trial, sticks_for
from tests.lengths import cases


@dataclass
class Field:
    """A robot on the floor, armed and at rest, every switch that chooses a shape in its last position."""

    profile: Profile
    trial: Trial = field(init=False)

    def __post_init__(self) -> None:
        self.trial = Trial(build_of(self.profile))
        plan = self.trial.plan
        choosers = {stick.chooser for stick in plan.sticks if stick.chooser is not None}
        switches = [plan.switches[index] for index in choosers]
        self.pace = Pace("", tuple((switch.name, len(switch.position_names) - 1) for switch in switches))

    def drive(self, ahead: float, around: float, seconds: float, *, fresh: bool = True) -> Course:
        """Hold sticks, from rest unless it goes on."""
        if fresh:
            self.trial.begin(self.pace)
        sticks: dict[str, float] = {}
        for way, share in ((AHEAD, ahead), (AROUND, around)):
            for name, value in sticks_for(self.trial.plan, self.trial.whole, way).items():
                sticks[name] = sticks.get(name, 0.0) + share * value
        return self.trial.hold(sticks, seconds)

    def at_pulse(self, offset_us: int) -> float:
        """Turn rate to the right with the turning stick's pulse off its centre, wherever its ends are."""
        (name,) = roles_of(self.profile.robot()).around
        stick = self.profile.robot().stick[name]
        span = stick.high_us - stick.centre_us if offset_us > 0 else stick.centre_us - stick.low_us
        self.trial.begin(self.pace)
        return -self.trial.hold({name: offset_us / span}, 1.0).last("turn")


def stop(field: Field) -> Course:
    """Let go at top speed."""
    field.drive(1, 0, 2.0)
    return field.drive(0, 0, 1.0, fresh=False)


def hardest(seen: Course) -> float:
    """The hardest deceleration, as a loss of speed in a fiftieth of a second."""
    window = max(1, round(0.02 / seen.tick_s))
    speeds = seen.of("vx")
    return float((speeds[:-window] - speeds[window:]).max())


def slip(field: Field) -> float:
    """The fastest slip of any wheel after full stick."""
    seen = field.drive(1, 0, 0.5)
    return max(
        float(np.abs(seen.of(f"wheel.{wheel.name}.slip")).max()) for wheel in field.trial.whole.wheels
    )


def after_a_turn(field: Field) -> float:
    """Angle turned after the stick is let go."""
    before = field.drive(0, 1, 0.6).last("yaw")
    return abs(field.drive(0, 0, 0.6, fresh=False).last("yaw") - before)


def reversal(field: Field) -> float:
    """The highest battery current from full ahead to full back."""
    field.drive(1, 0, 1.0)
    return float(field.drive(-1, 0, 0.5, fresh=False).of("battery_first_a").max())


def live_after(field: Field) -> float:
    """Ticks from power-up until the guard is live."""
    robot = LiveRobot(build_of(field.profile))
    return float(len(robot.arm().inputs))


def tool(field: Field, share: float) -> float:
    """How far an actuator has come in a second."""
    robot = field.profile.robot()
    stick = roles_of(robot).handling[0]
    field.trial.begin(field.pace)
    return field.trial.hold({stick: share}, 1.0).last(f"actuator.{next(iter(robot.actuator))}.extension")


def just_out(field: Field) -> float:
    """Speed with the stick a hair outside the deadband that the examples have."""
    return abs(field.drive(0.07, 0, 0.5).last("vx"))


FIGURES: Mapping[str, Callable[[Field], float]] = {
    "twitchy at the centre": lambda field: abs(field.drive(0, 0.3, 0.8).last("turn")),
    "sluggish to turn": lambda field: abs(field.drive(0, 1, 1.0).last("turn")),
    "turns too fast": lambda field: abs(field.drive(0, 1, 1.0).last("turn")),
    "nervous at full speed": lambda field: abs(field.drive(1, 0.5, 1.0).last("turn")),
    "does not turn at full throttle": lambda field: abs(field.drive(1, 1, 1.0).last("turn")),
    "jerks off the line": lambda field: field.drive(1, 0, 0.05).last("vx"),
    "slow off the line": lambda field: field.drive(1, 0, 0.33).last("x"),
    "wheels spin off the line": slip,
    "battery sags off the line": lambda field: float(field.drive(1, 0, 0.5).of("battery_first_a").max()),
    "does not stop": lambda field: stop(field).last("x") - field.drive(1, 0, 2.0).last("x"),
    "stops too hard": lambda field: hardest(stop(field)),
    "runs on after a turn": after_a_turn,
    "pulls to the left": lambda field: field.drive(1, 0, 1.5).last("y"),
    "pulls to the right": lambda field: -field.drive(1, 0, 1.5).last("y"),
    "turns faster to the left than to the right": lambda field: -field.at_pulse(-300),
    "turns faster to the right than to the left": lambda field: field.at_pulse(300),
    "too fast for the pit side": lambda field: field.drive(1, 0, 2.0).last("vx"),
    "weak at low stick": lambda field: field.drive(0.25, 0, 1.0).last("vx"),
    "creeps with the sticks let go": just_out,
    "bangs when it reverses": reversal,
    "tool moves too fast": lambda field: 1 / tool(field, 1.0),
    "tool is hard to place": lambda field: tool(field, 0.5),
    "goes live too slowly": live_after,
}
"""The figure of each feeling, larger where there is more of it."""
ALSO: Mapping[str, Sequence[tuple[str, Scalar]]] = {
    "does not turn at full throttle": [("group.drive.over_range", "clip")],
    "does not stop": [(f"output.{name}.at_zero", "coast") for name in ("left_front", "left_rear")]
    + [(f"output.{name}.at_zero", "coast") for name in ("right_front", "right_rear")],
    "wheels spin off the line": [("chassis.grip", 0.3)],
}
"""What makes the carrier a robot that is said so of."""
ON_THE_CARRIER = (
    "tool moves too fast",
    "tool is hard to place",
    "slow off the line",
    "runs on after a turn",
)
"""Feelings for which the smallest robot has no key."""
CALM = ("twitchy at the centre", "sluggish to turn", "turns too fast")
"""Feelings for which the crawler has a shape of its own."""


def profile_for(feeling: Feeling, name: str) -> Profile:
    """An example of which the feeling can be said."""
    editor = Editor(example_path(name).read_text(encoding="utf-8"))
    for key, value in ALSO.get(feeling.words, ()) if name == "sample_carrier" else ():
        editor.set(key.split("."), value)
    return parse_profile(editor.text, name)


def smallest(feeling: Feeling) -> str:
    """The smallest example that has a step for the feeling; the plain suite drives the smallest of all."""
    if feeling.words in CALM:
        return "long_crawler"
    return "sample_carrier" if feeling.words in (*ALSO, *ON_THE_CARRIER) else "tank_pair"


ALL = [(feeling, name) for feeling in FEELINGS for name in example_names()]


@pytest.mark.timeout(240)
@pytest.mark.parametrize(
    ("feeling", "name"),
    cases(
        [each for each in ALL if each[1] == smallest(each[0]) == "tank_pair"],
        [each for each in ALL if not each[1] == smallest(each[0]) == "tank_pair"],
    ),
    ids=lambda value: value if isinstance(value, str) else value.words,
)
def test_a_step_moves_its_figure_the_way_it_says(feeling: Feeling, name: str) -> None:
    """Each step that is proposed, first or not, on the robot driven before and after."""
    profile = profile_for(feeling, name)
    steps = advice(profile, None, feeling)
    assert steps or name != smallest(feeling)
    figure, more = FIGURES[feeling.words], feeling.figure.endswith(": more")
    before = figure(Field(profile)) if steps else 0.0
    for step in steps:
        after = figure(Field(parse_profile(with_moves(profile, None, step.moves), name)))
        assert (after > 1.002 * before) if more else (after < before - 0.002 * abs(before)), step


def test_every_feeling_says_which_way() -> None:
    """At least a dozen of them, each with a figure, a way, a reason and a source."""
    assert len(FEELINGS) >= 12
    assert FIGURES.keys() == {feeling.words for feeling in FEELINGS}
    for feeling in FEELINGS:
        assert feeling.figure.endswith((": more", ": less"))
        assert all(step.why and step.source for step in feeling.steps)


@pytest.mark.parametrize(
    ("name", "loadout"),
    cases(
        [("tank_pair", None)],
        [("sample_carrier", loadout) for loadout in (None, "bare", "long_tray")]
        + [(name, None) for name in ("long_crawler", "holonomic_trio")],
    ),
)
def test_only_keys_that_are_there_are_turned_and_from_what_they_say(name: str, loadout: str | None) -> None:
    """Each key is one of the robot's, `was` its value, and what comes out is a profile that says `now`."""
    profile = load_profile(example_path(name))
    robot = profile.robot(loadout)
    knobs = {knob.key: knob for knob in knobs_of(robot)}
    for feeling in FEELINGS:
        for step in advice(profile, loadout, feeling)[:1]:
            assert all(knob_value(robot, knobs[move.key]) in (move.was, None) for move in step.moves)
            changed = parse_profile(with_moves(profile, loadout, step.moves), name).robot(loadout)
            now = [knob_value(changed, knobs[move.key]) for move in step.moves]
            assert now == [pytest.approx(move.now) for move in step.moves]


def test_at_its_end_a_key_is_not_turned() -> None:
    """A rate of 1 cannot rise; nothing is proposed that would change nothing."""
    profile = parse_profile(starter_profile("plain"), "plain")
    (sluggish,) = find_feelings("sluggish")
    keys = [move.key for step in advice(profile, None, sluggish) for move in step.moves]
    assert keys == ["output.left.mix.steering", "output.right.mix.steering"]


def test_sides_and_sticks_are_found_without_wheels_too() -> None:
    """By the mix's signs and the outputs' names; with wheels, by where they are."""
    plain = roles_of(parse_profile(starter_profile("plain"), "plain").robot())
    assert (plain.ahead, plain.around, plain.left, plain.right) == (
        ("throttle",), ("steering",), ("left",), ("right",),
    )  # fmt: skip
    assert plain.turns_right == {"steering": True}
    trio = roles_of(load_profile(example_path("holonomic_trio")).robot())
    assert (trio.around, trio.turns_right) == (("turn",), {"turn": True})
    carrier = roles_of(load_profile(example_path("sample_carrier")).robot())
    assert (carrier.handling, carrier.tools) == (("tip",), ("tray_left", "tray_right"))
    assert carrier.left == ("left_front", "left_rear")


def test_words_find_feelings() -> None:
    """All of the words, in any order; unknown ones are told with the nearest."""
    assert [feeling.words for feeling in find_feelings("left pulls")] == ["pulls to the left"]
    with pytest.raises(OptionError, match="did you mean 'twitchy'"):
        find_feelings("twichy")
