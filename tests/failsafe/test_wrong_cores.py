"""The test of the tester: firmware made wrong on purpose is caught, with an example that shows it."""

import pytest

from mixer.failsafe.campaign.run import Request, run_campaign
from mixer.failsafe.proof.theorems import prove_rules
from tests.failsafe.catching import SCENARIOS, catch, caught_by_proof
from tests.failsafe.wrong_cores import RAMPING, RESUMING, RIG, WRONG_CORES, WrongCore

pytestmark = pytest.mark.needs_tool("z3")

BY_KEY = {core.key: core for core in WRONG_CORES}
PROVEN_WRONG = {
    "loss-never": "stops-on-loss",
    "no-debounce": "closed-stop",
    "no-arm-edge": "no-self-start",
    "stop-wrong-way": "other-way-free",
    "stop-bypassed": "disarming-stops",
    "fault-not-latched": "faults-latch",
    "no-limit": "within-limits",
    "no-slew-up": "within-slew",
}


def test_there_are_enough_of_them() -> None:
    """At least thirty wrong cores, each with a name of its own."""
    assert len(BY_KEY) == len(WRONG_CORES) >= 30


@pytest.mark.parametrize("core", WRONG_CORES, ids=lambda core: core.key)
def test_every_wrong_core_is_caught(core: WrongCore) -> None:
    """Campaign or proof breaks a rule with it, and the example breaks it again when run by itself."""
    assert catch(core).caught


@pytest.mark.parametrize(("key", "rule"), PROVEN_WRONG.items())
def test_the_proof_alone_finds_counter_examples(key: str, rule: str) -> None:
    """The solver's example breaks the rule in the wrong core itself."""
    core = BY_KEY[key]
    with core.built_in():
        assert caught_by_proof(core, [rule]) == (rule,)


@pytest.mark.parametrize("plan", [RIG, RAMPING, RESUMING], ids=["cut", "ramp", "resume"])
def test_nothing_is_caught_in_the_right_core(plan: object) -> None:
    """The same campaign finds nothing wrong with the core as it is."""
    result = run_campaign(Request(plan, scenarios=SCENARIOS, jobs=1))  # type: ignore[arg-type]
    assert not result.broken


@pytest.mark.parametrize("plan", [RIG, RAMPING, RESUMING], ids=["cut", "ramp", "resume"])
def test_the_right_core_is_proven(plan: object) -> None:
    """Every rule of these robots is proven."""
    assert prove_rules(plan, limit_s=60).proven  # type: ignore[arg-type]
