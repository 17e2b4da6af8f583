"""The campaign: deterministic, the same on every engine, and right about what it says."""

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import permutations
from pathlib import Path

import pytest

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import Plan
from mixer.core.tick import flat_tick
from mixer.failsafe.campaign import results, scene
from mixer.failsafe.campaign import run as campaign
from mixer.failsafe.campaign.families import families_of
from mixer.failsafe.campaign.points import points_for
from mixer.failsafe.campaign.recording import Run, recorded
from mixer.failsafe.campaign.results import CampaignResult, FaultResult, FaultVerdict
from mixer.failsafe.campaign.run import Request, run_campaign, setting_of
from mixer.failsafe.campaign.tally import Tally
from mixer.failsafe.report.account import Options, request_of
from mixer.faults.both import fault_named, pairs_of
from mixer.faults.catalogue import catalogue
from mixer.faults.fault import Fault
from mixer.laws.expect import loss_ms
from mixer.laws.rules import rules_of
from mixer.live.judge import watched
from mixer.live.robot.robot import build_of
from mixer.plant.at_zero import with_brakes
from mixer.plant.parts.robot import Robot
from mixer.plant.plant import Plant
from mixer.profile.profile import load_profile
from tests.failsafe.wrong_cores import WRONG_CORES
from tests.lengths import cases
from tests.plans import rig

PROFILES = sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))
PLAN = rig()
SMALL = Request(PLAN, scenarios=300, jobs=1)


BRIEF = replace(SMALL, scenarios=100, seconds=1.0)


@pytest.fixture(scope="module")
def brief() -> CampaignResult:
    """One that is shorter still."""
    return run_campaign(BRIEF)


@pytest.fixture(scope="module")
def small() -> CampaignResult:
    """One small campaign."""
    return run_campaign(SMALL)


def line(result: CampaignResult, key: str) -> FaultResult:
    """One line of the table."""
    return next(fault for fault in result.faults if fault.key == key)


def test_the_seed_decides_everything(brief: CampaignResult) -> None:
    """Another seed gives another table; that the same gives the same, chunks and processes below show."""
    assert run_campaign(replace(BRIEF, seed=2)).faults != brief.faults


@pytest.mark.needs_tool("gcc")
def test_engines_do_not_matter(brief: CampaignResult) -> None:
    """Native vectors give the same table."""
    native = run_campaign(replace(BRIEF, engine="native"))
    assert native.faults == brief.faults


def test_processes_do_not_matter(brief: CampaignResult, monkeypatch: pytest.MonkeyPatch) -> None:
    """Cut into other chunks and spread over two processes, the same table."""
    monkeypatch.setattr(campaign, "CHUNK", 37)
    assert run_campaign(replace(BRIEF, jobs=2)) == brief


def test_every_fault_gets_its_scenarios(small: CampaignResult) -> None:
    """As many as asked for at least, evenly spread over the catalogue, a share of them over pairs."""
    single = len(catalogue(PLAN))
    assert [fault.key for fault in small.faults[:single]] == [fault.key for fault in catalogue(PLAN)]
    assert all(fault.key.startswith("two.") for fault in small.faults[single:])
    assert small.scenarios >= 300
    assert len({fault.scenarios for fault in small.faults[:single]}) == 1
    assert f"{len(small.faults) - single} of " in small.pairs


def test_every_two_kinds_that_can_be_together_are() -> None:
    """Each pair of kinds once, and none that hides another or says nothing."""
    pairs, possible = pairs_of(catalogue(PLAN), 10_000, 1)
    kinds = [frozenset((pair.first.kind, pair.second.kind)) for pair in pairs]
    assert len(pairs) == possible == len(set(kinds)) > 300
    assert {"channel-lost", "stuck-open"} in kinds
    assert {"all-lost", "spikes"} not in kinds
    assert {"reset", "hang"} not in kinds
    assert not any({"none", "other-firmware"} & kind for kind in kinds)


def test_a_loss_stops_within_the_promise_and_not_much_sooner(small: CampaignResult) -> None:
    """The worst time from onset to neutral is the promise, less at most the age of the last frame."""
    found = line(small, "all-lost")
    assert found.verdict is FaultVerdict.STOPS
    assert found.moving > 0
    assert found.neutral_ms is not None
    assert loss_ms(PLAN) - 20 <= found.neutral_ms <= loss_ms(PLAN)


def test_what_no_firmware_sees_is_said(small: CampaignResult) -> None:
    """A receiver that repeats its last frame drives the robot on; the table says so and what to do."""
    found = line(small, "repeats-last")
    assert found.verdict is FaultVerdict.UNKNOWABLE
    assert found.neutral_ms is None
    assert "rehearse" in found.advice
    assert line(small, "preset.invalid").verdict is FaultVerdict.STOPS


def test_a_robot_that_stops_by_itself_is_not_said_to_drive_on(small: CampaignResult) -> None:
    """Frames half a second apart stop it, noise may, late ones do not; switched on it waits."""
    for key in ("slow.25", "intermittent.60.90", "spikes.40"):
        found = line(small, key)
        assert found.verdict is FaultVerdict.MAY_STOP
        assert 0 < found.by_itself.stopped <= found.by_itself.driven <= found.scenarios
    for key in ("none", "jitter", "doubled"):
        found = line(small, key)
        assert found.verdict is FaultVerdict.DRIVES_ON
        assert found.by_itself.driven > found.by_itself.stopped == 0
    assert line(small, "power-up").verdict is FaultVerdict.STAYS
    family = next(item for item in families_of(small, each=True) if item.name == "slow.25")
    assert family.verdict_words == "may stop by itself: 2 of 2 driven runs, 2 to the end"


def test_the_table_for_people_has_a_line_a_kind(small: CampaignResult) -> None:
    """Faults of one kind share a line; their scenarios add up and the worst of them shows."""
    families = families_of(small)
    assert sum(family.scenarios for family in families) == small.scenarios
    presets = next(family for family in families if family.name.startswith("preset"))
    assert presets.verdict_words == "firmware cannot know (1), stops (3)"
    assert len(families_of(small, each=True)) == len(small.faults)


def test_a_scenario_by_itself_is_what_it_was_among_others() -> None:
    """Inputs of a lane do not depend on the lanes beside it, and repeat."""
    setting = setting_of(SMALL)
    runs = [Run("", fault, lane, 149) for fault, lane in (("spikes.40", 2), ("spikes.40", 3), ("reset", 2))]
    together = recorded(setting, runs)
    assert together == [recorded(setting, [run])[0] for run in runs]
    assert together[0][1] != together[1][1]


def test_the_way_rolled_is_called_what_the_body_did(monkeypatch: pytest.MonkeyPatch) -> None:
    """Braking or coasting where the profile says so; both ways, each with its word, where it does not."""
    profile = load_profile(next(path for path in PROFILES if path.stem == "tank_pair"))
    monkeypatch.setattr(campaign, "catalogue", lambda plan: catalogue(plan)[:2])
    request = request_of(build_of(profile), Options(scenarios=24, jobs=1))
    assert request.robot is not None
    sides = request.unsaid_at_zero
    assert sides == ("left", "right")
    both = run_campaign(request)
    assert both.rolls == ("braking", "coasting")
    ways = line(both, "all-lost").rolled_m
    assert ways[1] > 1.3 * ways[0]
    for word, way in zip(both.rolls, ways, strict=True):
        body = with_brakes(request.robot, sides, brakes=word == "braking")
        said = run_campaign(replace(request, robot=body, unsaid_at_zero=()))
        assert said.rolls == (word,)
        assert line(said, "all-lost").rolled_m == (way,)
    assert run_campaign(replace(request, robot=None)).rolls == ()


def test_times_and_distances_are_those_of_the_scenario_by_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    """The worst lanes of the table, run tick by tick through the core and the single-robot physics."""
    monkeypatch.setattr(campaign, "catalogue", lambda plan: (fault_named(catalogue(plan), "all-lost"),))
    profile = load_profile(next(path for path in PROFILES if path.stem == "holonomic_trio"))
    request = replace(request_of(build_of(profile), Options(scenarios=60, jobs=1)), unsaid_at_zero=())
    found = line(run_campaign(request), "all-lost")
    fault = next(fault for fault in catalogue(request.plan) if fault.key == "all-lost")
    setting = setting_of(request)
    for lane, by_time in ((found.neutral_lane, True), (found.rolled_lanes[0], False)):
        onset = int(
            points_for(request.plan, fault, setting.ways, setting.timing, 1, range(lane, lane + 1)).onset[0]
        )
        ((state, rows),) = recorded(setting, [Run("", fault.key, lane, setting.timing.ticks - 1)])
        assert request.robot is not None
        last, rolled = drive(request.plan, request.robot, state, rows, onset)
        if by_time:
            assert found.neutral_ms == (last + 1 - onset) * request.plan.tick_ms
        else:
            assert found.rolled_m[0] == pytest.approx(rolled, rel=1e-6)


def drive(
    plan: Plan, robot: Robot, state: tuple[int, ...], rows: tuple[tuple[int, ...], ...], onset: int
) -> tuple[int, float]:
    """The last tick in which something moved, and the way rolled from the onset until standing."""
    layout = layout_of(plan)
    places = [layout.index(f"output.{output.name}.command") for output in plan.outputs]
    now, plant, last, rolled, stands = list(state[: len(layout.state)]), Plant(robot), 0, 0.0, False
    held: list[list[int]] = []
    for number, row in enumerate(rows):
        after = flat_tick(plan, row, now)
        now = after.state
        held.append([after.signals[place] for place in places])
        last = number if any(held[-1]) else last
        if len(held) == 5:
            plant.run_duties([sum(column) / (5 * ONE) for column in zip(*held, strict=True)], 0.01)
            speed = math.hypot(plant.value("vx"), plant.value("vy"))
            stands = stands or (number >= onset and not any(held[-1]) and speed < 0.005)
            rolled += speed * 0.01 if number >= onset and not stands else 0.0
            held = []
    return last, rolled


@pytest.mark.parametrize("faults", [59, 113, 177, 339, 2501])
def test_chunks_are_alike_and_hold_every_lane_once(faults: int) -> None:
    """However many faults and processes there are, chunks differ by a lane and share the pairs evenly."""
    alone, pairs = faults - 7, 7
    keys = [Fault(f"f{number}", "Nothing.") for number in range(faults)]
    for scenarios, jobs in ((1, 1), (20_000, 2), (20_001, 8), (2 * campaign.CHUNK + 1, 1)):
        chunks = campaign._chunks(keys[:alone], keys[alone:], scenarios, jobs)
        sizes = [sum(len(batch.lanes) for batch in chunk) for chunk in chunks]
        assert min(sizes) >= 2
        assert max(sizes) <= min(min(sizes) + 1, campaign.CHUNK)
        of_pairs = [sum(batch.fault in keys[alone:] for batch in chunk) for chunk in chunks]
        assert max(of_pairs) <= pairs // len(chunks) + 2
        run = [(batch.fault.key, lane) for chunk in chunks for batch in chunk for lane in batch.lanes]
        together = pairs * campaign.PAIR_LANES
        each = max(-(-(scenarios - together) // alone), 2)
        assert len(set(run)) == len(run) == together + alone * each


def test_it_does_not_matter_which_chunk_is_done_first() -> None:
    """Of what is as long, or in the same tick, the first lane is told; sooner comes before later."""
    found = [
        Tally("f", neutral_ticks=9, neutral_lane=5, rolled=((1.0, 5),), reached={0: (1, 5, 30)}),
        Tally("f", neutral_ticks=9, neutral_lane=3, rolled=((1.0, 3),), reached={0: (1, 3, 40)}),
        Tally("f", neutral_ticks=7, neutral_lane=1, rolled=((0.5, 1),), reached={0: (1, 9, 30)}),
    ]
    for order in permutations(found):
        total = Tally("f")
        for tally in order:
            total.add(tally)
        assert (total.neutral_ticks, total.neutral_lane) == (9, 3)
        assert total.rolled == ((1.0, 3),)
        assert total.reached == {0: (3, 5, 30)}


def test_what_can_be_seen_and_drives_on_is_broken_whatever_the_rules_say(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """With every rule taken away a core that never loses its signal is still found out."""
    (core,) = (core for core in WRONG_CORES if core.new == "minimum(age + 1, lost_ticks - 1)")
    for module in (watched, results):
        monkeypatch.setattr(module, "rules_of", lambda _: ())
    with core.built_in():
        result = run_campaign(replace(SMALL, jobs=1))
    found = line(result, "all-lost")
    assert found.verdict is FaultVerdict.BROKEN
    assert [item.rule for item in found.broken] == ["must-stop"]


def test_a_late_tick_stops_the_robot_when_it_begins(small: CampaignResult) -> None:
    """One tick in five run: zero in the fifth; a single tick of 50 ms: zero in the one after it."""
    for key, ticks in (("overrun.2", 2), ("overrun.5", 5), ("overrun.once", 50 // PLAN.tick_ms)):
        found = line(small, key)
        assert found.verdict is FaultVerdict.STOPS
        assert found.moving > 0
        assert found.neutral_ms == ticks * PLAN.tick_ms
    assert line(small, "slow-clock.10").verdict is FaultVerdict.UNKNOWABLE, "its own clock shows nothing"


@pytest.mark.parametrize("engine", ["numpy", pytest.param("native", marks=pytest.mark.needs_tool("gcc"))])
@pytest.mark.parametrize(
    "sees", [lambda _: False, lambda late: late >= 5], ids=["nothing late", "five late"]
)
def test_firmware_that_sees_no_tick_late_is_caught(
    sees: Callable[[int], bool], engine: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By the campaign, since it does not stop, and by the rules, since the watcher knows that it has to."""
    keys = ("overrun.2", "overrun.once")
    monkeypatch.setattr(
        campaign, "catalogue", lambda plan: tuple(fault_named(catalogue(plan), key) for key in keys)
    )
    monkeypatch.setattr(campaign, "pairs_of", lambda *_: ((), 0))
    right = run_campaign(replace(SMALL, scenarios=48, engine=engine))
    assert [fault.verdict for fault in right.faults] == [FaultVerdict.STOPS] * 2
    monkeypatch.setattr(scene, "starts_anew", sees)
    wrong = run_campaign(replace(SMALL, scenarios=48, engine=engine))
    found = {item.rule for item in line(wrong, "overrun.2").broken}
    assert {"must-stop", "arming-first"} <= found


def test_a_frozen_stick_is_no_success(small: CampaignResult) -> None:
    """Throttle frozen at its end drives for ever: only a person can end that, and the page says how."""
    for key in ("highest.throttle", "lowest.throttle", "frozen.throttle"):
        found = line(small, key)
        assert found.verdict is FaultVerdict.UNKNOWABLE
        assert "arm switch off" in found.advice
    assert "switch the transmitter off" in line(small, "frozen.arm").advice


def test_every_rule_has_a_witness(small: CampaignResult) -> None:
    """Even a few scenarios reach what each rule is about, and nothing green is green for nothing."""
    assert [item.rule for item in small.witnesses] == [rule.key for rule in rules_of(PLAN)]
    assert small.unreached == ()


def test_progress_comes_to_its_end() -> None:
    """Shares rise from 0 towards 1."""
    told: list[float] = []
    run_campaign(BRIEF, told.append)
    assert told == sorted(told)
    assert told[-1] > 0.7


@pytest.mark.no_cover
@pytest.mark.parametrize("name", cases(["tank_pair"], ["holonomic_trio", "sample_carrier", "long_crawler"]))
def test_example_robots_hold(name: str) -> None:
    """Over every fault; distances are short and there. In the plain suite the largest stands for all."""
    profile = load_profile(next(path for path in PROFILES if path.stem == name))
    result = run_campaign(
        replace(request_of(build_of(profile), Options(scenarios=250, jobs=1)), seconds=1.5)
    )
    assert not result.broken
    found = line(result, "all-lost")
    assert 0 < min(found.rolled_m) <= max(found.rolled_m) < 3


@pytest.mark.long
@pytest.mark.timeout(900)
@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_example_robots_hold_in_twenty_thousand(path: Path) -> None:
    """The whole campaign, in every loadout."""
    profile = load_profile(path)
    for loadout in (None, *profile.loadouts):
        result = run_campaign(request_of(build_of(profile, loadout), Options()))
        assert result.scenarios >= 20_000
        assert not result.broken


def test_what_is_broken_below_the_firmware_changes_the_way(monkeypatch: pytest.MonkeyPatch) -> None:
    """After a loss: a stalled side stops it sooner, a controller that is stuck on is never called a stop.

    Its way with every output told zero is told instead, where it is all that is wrong, with what to do.
    """
    profile = load_profile(next(path for path in PROFILES if path.stem == "tank_pair"))
    request = request_of(build_of(profile), Options(scenarios=60, jobs=1))
    keys = ("all-lost", *(f"two.all-lost+{what}.left" for what in ("stalled", "stuck-on")), "stuck-on.left")
    faults = catalogue(request.plan)
    monkeypatch.setattr(campaign, "catalogue", lambda _: tuple(fault_named(faults, key) for key in keys))
    monkeypatch.setattr(campaign, "pairs_of", lambda *_: ((), 0))
    whole, stalled, stuck, alone = run_campaign(request).faults
    assert 0 < stalled.rolled_m[1] < whole.rolled_m[1]
    assert stalled.verdict is whole.verdict is FaultVerdict.STOPS
    for fault in (stuck, alone):
        assert fault.verdict is FaultVerdict.UNKNOWABLE
        assert "main switch" in fault.advice
        assert fault.rolled_m == ()
    assert stuck.away_m is None
    assert alone.away_m is not None
    assert alone.away_m > whole.rolled_m[1]
