"""The campaign: deterministic, the same on every engine, and right about what it says."""

from dataclasses import replace
from pathlib import Path

import pytest

from mixer.failsafe import campaign
from mixer.failsafe.campaign import Request, run_campaign
from mixer.failsafe.families import families_of
from mixer.failsafe.faults import catalogue
from mixer.failsafe.recording import recorded
from mixer.failsafe.report import Options, request_of
from mixer.failsafe.results import CampaignResult, FaultResult, Verdict
from mixer.laws.expect import loss_ms
from mixer.profile import load_profile
from tests.failsafe.rigs import rig

PROFILES = sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))
PLAN = rig()
SMALL = Request(PLAN, scenarios=300, jobs=1)


@pytest.fixture(scope="module")
def small() -> CampaignResult:
    """One small campaign."""
    return run_campaign(SMALL)


def line(result: CampaignResult, key: str) -> FaultResult:
    """One line of the table."""
    return next(fault for fault in result.faults if fault.key == key)


def test_the_seed_decides_everything(small: CampaignResult) -> None:
    """The same seed gives the same table, another seed another one."""
    assert run_campaign(SMALL) == small
    assert run_campaign(replace(SMALL, seed=2)).faults != small.faults


def test_chunks_do_not_matter(small: CampaignResult, monkeypatch: pytest.MonkeyPatch) -> None:
    """Cut into other chunks, the same scenarios give the same table."""
    monkeypatch.setattr(campaign, "CHUNK", 37)
    assert run_campaign(SMALL) == small


@pytest.mark.needs_tool("gcc")
def test_engines_do_not_matter(small: CampaignResult) -> None:
    """Native vectors give the same table."""
    native = run_campaign(replace(SMALL, engine="native"))
    assert native.faults == small.faults


def test_processes_do_not_matter(small: CampaignResult, monkeypatch: pytest.MonkeyPatch) -> None:
    """Spread over two processes, the same table."""
    monkeypatch.setattr(campaign, "CHUNK", 120)
    assert run_campaign(replace(SMALL, jobs=2)) == small


def test_every_fault_gets_its_scenarios(small: CampaignResult) -> None:
    """As many as asked for at least, evenly spread over the whole catalogue."""
    assert [fault.key for fault in small.faults] == [fault.key for fault in catalogue(PLAN)]
    assert small.scenarios >= 300
    assert len({fault.scenarios for fault in small.faults}) == 1


def test_a_loss_stops_within_the_promise_and_not_much_sooner(small: CampaignResult) -> None:
    """The worst time from onset to neutral is the promise, less at most the age of the last frame."""
    found = line(small, "all-lost")
    assert found.verdict is Verdict.HOLDS
    assert found.moving > 0
    assert found.neutral_ms is not None
    assert loss_ms(PLAN) - 20 <= found.neutral_ms <= loss_ms(PLAN)


def test_what_no_firmware_sees_is_said(small: CampaignResult) -> None:
    """A receiver that repeats its last frame drives the robot on; the table says so and what to do."""
    found = line(small, "repeats-last")
    assert found.verdict is Verdict.UNSEEN
    assert found.neutral_ms is None
    assert "rehearse" in found.advice
    assert line(small, "preset.invalid").verdict is Verdict.HOLDS


def test_the_table_for_people_has_a_line_a_kind(small: CampaignResult) -> None:
    """Faults of one kind share a line; their scenarios add up and the worst of them shows."""
    families = families_of(small)
    assert sum(family.scenarios for family in families) == small.scenarios
    presets = next(family for family in families if family.name.startswith("preset"))
    assert presets.verdict_words == "cannot be seen by firmware (1), holds (3)"
    assert len(families_of(small, each=True)) == len(small.faults)


def test_a_scenario_by_itself_is_what_it_was_among_others() -> None:
    """Inputs of a lane do not depend on the lanes beside it, and repeat."""
    fault = next(fault for fault in catalogue(PLAN) if fault.key == "spikes.40")
    assert recorded(SMALL, fault, 2, 150) == recorded(SMALL, fault, 2, 150)
    assert recorded(SMALL, fault, 2, 150)[1] != recorded(SMALL, fault, 3, 150)[1]


def test_progress_comes_to_its_end() -> None:
    """Shares rise from 0 towards 1."""
    told: list[float] = []
    run_campaign(replace(SMALL, scenarios=100), told.append)
    assert told == sorted(told)
    assert told[-1] > 0.7


@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_example_robots_hold(path: Path) -> None:
    """Every example robot, in every loadout, over every fault; distances are short and there."""
    profile = load_profile(path)
    result = run_campaign(request_of(profile, None, Options(scenarios=250, jobs=1)))
    assert not result.broken
    found = line(result, "all-lost")
    assert found.distance_m is not None
    assert 0 < found.distance_m < 3


@pytest.mark.long
@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_example_robots_hold_in_twenty_thousand(path: Path) -> None:
    """The whole campaign, in every loadout."""
    profile = load_profile(path)
    for loadout in (None, *profile.loadouts):
        result = run_campaign(request_of(profile, loadout, Options()))
        assert result.scenarios >= 20_000
        assert not result.broken
