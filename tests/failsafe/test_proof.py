"""The proof: example robots proven, counter-examples real and replayable, nothing claimed for nothing."""

import random
from collections.abc import Mapping
from pathlib import Path

import pytest

from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.failsafe.campaign.recording import files_of
from mixer.failsafe.proof import theorems as proofs
from mixer.failsafe.proof.counter_example import broken_by, confirmed
from mixer.failsafe.proof.prover import Prover
from mixer.failsafe.proof.theorems import Outcome, prove_rules
from mixer.files import write_folder
from mixer.laws.expect import loss_ms
from mixer.laws.monitor import Monitor
from mixer.laws.rules import rules_of
from mixer.live.judge.watched import watched_graph
from mixer.lower.graph.trace import _traced
from mixer.profile.profile import load_profile
from mixer.runs.play.drive_log import DriveLog
from mixer.runs.play.engines import make_engine
from tests.failsafe.wrong_cores import WRONG_CORES
from tests.plans import rig
from tests.strategies import SMALL_SIZE, random_plan

pytestmark = pytest.mark.needs_tool("z3")
PROFILES = sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))
CORES = {core.key: core for core in WRONG_CORES}


@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_every_rule_of_every_example_robot_is_proven(path: Path) -> None:
    """In every loadout, with the promised time as the proven bound."""
    profile = load_profile(path)
    for loadout in (None, *profile.loadouts):
        plan = profile.plan(loadout)
        result = prove_rules(plan, limit_s=90)
        assert {item.rule: item.reason for item in result.rules if item.outcome is not Outcome.PROVEN} == {}
        assert [item.rule for item in result.rules] == [rule.key for rule in rules_of(plan)] + [
            "repeatable"
        ]
        assert result.dropped == ()
        bounds = {item.rule: item.bound_ms for item in result.rules}
        assert bounds["stops-on-loss"] == bounds["one-bad-channel"] == loss_ms(plan)
        assert loss_ms(plan) + plan.tick_ms <= profile.stop_within_ms(loadout)


@pytest.mark.parametrize("seed", [1, 2, 5, 7, 8])
def test_random_robots_are_proven(seed: int) -> None:
    """The relations are enough for any robot, not only for the examples."""
    result = prove_rules(random_plan(random.Random(seed), SMALL_SIZE), limit_s=90)
    assert {item.rule: item.reason for item in result.rules if item.outcome is not Outcome.PROVEN} == {}


def played(plan: Plan, log: Path) -> Mapping[str, int]:
    """Replay a log from its start state and watch it: each broken rule and the tick it breaks in."""
    _traced.cache_clear()  # the core that is traced here is a wrong one
    drive, engine = DriveLog(plan, log), make_engine("direct", plan)
    _traced.cache_clear()
    engine.reset(drive.start_state)
    found: dict[str, int] = {}
    for _, inputs in drive.chunks():
        for row, read in zip(engine.run(inputs).tolist(), inputs.tolist(), strict=True):
            broken = MONITORS[log.name].step(row, read)
            for item in broken:
                found.setdefault(item.rule.key, item.tick)
    return found


MONITORS: dict[str, Monitor] = {}


@pytest.mark.parametrize(
    ("key", "rule"),
    [("no-debounce", "closed-stop"), ("no-arm-edge", "no-self-start"), ("stop-bypassed", "stops-on-loss")],
)
def test_a_counter_example_replays(key: str, rule: str, tmp_path: Path) -> None:
    """As a log with its start state, a counter-example breaks its rule in replay, in the same tick."""
    core = CORES[key]
    with core.built_in():
        (item,) = prove_rules(core.plan, limit_s=30, keys=[rule]).rules
        example = item.counter_example
        assert example is not None
        assert confirmed(core.plan, item.rule, example.state + example.memory, example.rows) is not None
        log = tmp_path / f"{key}.csv"
        write_folder(tmp_path, files_of(log.name, core.plan, example))
        MONITORS[log.name] = Monitor(core.plan, example.memory)
        assert played(core.plan, log)[item.rule] == len(example.rows) - 1
    assert broken_by(core.plan, example.state + example.memory, example.rows) == {}, (
        "the right core is right"
    )


def test_without_relations_nothing_is_claimed(monkeypatch: pytest.MonkeyPatch) -> None:
    """A rule that does not follow and has no example is not settled, with a reason; never proven."""

    def none_found(prover: Prover) -> tuple[list[str], list[str]]:
        prover.kept, prover.dropped = [], list(prover.names)
        return prover.kept, prover.dropped

    monkeypatch.setattr(Prover, "find_relations", none_found)
    result = prove_rules(rig(), limit_s=40, keys=["no-self-start"])
    (item,) = result.rules
    assert item.outcome is Outcome.NOT_SETTLED
    assert item.bound_ms is None
    assert "does not follow" in item.reason
    assert not result.proven
    assert not result.broken


def test_a_wrong_relation_is_dropped_and_not_leaned_on() -> None:
    """With a mistake in the core, the relation it breaks is named among the dropped."""
    core = CORES["loss-leaky"]
    with core.built_in():
        result = prove_rules(core.plan, limit_s=30, keys=["stops-on-loss"])
    assert any("age is the silence" in name for name in result.dropped)


def test_state_and_inputs_are_all_a_tick_reads() -> None:
    """A core that remembers something elsewhere is found out."""
    core = CORES["hidden-memory"]
    with core.built_in():
        result = prove_rules(core.plan, keys=["repeatable"])
    assert [item.outcome for item in result.rules] == [Outcome.NOT_SETTLED]
    assert "differs" in result.rules[0].reason or "another graph" in result.rules[0].reason


def test_results_go_to_json_without_run_times() -> None:
    """Equal profiles give equal documents."""
    keys = ["closed-stop", "within-limits", "repeatable"]
    first, second = (prove_rules(rig(), limit_s=60, keys=keys).to_dict() for _ in range(2))
    assert first == second
    assert proofs.Outcome.PROVEN.value == "proven"


def test_watched_slots_are_named() -> None:
    """The firmware's slots come first, then the watcher's."""
    watched = watched_graph(rig())
    layout = layout_of(rig())
    assert watched.slots[: len(layout.state)] == layout.state
    assert all(name.startswith("watch.") for name in watched.slots[len(layout.state) :])
