"""`failsafe --engine board` as a user meets it: the table, the verdict and what it rests on, bad input."""

from dataclasses import replace
from functools import lru_cache

import pytest

from mixer.cli.board import at_pins
from mixer.failsafe.campaign.results import FaultVerdict
from mixer.failsafe.pins.flips import Flip, Outcome
from mixer.failsafe.pins.report import PinsReport
from mixer.failsafe.pins.results import PinResult
from mixer.failsafe.pins.run import Rig, judged_scripts, lines_of
from mixer.failsafe.pins.scripts import faults_at_pins, scripts_of
from mixer.failsafe.report.account import Options, request_of
from mixer.failsafe.report.stop import stop_of
from mixer.live.robot.robot import build_of
from mixer.profile.profile import Profile, load_profile
from tests.cli.conftest import TANK, Run
from tests.failsafe.pins.model_chip import ModelChip, Wrongs, pins_for

pytestmark = pytest.mark.no_cover
WRONG = Wrongs(watchdog=False, inverted=True)


@lru_cache(maxsize=2)
def result(wrongs: Wrongs | None) -> PinResult:
    """Few faults on the model of a board."""
    profile = load_profile(TANK)
    plan = profile.plan()
    pins = pins_for(plan)
    rig = Rig(plan, stop_of(profile, None), pins, lambda: ModelChip(plan, pins, wrongs), jobs=1)
    faults = [fault for fault in faults_at_pins(plan) if fault.key in ("none", "all-lost", "hang")]
    request = replace(request_of(build_of(profile), Options(6)), seconds=0.1)
    return lines_of(rig, faults, judged_scripts(rig, list(scripts_of(request, faults))))


def modelled(wrongs: Wrongs | None, bits: tuple[Flip, ...] = ()) -> object:
    """In place of the report on an image: the same on the model of a board."""

    def report(profile: Profile, loadout: str | None, *_: object) -> PinsReport:
        chip = PinResult((), 0.0, ("loop.main+0x3a",))
        name, stop = profile.robot(loadout).robot.name, stop_of(profile, loadout)
        return PinsReport(name, loadout, "a model", "0" * 12, stop, 3, result(wrongs), chip, bits)

    return report


def test_the_table_and_the_verdict_with_what_it_rests_on(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Times at the pins against the promise, part by part; JSON has the same."""
    flip = Flip("state+3", "driving", Outcome.OTHERWISE, "left shows 1600.0 µs where 1500 is due")
    monkeypatch.setattr(at_pins, "report_at_pins", modelled(None, (flip,)))
    told = run("failsafe", TANK, "--engine", "board", "--seed", "3", "--bits")
    said = " ".join(told.out.split())

    assert told.code == 0
    assert "tank pair on the a model, at its pins" in said
    assert "all-lost" in said
    assert "pulse 2.5 + tick that reads it 2 + loss 250" in said
    assert "= 274.5 ms: kept in 2 runs that moved" in said
    assert "no silicon" in said
    assert "state+3 driving otherwise left shows 1600.0 µs where 1500 is due" in said
    assert "did not go round, so that nothing hung there: main+0x3a" in told.err
    data = run("failsafe", TANK, "--engine", "board", "--json").data["reports"][0]
    assert [fault["fault"] for fault in data["campaign"]["faults"]] == ["none", "all-lost", "hang"]
    assert data["campaign"]["faults"][1]["verdict"] == "stops"
    assert data["against"] == []


def test_nothing_is_said_to_stop_where_nothing_moved(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither a verdict nor a promise that was kept rests on runs at rest."""
    right = result(None)
    still = tuple(replace(fault, moving=0, cut=1, verdict=FaultVerdict.IDLE) for fault in right.faults)
    monkeypatch.setattr(at_pins, "report_at_pins", modelled(None))
    monkeypatch.setitem(globals(), "result", lambda _: replace(right, faults=still))
    told = run("failsafe", TANK, "--engine", "board")

    rows = {
        line.split()[0]: line for line in told.out.splitlines() if line.startswith(("all-lost", "hang"))
    }
    assert all(row.rstrip().endswith("nothing moved") for row in rows.values())
    assert len(rows) == 2
    assert "kept in" not in told.out.lower()
    assert "3 servo pulses were cut short by a reset that came while they were high" in told.out


def test_what_is_broken_is_said_where_and_ends_with_1(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """An image that drives the wrong way and has no watchdog."""
    monkeypatch.setattr(at_pins, "report_at_pins", modelled(WRONG))
    told = run("failsafe", TANK, "--engine", "board")

    assert told.code == 1
    assert "BROKEN under none, scenario " in told.out
    assert "is due" in told.out
    assert "BROKEN under hang: still moving beyond the promised time in" in told.out
    assert "does not hold for tank pair on the a model: something is BROKEN at the pins" in told.out


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--bits",), "add --engine board"),
        (("--board", "rp2040"), "add --engine board"),
        (("--engine", "board", "--board", "toaster"), "there is no board 'toaster'"),
        (("--engine", "board", "--examples", "here"), "leave --examples or --engine board away"),
        (("--engine", "board", "--scenarios", "0"), "give 1 to"),
    ],
)
def test_bad_input_is_refused_with_a_remedy(run: Run, words: tuple[str, ...], message: str) -> None:
    """Before anything is built."""
    told = run("failsafe", TANK, *words)
    assert told.code == 2
    assert message in told.err
