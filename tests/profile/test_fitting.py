"""Loadout, driver and receiver apart: every combination, and what may not stand in them."""

import json
import tomllib
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

import mixer
from mixer.cli.failsafe import apart
from mixer.cli.main import main
from mixer.errors import OptionError, ProfileError
from mixer.profile.edit.places import place_of
from mixer.profile.keys.json_schema import json_schema
from mixer.profile.profile import Profile, load_profile, parse_profile
from mixer.profile.read.fitting import Fitting, fitting_of

CARRIER = Path("profiles/sample_carrier.toml").resolve()
OVERLAYS = """
[operator.calm]
shape.dash = { expo = 0.6, rate = 0.8 }
shape.tray = { deadband = 0.2 }
shape.own = { expo = 0.9 }
output.left_front.slew_up_ms = 300
stick.steering.trim = 0.02

[operator.quick]
stick.steering.shape = "dash"

[receiver.spare]
frame_ms = 14
stick.throttle = { receiver = 1, lost_above_us = 2100, high_us = 1900 }
stick.steering = { receiver = 2 }
stick.tip = { low_us = 1100 }
switch.arm = { receiver = 4 }
"""


@pytest.fixture(scope="module")
def text() -> str:
    """The carrier with two operators and a spare receiver."""
    return CARRIER.read_text(encoding="utf-8") + OVERLAYS


@pytest.fixture(scope="module")
def profile(text: str) -> Profile:
    """The same, read."""
    return parse_profile(text, "carrier.toml")


def test_every_combination_is_a_robot_of_its_own(profile: Profile) -> None:
    """Three loadouts, three ways to drive and two receivers give eighteen robots, no two alike."""
    assert len(profile.fittings) == 3 * 3 * 2
    assert len({profile.fingerprint(name) for name in profile.fittings}) == len(profile.fittings)
    assert profile.fittings[0] is None
    assert apart(profile) == profile.fittings
    for name in profile.fittings:
        assert fitting_of(name).name == name
        assert profile.loadout_of(profile.fingerprint(name)) == name


def test_each_says_its_own_and_leaves_the_rest(profile: Profile) -> None:
    """Hardware comes from the loadout, hands from the operator, wires from the receiver."""
    name = Fitting("long_tray", "calm", "spare").name
    robot, alone = profile.robot(name), profile.robot("long_tray")
    assert robot.chassis == alone.chassis
    assert robot.actuator == alone.actuator
    assert (robot.shape["dash"].expo, robot.shape["dash"].rate, robot.shape["dash"].deadband) == (
        0.6,
        0.8,
        0.04,
    )
    assert (robot.output["left_front"].slew_up_ms, robot.output["left_rear"].slew_up_ms) == (300, 150)
    assert [channel.name for channel in profile.plan(name).channels][:2] == ["throttle", "steering"]
    throttle = robot.stick["throttle"]
    assert (throttle.receiver, throttle.high_us, throttle.low_us) == (1, 1900, 1010)
    assert robot.receiver.frame_ms == 14
    assert robot.guard == alone.guard
    assert profile.plan(name).name == "sample carrier, long_tray, driver calm, receiver spare"


def test_a_spare_receiver_has_no_marks_but_its_own(profile: Profile) -> None:
    """What the built-in receiver says when the radio goes means nothing on another one."""
    built_in, spare = (profile.robot(name).stick["throttle"] for name in (None, "receiver:spare"))
    assert (built_in.lost_below_us, built_in.lost_above_us) == (930, None)
    assert (spare.lost_below_us, spare.lost_above_us) == (None, 2100)


def test_what_a_loadout_lacks_is_passed_over(profile: Profile) -> None:
    """An operator's tray shape and a receiver's tip channel do no harm on a robot without a tray."""
    bare = profile.robot(Fitting("bare", "calm", "spare").name)
    assert set(bare.stick) == {"throttle", "steering"}
    assert "tray" not in bare.shape
    assert bare.shape["own"].expo == 0.9


WRONG = {
    "guard.lost_after_ms = 900": ("operator.calm.guard", "'guard' is not tuning"),
    "stick.steering.low_us = 900": ("operator.calm.stick.steering.low_us", "'low_us' is not tuning"),
    "output.left_front.reverse = true": (
        "operator.calm.output.left_front.reverse",
        "'reverse' is not tuning",
    ),
    "output.nose.gain = 1.0": ("operator.calm.output.nose", "the robot has no output 'nose'"),
    "shape.dash.expo = 7": ("operator.calm.shape.dash.expo", "(with driver calm)"),
    "battery.cells = 4": ("operator.calm.battery", "'battery' is not tuning"),
}


@pytest.mark.parametrize("line", WRONG)
def test_an_operator_tunes_and_nothing_else(line: str) -> None:
    """What is no tuning is refused with line, key and remedy; the base robot stays usable."""
    written = CARRIER.read_text(encoding="utf-8") + f"\n[operator.calm]\n{line}\n"
    profile = parse_profile(written, "carrier.toml")
    key, said = WRONG[line]
    (problem,) = profile.problems
    assert problem.key == key
    assert said in problem.said
    assert problem.where == f"carrier.toml:{len(written.splitlines())}"
    assert problem.remedy
    assert profile.plan()
    for name in ("driver:calm", "bare+driver:calm"):
        with pytest.raises(ProfileError):
            profile.plan(name)


@pytest.mark.parametrize(
    ("tables", "said"),
    [
        ("[receiver.spare]\nstick.throttle.expo = 1", "not of a receiver"),
        ("[receiver.spare]\nstick.throttle.receiver = 3", "already read"),
        ("[receiver.Spare]\nframe_ms = 14", "cannot be a name"),
        ("[operator]\ncalm = 3", "must be a table"),
        ("[[operator]]\nx = 3", "must hold tables"),
    ],
)
def test_what_no_overlay_may_be(tables: str, said: str) -> None:
    """Wrong receivers and shapes of table are told like every other mistake."""
    written = CARRIER.read_text(encoding="utf-8") + f"\n{tables}\n"
    try:
        problems = parse_profile(written, "carrier.toml").problems
    except ProfileError as error:
        problems = error.problems
    assert any(said in problem.said for problem in problems), problems


def test_a_combination_that_clashes_is_refused_by_itself() -> None:
    """Two overlays that are right alone and wrong together stop only who asks for both."""
    written = CARRIER.read_text(encoding="utf-8") + (
        "\n[loadout.lamp]\nswitch.lamp = { receiver = 8 }\n"
        "\n[receiver.spare]\nswitch.pace = { receiver = 8 }\n"
    )
    profile = parse_profile(written, "carrier.toml")
    assert not profile.problems
    assert profile.plan("lamp")
    assert profile.plan("receiver:spare")
    with pytest.raises(ProfileError, match=r"already read.*lamp, receiver spare"):
        profile.plan(Fitting("lamp", receiver="spare").name)
    assert load_profile(CARRIER).operators == ()


def test_commands_and_programs_put_them_together(
    text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In any order on the command line, and as arguments of `mixer.load`; unknown ones are told."""
    path = tmp_path / "carrier.toml"
    path.write_text(text, encoding="utf-8")
    prints = set()
    for words in (
        ["--driver", "calm", "--loadout", "long_tray"],
        ["--loadout", "long_tray", "--driver", "calm"],
        ["--loadout", "long_tray+driver:calm"],
    ):
        assert main(["check", str(path), *words, "--json"]) == 0
        (report,) = json.loads(capsys.readouterr().out)["loadouts"]
        prints.add(report["fingerprint"])
    robot = mixer.load(path, "long_tray", driver="calm")
    assert prints == {robot.profile.fingerprint(robot.loadout)}
    with pytest.raises(OptionError, match="no spare receiver 'calm'"):
        mixer.load(path, receiver="calm")
    assert main(["explain", str(path), "--driver", "nobody"]) == 2
    assert "no operator 'nobody'" in capsys.readouterr().err


SAME = """
[operator.same]

[operator.calm]
output.left.gain = 0.5

[receiver.spare]
frame_ms = 14
"""


def test_equal_combinations_are_proven_once() -> None:
    """An operator that says nothing adds no robot."""
    base = Path("profiles/tank_pair.toml").read_text(encoding="utf-8")
    found = apart(parse_profile(base + SAME, "tank.toml"))
    assert found == (None, "driver:calm", "receiver:spare", "driver:calm+receiver:spare")


@pytest.mark.long
def test_failsafe_goes_through_every_combination(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """--all simulates and proves each robot that the profile allows."""
    path = tmp_path / "tank.toml"
    path.write_text(Path("profiles/tank_pair.toml").read_text(encoding="utf-8") + SAME, encoding="utf-8")
    assert main(["failsafe", str(path), "--all", "--scenarios", "500", "--json"]) == 0
    reports = json.loads(capsys.readouterr().out)["reports"]
    names = ["driver:calm", "receiver:spare", "driver:calm+receiver:spare"]
    assert [report["loadout"] for report in reports] == [None, *names]
    assert all(report["proof"] for report in reports)


def test_editors_know_overlays(text: str) -> None:
    """The JSON Schema takes what the reader takes, and refuses what is no tuning."""
    editor = Draft202012Validator(json_schema())
    assert not list(editor.iter_errors(tomllib.loads(text)))
    for wrong in ("guard.stop = 'ramp'", "stick.steering.low_us = 900", "shape.dash.expo = 7"):
        tables = tomllib.loads(f"{text}\n[operator.third]\n{wrong}\n")
        assert list(editor.iter_errors(tables)), wrong


def test_edits_go_where_the_last_word_stands(profile: Profile) -> None:
    """What the operator says is changed there, what the loadout says there, all else in the base."""
    tables = profile._source.tables
    name = Fitting("long_tray", "calm", "spare").name
    assert place_of(tables, ("shape", "dash", "expo"), name)[:2] == ("operator", "calm")
    assert place_of(tables, ("stick", "throttle", "high_us"), name)[:2] == ("receiver", "spare")
    assert place_of(tables, ("actuator", "tray_left", "travel_mm"), name)[:2] == ("loadout", "long_tray")
    assert place_of(tables, ("shape", "soft", "expo"), name) == ("shape", "soft", "expo")
    assert place_of(tables, ("shape", "own", "expo"), name)[:3] == ("operator", "calm", "shape")
