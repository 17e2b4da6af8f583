"""`stickwright sheet`: the file it writes, what it says, and how it ends."""

import hashlib
import shutil
from pathlib import Path
from typing import Any

import pytest

from mixer.cli import sheet as command
from mixer.failsafe.proof import theorems as proof
from mixer.link.pit.report import PitResult, PitStep
from mixer.link.rehearse.report import Outcome, ReceiverKind, RehearsalResult, StepVerdict
from mixer.live.robot.robot import Build
from mixer.profile.profile import load_profile
from mixer.sizing.report import SizeReport, size
from tests.cli.conftest import CARRIER, TANK, Run
from tests.cli.programs import tank_program
from tests.lengths import cases

QUICK = ("--no-campaign", "--no-proof")
SIZED: dict[str, SizeReport] = {}


@pytest.fixture(autouse=True)
def _sized_once(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """The match of one robot is driven once for all its pages, but where two pages have to be alike."""

    def once(build: Build, **_: object) -> SizeReport:
        key = repr(build)
        if key not in SIZED:
            SIZED[key] = size(build)
        return SIZED[key]

    if "again" not in request.fixturenames:
        monkeypatch.setattr(command, "size", once)


def written(run: Run, path: Path, *options: object, profile: Path = TANK, code: int = 0) -> str:
    """The page of one call that must end with `code`."""
    ran = run("sheet", profile, "-o", path, *options)
    assert ran.code == code, ran.err + ran.out
    return path.read_text(encoding="utf-8")


@pytest.mark.needs_tool("z3")
@pytest.mark.parametrize("again", cases([False], [True]))
def test_the_whole_page_of_the_smallest_robot(run: Run, tmp_path: Path, *, again: bool) -> None:
    """Proof, campaign and physics end on the page; with --long: the same call gives the same bytes."""
    first = written(run, tmp_path / "a.html", "--scenarios", 200)
    assert "16 of 16 proven" in first
    assert "none broken" in first
    assert "248 ms" in first
    assert not again or first == written(run, tmp_path / "b.html", "--scenarios", 200)


@pytest.mark.long
def test_a_loadout_has_a_page_of_its_own(run: Run, tmp_path: Path) -> None:
    """Without its tray the carrier has no screws on the page, and its name says so."""
    assert "[output.tray_left]" in CARRIER.read_text(encoding="utf-8")
    bare = written(run, tmp_path / "b.html", *QUICK, "--loadout", "bare", profile=CARRIER)
    assert "tray_left" not in bare
    assert "loadout bare" in bare


def test_the_code_fingerprint_is_that_of_the_export(run: Run, tmp_path: Path) -> None:
    """Who runs `cat mix.c mix.h | sha256sum` in an export's folder sees the page's digits."""
    data = run("sheet", TANK, "-o", tmp_path / "a.html", *QUICK, "--json").data
    assert run("export", TANK, "-o", tmp_path / "out").code == 0
    text = (tmp_path / "out" / "mix.c").read_bytes() + (tmp_path / "out" / "mix.h").read_bytes()
    assert hashlib.sha256(text).hexdigest().startswith(data["code_fingerprint"])
    assert len(data["code_fingerprint"]) == 16
    page = (tmp_path / "a.html").read_text(encoding="utf-8")
    assert f"exported code with tables {data['code_fingerprint']}" in page
    assert data["failures"] == []


def test_an_exceeded_limit_ends_with_1_and_still_writes(run: Run, tmp_path: Path) -> None:
    """A robot over its class limit gets its page, OVER on it, and exit code 1."""
    heavy = tmp_path / "heavy.toml"
    heavy.write_text(TANK.read_text().replace("class_limit_kg = 1.5", "class_limit_kg = 1.0"))
    assert ">OVER<" in written(run, tmp_path / "a.html", *QUICK, profile=heavy, code=1)


def rehearsed(path: Path, *, passed: bool, robot: str = "tank pair") -> Path:
    """A rehearsal's file as `rehearse` writes it."""
    outcome = Outcome.PASSED if passed else Outcome.FAILED
    steps = (StepVerdict("off while driving", outcome, "said"),)
    path.write_text(RehearsalResult(robot, steps, ReceiverKind.STOPS, complete=True).to_json())
    return path


def test_the_rehearsal_is_told(run: Run, tmp_path: Path) -> None:
    """What this receiver does is on the page; a step that failed is named and ends with 1."""
    file = rehearsed(tmp_path / "r.json", passed=True)
    assert "pulses stop" in written(run, tmp_path / "a.html", *QUICK, "--rehearsal", file)
    file = rehearsed(tmp_path / "r.json", passed=False)
    page = written(run, tmp_path / "a.html", *QUICK, "--rehearsal", file, code=1)
    assert "off while driving: failed" in page


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "Invalid JSON"),
        ("[" * 100_000, "recursion limit"),
        ('{"format": "stickwright rehearsal 1", "robot": null}', "robot"),
        ("[]", "not a rehearsal"),
        ('{"format": "other"}', "not a rehearsal"),
        (None, "No such file"),
    ],
)
def test_what_is_no_rehearsal_is_refused(run: Run, tmp_path: Path, text: str | None, said: str) -> None:
    """A file that is not there, not JSON or something else ends with 2 and says what to give."""
    file = tmp_path / "r.json"
    if text is not None:
        file.write_text(text)
    ran = run("sheet", TANK, "-o", tmp_path / "a.html", *QUICK, "--rehearsal", file)
    assert ran.code == 2
    assert said in ran.err
    assert "stickwright rehearse" in ran.err
    assert not (tmp_path / "a.html").exists()


def test_the_rehearsal_of_another_robot_is_refused(run: Run, tmp_path: Path) -> None:
    """The page of one robot never carries the test of another."""
    file = rehearsed(tmp_path / "r.json", passed=True, robot="other")
    ran = run("sheet", TANK, "-o", tmp_path / "a.html", *QUICK, "--rehearsal", file)
    assert ran.code == 2
    assert "'other'" in ran.err


def test_a_file_that_is_no_sheet_is_not_written_over(run: Run, tmp_path: Path) -> None:
    """The profile given as the output by mistake survives; an earlier sheet is replaced."""
    copy = shutil.copy(TANK, tmp_path / "mine.toml")
    ran = run("sheet", copy, "-o", copy, *QUICK)
    assert ran.code == 2
    assert Path(copy).read_bytes() == TANK.read_bytes()
    written(run, tmp_path / "a.html", *QUICK)
    written(run, tmp_path / "a.html", *QUICK)


def test_options_that_make_no_sense_are_refused(run: Run, tmp_path: Path) -> None:
    """Unknown loadouts, counts out of range, and a folder that is not there end with 2."""
    for options in (("--loadout", "nope"), ("--scenarios", "0"), ("--no-campaign", "--scenarios", "9")):
        assert run("sheet", TANK, "-o", tmp_path / "a.html", *options).code == 2
    assert run("sheet", TANK, "-o", tmp_path / "none" / "a.html", *QUICK).code == 2


def test_an_unproven_rule_ends_with_1(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A proof that settles nothing is told on the page and by the exit code."""

    def unsettled(plan: Any, **_: Any) -> proof.ProofResult:  # noqa: ANN401
        rule = proof.RuleProof(
            "stops-on-loss", "It stops.", proof.ProofOutcome.NOT_SETTLED, None, "too hard"
        )
        return proof.ProofResult(plan, (rule,), 0, (), 0.0)

    monkeypatch.setattr(command, "prove_rules", unsettled)
    page = written(run, tmp_path / "a.html", "--no-campaign", code=1)
    assert "NOT SETTLED" in page
    assert "too hard" in page


def pit_check(path: Path, outcome: Outcome, fingerprint: str, robot: str = "tank pair") -> Path:
    """A check's file as `pit` writes it."""
    step = PitStep(step="weight", part="weight", outcome=outcome, said="5 kg")
    result = PitResult(
        robot=robot, fingerprint=fingerprint, begun="2026-11-26 09:00:00", complete=True, steps=(step,)
    )
    path.write_text(result.to_json())
    return path


def test_the_pit_check_is_told(run: Run, tmp_path: Path) -> None:
    """With its date, fingerprint and verdict; one of another tuning, robot or outcome speaks against it."""
    prints = load_profile(TANK).fingerprint()
    file = pit_check(tmp_path / "p.json", Outcome.PASSED, prints)
    page = written(run, tmp_path / "a.html", *QUICK, "--pit", file)
    assert f"Pit check 2026-11-26 09:00:00, {prints}: READY: 1 of 1 steps passed." in page
    file = pit_check(tmp_path / "p.json", Outcome.FAILED, prints)
    assert "weight: failed" in written(run, tmp_path / "a.html", *QUICK, "--pit", file, code=1)
    file = pit_check(tmp_path / "p.json", Outcome.PASSED, "0123456789ab")
    assert "another tuning" in written(run, tmp_path / "a.html", *QUICK, "--pit", file, code=1)
    file = pit_check(tmp_path / "p.json", Outcome.PASSED, prints, "other")
    assert run("sheet", TANK, "-o", tmp_path / "a.html", *QUICK, "--pit", file).code == 2


@pytest.mark.needs_tool("avr-gcc")
def test_the_proven_time_of_the_compiled_tick_is_told(run: Run, tmp_path: Path) -> None:
    """With its file's digest; of another robot's program there is no page, and without one no such time."""
    elf = tank_program(tmp_path)
    page = written(run, tmp_path / "a.html", *QUICK, "--elf", elf)
    cycles = run("tick", TANK, elf, "--json").data["cycles"]
    assert (
        f"Program {elf.name} (ATmega328P, SHA-256 {hashlib.sha256(elf.read_bytes()).hexdigest()[:12]}"
        in page
    )
    assert f"mix_tick takes at most {cycles:,} cycles" in page
    assert "interrupts not counted" in page
    assert "mix_tick takes" not in written(run, tmp_path / "b.html", *QUICK)
    ran = run("sheet", CARRIER, "-o", tmp_path / "c.html", *QUICK, "--elf", elf)
    assert ran.code == 2
    assert "carries the mix" in ran.err
    assert not (tmp_path / "c.html").exists()
