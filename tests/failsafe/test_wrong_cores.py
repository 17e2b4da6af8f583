"""The test of the tester: firmware made wrong on purpose is caught, the right one is not."""

from functools import lru_cache
from itertools import islice

import pytest

from mixer.core import tick as firmware
from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.failsafe.campaign.run import Request, run_campaign
from mixer.failsafe.proof.counter_example import broken_by
from mixer.failsafe.proof.hunt import _first_runs, a_run, breaking_runs
from mixer.failsafe.proof.theorems import prove_rules
from mixer.live.judge.watched import Watched, watched_graph
from tests.failsafe.catching import caught_by_campaign, caught_by_proof
from tests.failsafe.wrong_cores import RAMPING, RESUMING, RICH, RIG, WRONG_CORES, WrongCore
from tests.lengths import cases

pytestmark = pytest.mark.no_cover

RIGHT = pytest.mark.parametrize(
    "plan", [RIG, RAMPING, RESUMING, RICH], ids=["cut", "ramp", "resume", "rich"]
)
SOME = WRONG_CORES[::5]
OTHERS = [core for core in WRONG_CORES if core not in SOME]


def name_of(core: WrongCore) -> str:
    """What the edit wrote into which module."""
    return f"{core.module}.{core.new[:40]}"


@lru_cache(maxsize=4)
def right(plan: Plan) -> Watched:
    """The right core, watched."""
    return watched_graph(plan)


def test_there_are_enough_of_them() -> None:
    """At least a hundred wrong cores, in every module of the core that works anything out."""
    assert len({core.key for core in WRONG_CORES}) == len(WRONG_CORES) >= 100
    assert {core.module for core in WRONG_CORES} == {
        *("ops", "layout", "intake", "shape", "blend", "guard", "interlock", "drive", "tick")
    }


@pytest.mark.filterwarnings("ignore:divide by zero:RuntimeWarning")  # as a core that divides by 0 does
@pytest.mark.parametrize("core", cases(SOME, OTHERS), ids=name_of)
def test_every_wrong_core_is_caught_by_a_run_from_power_up(core: WrongCore) -> None:
    """A rule breaks in a run that begins where every robot begins; the right core breaks none in it.

    Every fifth of them in the plain suite.
    """
    with core.built_in():
        watched = watched_graph(core.plan)
        rule, rows = next(_first_runs(watched, "broken"))
        assert rule in broken_by(core.plan, watched.start, rows)
    assert rule not in broken_by(core.plan, right(core.plan).start, rows), "the right core is right"


@RIGHT
def test_nothing_breaks_in_the_right_core(plan: Plan) -> None:
    """The same runs find nothing wrong with the core as it is."""
    assert breaking_runs(right(plan)) == {}


@pytest.mark.needs_tool("z3")
@pytest.mark.parametrize("plan", cases([RIG], [RAMPING, RESUMING, RICH]))
def test_the_right_core_is_proven(plan: Plan) -> None:
    """Every rule of these robots is proven."""
    assert prove_rules(plan).proven


def test_an_edit_is_undone() -> None:
    """After a wrong core the right one gives what it gave before."""
    layout = layout_of(RICH)
    state = list(layout.start)
    row = next(islice(a_run(RICH, 3, 10), 4, None))
    before = firmware.flat_tick(RICH, row, state)
    for core in WRONG_CORES[:: len(WRONG_CORES) // 6]:
        with core.built_in():
            pass
    assert firmware.flat_tick(RICH, row, state) == before


@pytest.mark.long
@pytest.mark.timeout(900)
@pytest.mark.needs_tool("z3")
@pytest.mark.parametrize("core", WRONG_CORES, ids=name_of)
def test_proof_and_campaign_catch_it(core: WrongCore) -> None:
    """By at least one of the two; what is dangerous by the proof in any case."""
    proof = caught_by_proof(core)
    assert proof if core.dangerous else proof or caught_by_campaign(core)


@pytest.mark.long
@RIGHT
def test_a_campaign_finds_nothing_in_the_right_core(plan: Plan) -> None:
    """No false alarm."""
    assert not run_campaign(Request(plan, scenarios=4000)).broken
