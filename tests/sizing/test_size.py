"""`size` drives the robot: its numbers are the live robot's, through its own firmware."""

import json
import math
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from mixer.cli.shared.console import as_data
from mixer.core.rest import arming, frame_ticks, resting_inputs
from mixer.live.robot.firmware import PlainBoard
from mixer.live.robot.robot import Build, LiveRobot, build_of
from mixer.plant.from_profile import Shares, prepare
from mixer.plant.parts.robot import Opponent
from mixer.profile.profile import load_profile, parse_profile
from mixer.runs.measure.physics import plant_columns
from mixer.sizing.comparing import changes
from mixer.sizing.crosscheck import most_push, travel_seconds
from mixer.sizing.drift import Straights
from mixer.sizing.finding import Verdict
from mixer.sizing.match import pattern, play_match
from mixer.sizing.report import SizeReport, size
from mixer.sizing.trial import AHEAD, AROUND, Trial, paces_of, sticks_for
from tests.lengths import cases

PROFILES = Path(__file__).parents[2] / "profiles"
EXAMPLES = sorted(path.stem for path in PROFILES.glob("*.toml"))


def build(name: str, old: str = "", new: str = "", loadout: str | None = None) -> Build:
    """An example robot, something in its text changed wherever it stands."""
    text = (PROFILES / f"{name}.toml").read_text(encoding="utf-8")
    assert old in text
    return build_of(parse_profile(text.replace(old, new) if old else text, f"{name}.toml"), loadout)


@lru_cache(maxsize=8)
def report(name: str) -> SizeReport:
    """The page of an example."""
    return size(build(name))


@pytest.mark.parametrize("name", cases(["tank_pair", "long_crawler"], ["holonomic_trio", "sample_carrier"]))
def test_every_example_is_sized(name: str) -> None:
    """Speeds, push, currents and battery of each; the page goes into JSON."""
    page = report(name)
    assert {"drive", "push", "currents", "battery"} <= {finding.section for finding in page.findings}
    assert 0.2 < (page.find("top_speed").value or 0) < 8
    assert json.loads(json.dumps(as_data(page)))["findings"][0]["verdict"]
    assert page.assumed
    with pytest.raises(KeyError):
        page.find("nothing")


@pytest.mark.parametrize("name", cases(EXAMPLES[3:], EXAMPLES[:3]))
def test_top_speed_and_turn_are_what_a_recorded_drive_shows(name: str) -> None:
    """Rows of pulses at full stick, taken like a log, against the page: within 1 %."""
    made = build(name)
    plan, robot = made.plan, made.prepared.robot
    assert robot is not None
    place = plant_columns(robot).index
    pace = max(paces_of(plan), key=lambda pace: pace.name == "dash")
    for way, key, column in ((AHEAD, "top_speed", "vx"), (AROUND, "turn_rate", "turn")):
        live = LiveRobot(made, PlainBoard(plan, "python"))
        live.take(np.array(arming(plan, frame_ticks(plan)), np.int32))
        pushed = resting_inputs(plan, armed=True)
        for stick in plan.sticks:
            value = sticks_for(plan, robot, way).get(stick.name, 0.0)
            high = (value > 0) != stick.reverse
            end = stick.centre_us + stick.high_span_us if high else stick.centre_us - stick.low_span_us
            neutral = pushed[stick.channel]
            pushed[stick.channel] = neutral + round((end - neutral) * abs(value))
        for switch, position in pace.positions:
            found = next(item for item in plan.switches if item.name == switch)
            pushed[found.channel] = (1000, 1500, 2000)[position]
        stretch = live.take(np.array([pushed] * 1500, np.int32))
        assert stretch.plant is not None
        assert report(name).find(key).value == pytest.approx(
            float(stretch.plant[-1, place(column)]), rel=0.01
        )


def test_what_the_firmware_does_to_a_stick_counts() -> None:
    """A limit of a half halves the top speed; gain, rate and slew show in their own numbers."""
    usual = report("tank_pair")
    for old, new, key, low, high in (
        ("expo = 0.3", "expo = 0.3\nrate = 0.5", "top_speed", 0.40, 0.52),
        ('driver = "bridge"', 'driver = "bridge"\nslew_up_ms = 900', "sprint", 1.08, 1.4),
        ('driver = "bridge"', 'driver = "bridge"\nlimit = 0.5', "top_speed", 0.40, 0.52),
    ):
        changed = size(build("tank_pair", old, new)).find(key).value
        assert changed is not None
        was = usual.find(key).value
        assert was is not None
        assert low < changed / was < high, (old, key)
    weak = size(build("tank_pair", 'side = "left"', 'side = "left"\nlimit = 0.5'))
    assert "turns away to the left" in weak.find("aside").words
    assert 0 < (weak.find("stopping.braking").value or 0) < (weak.find("stopping.coasting").value or 0)


def test_a_robot_that_pulls_says_so_and_how_far() -> None:
    """A whole robot with a gain of 0.98 on a side, against a run of the whole way."""
    build_ = build("sample_carrier")
    found = report("sample_carrier").find("aside")
    assert "pulls to the right" in found.words
    assert found.value == pytest.approx(-Straights(build_, 6.0).sideways({}), rel=0.03)
    assert "aside" not in {finding.key for finding in report("long_crawler").findings}


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("resistance_ohm = 1.6", "resistance_ohm = 260", "do not overcome"),
        ("no_load_a = 0.15", "no_load_a = 6", "do not overcome"),
        ("low_v = 6.4", "low_v = 8.5", "low-voltage stop"),
    ],
)
def test_a_robot_that_cannot_move_itself_is_told(old: str, new: str, why: str) -> None:
    """Too little torque, too much friction, a pack below its stop: over, with the reason, all finite."""
    page = size(build("tank_pair", old, new))
    found = page.find("top_speed")
    assert (found.value, found.verdict) == (0.0, Verdict.OVER)
    assert why in found.words
    assert all(math.isfinite(finding.value) for finding in page.findings if finding.value is not None)
    assert not [finding for finding in page.findings if finding.value and abs(finding.value) < 1e-12]
    cut = [finding.value for finding in page.findings if finding.key == "cut"]
    assert cut == ([] if why == "do not overcome" else [pytest.approx(0.5, abs=0.5)])


def test_a_match_treats_both_sides_alike() -> None:
    """A symmetric robot comes out of the pattern with equal windings and currents left and right."""
    page = report("long_crawler")
    for key in ("winding_c", "typical_a", "stall_a"):
        for place in ("front", "middle", "rear"):
            left, right = (page.find(f"{key}.{side}_{place}").value for side in ("left", "right"))
            assert left == pytest.approx(right, rel=2e-3)


def test_volts_of_a_stall_are_held_against_the_low_voltage_stop() -> None:
    """Everything stalled lies below the stop of one example and above that of another: both are said."""
    low, high = report("sample_carrier").find("all_stalled_v"), report("long_crawler").find("all_stalled_v")
    assert (low.verdict, high.verdict) == (Verdict.TIGHT, Verdict.FINE)
    assert "low-voltage stop cuts" in low.words
    assert (low.value or 99) < (low.limit or 0)


def test_each_choice_of_a_switch_has_its_numbers() -> None:
    """The reference robot's pace switch: three top speeds, the fastest under the plain key."""
    page = report("sample_carrier")
    crawl, walk, dash = (
        page.find(key).value or 0 for key in ("top_speed.crawl", "top_speed.walk", "top_speed")
    )
    assert 0.3 < crawl / dash < 0.4
    assert 0.7 < walk / dash < 0.8


@pytest.mark.parametrize("name", EXAMPLES)
def test_no_current_that_cannot_be(name: str) -> None:
    """The battery never gives more than the sum of the drivers' limits and the sum of all stalls."""
    robot = build(name).prepared.robot
    assert robot is not None
    most = sum(output.driver.limit_a or math.inf for output in robot.outputs)
    peak = report(name).find("peak_a").value
    assert peak is not None
    assert 0 < peak <= most


def test_a_screw_pushes_what_the_formula_says() -> None:
    """The run against a spring within 6 % of the published formulas; travel within 10 % of the motor's.

    Both at full duty: the example's limit of 0.9 is taken away.
    """
    made = build("sample_carrier", "limit = 0.9\n", "")
    page, robot = size(replace_minutes(made, 0.2)), made.prepared.robot
    assert robot is not None
    assert page.find("push.tray_left").value == pytest.approx(most_push(robot, 0), rel=0.06)
    assert page.find("stroke.tray_left").value == pytest.approx(travel_seconds(robot, 0), rel=0.1)


def replace_minutes(made: Build, minutes: float, **more: object) -> Build:
    """A shorter match."""
    return made._replace(prepared=replace(made.prepared, minutes=minutes, **more))  # type: ignore[arg-type]


def test_means_carried_on_are_the_whole_match() -> None:
    """A minute of the pattern played tick by tick against three rounds of it carried on: within 2 %."""
    made = build("tank_pair")
    whole, carried = Trial(made), Trial(made)
    drive = pattern(made.prepared)
    for _ in range(9):
        used = play_match(whole, drive, 10 / 60)
    quick = play_match(carried, drive, 90 / 60)
    assert 1 - whole.value("charge") == pytest.approx(1 - carried.value("charge"), rel=0.02)
    assert quick.peak_a == pytest.approx(used.peak_a, rel=0.05)


@pytest.mark.long
def test_windings_carried_on_are_as_warm() -> None:
    """The same of an example with thermal data: the hottest winding within 1 K."""
    made = build("long_crawler")
    whole, carried = Trial(made), Trial(made)
    drive = pattern(replace(made.prepared, shares=Shares(0.5, 0.3, 0.2, 0.0)))
    warm = [play_match(whole, drive, 10 / 60).hottest_c[0] or 0.0 for _ in range(6)]
    assert play_match(carried, drive, 1.0).hottest_c[0] == pytest.approx(max(warm), abs=1.0)


def test_a_match_of_pushing_draws_what_a_gripped_push_draws() -> None:
    """All pushing: the mean current is the standing push's, within 25 %, several times that of idling."""
    made = build("tank_pair")
    pushing = replace(made.prepared, minutes=0.5, shares=Shares(1.0, 0.0, 0.0, 0.0),
                      opponent=Opponent(20.0, 0.9))  # fmt: skip
    page = size(made._replace(prepared=pushing))
    used = (page.find("charge").value or 0) / 100 * 1.3 / (0.5 / 60)
    standing = float(page.find("push").words.split("draws ")[1].split(" A")[0])
    assert used == pytest.approx(standing, rel=0.25)
    assert used > 1.5


def test_braking_and_coasting_stand_side_by_side_where_nobody_says() -> None:
    """A pulse wire without at_zero shows both; with it the word stands beside the one number."""
    both = report("tank_pair")
    ways = {word: both.find(f"stopping.{word}") for word in ("braking", "coasting")}
    assert all("at_zero says which" in way.words for way in ways.values())
    for word, way in ways.items():
        said = f'driver = "bridge"\nat_zero = "{word.removesuffix("ing").replace("brak", "brake")}"'
        alone = size(build("tank_pair", 'driver = "bridge"', said))
        assert alone.find(f"stopping.{word}").value == pytest.approx(way.value, rel=1e-9)
        told = [finding for finding in alone.findings if finding.key.startswith("stopping")]
        assert [finding.key for finding in told] == [way.key]
        assert "at_zero" not in told[0].words
    assert (ways["coasting"].value or 0) > 2 * (ways["braking"].value or 0)


def test_limits_give_verdicts() -> None:
    """Too heavy, too weak a lift, a gearing too weak, a tiny pack: over."""
    text = (PROFILES / "sample_carrier.toml").read_text(encoding="utf-8")
    for old, new in (
        ("class_limit_kg = 7.0", "class_limit_kg = 5.0"), ("load_kg = 2.0", "load_kg = 200.0"),
        ("gear_ratio = 27", "gear_ratio = 27\ngear_torque_nm = 1.0"),
        ("capacity_ah = 5.0", "capacity_ah = 0.1"),
    ):  # fmt: skip
        assert old in text
        text = text.replace(old, new)
    page = size(build_of(parse_profile(text, "over.toml"), None))
    for key in ("mass", "lift.tray", "stroke.tray_left", "gear_nm.left_front", "charge"):
        assert page.find(key).verdict is Verdict.OVER, key
    assert page.worst is Verdict.OVER


def test_a_robot_that_never_goes_live_is_told() -> None:
    """Nothing below it moves, and the page says so."""
    made = build("tank_pair")
    deaf = replace(made.plan, guard=replace(made.plan.guard, neutral_within=-1))
    made = made._replace(plan=deaf)
    found = {finding.key: finding for finding in size(made).findings}
    assert found["live"].verdict is Verdict.OVER


def test_unknown_data_leaves_out_what_needs_it() -> None:
    """Without battery, motors or wheels there is no speed, and the report names what is missing."""
    text = '[robot]\nname = "bare"\n[stick.throttle]\nreceiver = 1\n[output.one]\npin = 1\n'
    text += "mix = { throttle = 1.0 }"
    page = size(build_of(parse_profile(text, "bare.toml"), None))
    assert page.findings == ()
    assert any("no [battery]" in words for words in page.left_out)


def test_progress_reaches_one() -> None:
    """Progress rises from 0 to 1."""
    shares: list[float] = []
    size(replace_minutes(build("tank_pair"), 1.0), progress=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def test_another_motor_side_by_side() -> None:
    """A motor with twice the torque constant is slower and draws less at stall."""
    made = build("tank_pair")
    slow = made.robot.motor["gearmotor"].model_copy(
        update={"torque_constant_nm_per_a": 0.021, "resistance_ohm": 3.2}
    )
    robot = made.robot.model_copy(update={"motor": {"gearmotor": slow}})
    other = size(made._replace(robot=robot, prepared=prepare(robot)))
    rows = {row.key: row for row in changes(report("tank_pair"), other)}
    assert -60 < (rows["top_speed"].percent or 0) < -40
    assert (rows["stall_a.left"].percent or 0) < -30


@pytest.mark.long
def test_a_dead_channel_says_its_pull_and_a_trim() -> None:
    """Slower to turn, a pull to its side, and gains to paste that make it run straight again."""
    profile = load_profile(PROFILES / "sample_carrier.toml")
    dead = size(replace_minutes(build_of(profile.without(["left_rear"]), "bare"), 0.1), trims=True)
    whole = size(replace_minutes(build_of(profile, "bare"), 0.1))
    assert (dead.find("turn_rate").value or 9) < 0.9 * (whole.find("turn_rate").value or 0)
    pull = dead.find("pull")
    assert "left" in pull.label
    assert "[output.right_front] gain = " in pull.words


def test_an_output_on_which_nothing_known_hangs_has_no_currents() -> None:
    """A motor without wheel or actuator: the page says that it is left out, and gives no 0 A for it."""
    drum = """
[output.drum]
pin = 19
wire = "pulse"
mix = { throttle = 1.0 }
motor = "gearmotor"
"""
    made = build_of(
        parse_profile((PROFILES / "tank_pair.toml").read_text(encoding="utf-8") + drum, "t.toml")
    )
    assert made.prepared.robot is not None
    assert [output.name for output in made.prepared.robot.outputs if output.motor is None] == ["drum"]
    assert (
        "output.drum: without a wheel or an actuator its motor draws nothing here" in made.prepared.left_out
    )
