"""The proof: example robots proven, counter-examples real and replayable, nothing claimed for nothing."""

import random
from pathlib import Path

import pytest
from pydantic import TypeAdapter

from mixer.core import drive
from mixer.core.layout import layout_of
from mixer.core.plan import OutputPlan
from mixer.failsafe.campaign.recording import files_of
from mixer.failsafe.proof.counter_example import broken_by
from mixer.failsafe.proof.prover import Prover
from mixer.failsafe.proof.theorems import ProofOutcome, ProofResult, prove_rules
from mixer.laws.expect import loss_ms
from mixer.laws.rules import rules_of
from mixer.live.judge.watched import watched_graph
from mixer.profile.profile import load_profile
from tests.failsafe.wrong_cores import WRONG_CORES, WrongCore
from tests.lengths import cases
from tests.plans import rig
from tests.strategies import SMALL_SIZE, random_plan

pytestmark = pytest.mark.needs_tool("z3")
PROFILES = sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))
CORES = {core.new: core for core in WRONG_CORES}


@pytest.mark.parametrize(
    ("path", "loadout"),
    cases(
        [(path, None) for path in PROFILES if path.stem != "sample_carrier"],
        [
            *((path, None) for path in PROFILES if path.stem == "sample_carrier"),
            *((path, loadout) for path in PROFILES for loadout in load_profile(path).loadouts),
        ],
    ),
    ids=lambda item: item.stem if isinstance(item, Path) else item,
)
def test_every_rule_of_every_example_robot_is_proven(path: Path, loadout: str | None) -> None:
    """With the promised time as the proven bound."""
    profile = load_profile(path)
    plan = profile.plan(loadout)
    result = prove_rules(plan)
    assert {
        item.rule: item.reason for item in result.rules if item.outcome is not ProofOutcome.PROVEN
    } == {}
    keys = [rule.key for rule in rules_of(plan)]
    assert [item.rule for item in result.rules] == [*keys, "repeatable", "ranges"]
    assert result.dropped == ()
    bounds = {item.rule: item.bound_ms for item in result.rules}
    assert bounds["stops-on-loss"] == bounds["one-bad-channel"] == loss_ms(plan)
    assert loss_ms(plan) + plan.tick_ms <= profile.stop_within_ms(loadout)


@pytest.mark.no_cover
@pytest.mark.parametrize("seed", cases([1, 8], [2, 5, 7]))
def test_random_robots_are_proven(seed: int) -> None:
    """The relations are enough for any robot, not only for the examples."""
    result = prove_rules(random_plan(random.Random(seed), SMALL_SIZE))
    assert {
        item.rule: item.reason for item in result.rules if item.outcome is not ProofOutcome.PROVEN
    } == {}


@pytest.mark.parametrize(
    ("edit", "rule"),
    cases(
        [("x", "asked-by-mix")],
        [
            ("seen_off: Value = 1", "no-self-start"),
            ("touching, remaining", "closed-stop"),
            ("minimum(age + 1, lost_ticks - 1)", "stops-on-loss"),
        ],
    ),
)
def test_a_counter_example_is_a_run_from_power_up(edit: str, rule: str) -> None:
    """Its log breaks the rule in the wrong core, in its last tick, and nothing in the right one."""
    core = CORES[edit]
    with core.built_in():
        (item,) = prove_rules(core.plan, keys=[rule]).rules
        example = item.counter_example
        assert example is not None
        assert item.outcome is ProofOutcome.COUNTER_EXAMPLE
        assert example.from_power_up
        assert broken_by(core.plan, example.state + example.memory, example.rows)[rule] == (
            len(example.rows) - 1
        )
        assert list(files_of("found.csv", example)) == ["found.csv"], "no start state beside it"
    start = watched_graph(core.plan).start
    assert rule not in broken_by(core.plan, start, example.rows), "the right core is right"


def test_without_relations_nothing_is_claimed(monkeypatch: pytest.MonkeyPatch) -> None:
    """A rule that does not follow and has no example is not settled, with a reason; never proven."""

    def none_found(prover: Prover) -> tuple[list[str], list[str]]:
        prover.kept, prover.dropped = [], list(prover.names)
        return prover.kept, prover.dropped

    monkeypatch.setattr(Prover, "find_relations", none_found)
    result = prove_rules(rig(), keys=["no-self-start"])
    (item,) = result.rules
    assert item.outcome is ProofOutcome.NOT_SETTLED
    assert item.bound_ms is None
    assert "does not follow" in item.reason
    assert not result.proven
    assert not result.broken


@pytest.mark.long
def test_a_wrong_relation_is_dropped_and_not_leaned_on() -> None:
    """With a mistake in the core, the relation it breaks is named among the dropped."""
    core = CORES["select(good, maximum(age - 2, 0), minimum(age"]
    with core.built_in():
        result = prove_rules(core.plan, keys=["stops-on-loss"])
    assert any("age is the silence" in name for name in result.dropped)


def test_state_and_inputs_are_all_a_tick_reads(monkeypatch: pytest.MonkeyPatch) -> None:
    """A core that remembers elsewhere how often it ran is found out."""
    calls, right = [0], drive.on_wire

    def forgetful(plan: OutputPlan, command: int) -> int:
        calls[0] += 1
        return right(plan, command) + int(calls[0] % 50 == 0)

    monkeypatch.setattr(drive, "on_wire", forgetful)
    watched_graph.cache_clear()
    result = prove_rules(rig(), keys=["repeatable"])
    watched_graph.cache_clear()
    assert [item.outcome for item in result.rules] == [ProofOutcome.NOT_SETTLED]
    assert "differs" in result.rules[0].reason or "another graph" in result.rules[0].reason


def test_a_number_that_leaves_32_bits_is_told() -> None:
    """Without the clamp on the travel's sum nothing bounds it, and nothing that counts on it is proven."""
    clamped = "clamp(start + command, -plan.travel_limit, plan.travel_limit)"
    core = WrongCore("interlock", clamped, "start + command", rig(), dangerous=False)
    with core.built_in():
        result = prove_rules(core.plan, keys=["ranges"])
    assert [item.outcome for item in result.rules] == [ProofOutcome.NOT_SETTLED]


def test_a_proof_does_not_depend_on_the_time() -> None:
    """A solver that may take one step proves next to nothing, and says that it gave up or does not know."""
    result = prove_rules(rig(), steps=1, keys=["stops-on-loss", "within-slew"])
    assert {item.outcome for item in result.rules} == {ProofOutcome.NOT_SETTLED}


def test_results_go_to_json_without_run_times() -> None:
    """Equal profiles give equal documents."""
    keys = ["closed-stop", "within-limits", "repeatable"]
    whole, plan = TypeAdapter(ProofResult), rig()
    first, second = (whole.dump_json(prove_rules(plan, keys=keys), context=plan) for _ in range(2))
    assert first == second
    assert b'"outcome":"proven"' in first


def test_watched_slots_are_named() -> None:
    """The firmware's slots come first, then the watcher's."""
    watched = watched_graph(rig())
    layout = layout_of(rig())
    assert watched.slots[: len(layout.state)] == layout.state
    assert all(name.startswith("watch.") for name in watched.slots[len(layout.state) :])
