"""`stickwright failsafe`: its exit codes, its document, its table, its examples."""

import argparse
import json
from pathlib import Path

import pytest

from mixer.cli import failsafe
from mixer.cli.main import main
from mixer.cli.shared.console import Console, Exit
from mixer.errors import OptionError, WriteError
from mixer.failsafe.campaign import run as campaign
from mixer.failsafe.report.account import CLAIM
from mixer.faults.catalogue import catalogue
from mixer.runs.play.start_state import start_state_path
from tests.failsafe.wrong_cores import WRONG_CORES

CARRIER = Path(__file__).parents[2] / "profiles" / "sample_carrier.toml"
TANK = CARRIER.with_name("tank_pair.toml")
(SWAPPED_STOPS,) = (core for core in WRONG_CORES if core.new.endswith("in_blocked = in_closed, out_closed"))


def run(*arguments: str, as_json: bool = False) -> Exit:
    """The command as `main` runs it."""
    parser = argparse.ArgumentParser()
    failsafe.add_arguments(parser)
    args = parser.parse_args(
        [*arguments, "--scenarios", "150"] if "--scenarios" not in arguments else arguments
    )
    return failsafe.run(args, Console(as_json=as_json, quiet=True))


@pytest.fixture
def tank(tmp_path: Path) -> str:
    """The smallest robot at a fifth of its ticks, which is five times as quick."""
    profile, text = tmp_path / "tank.toml", TANK.read_text(encoding="utf-8")
    assert "\ntick_ms = 2\n" in text
    profile.write_text(text.replace("\ntick_ms = 2\n", "\ntick_ms = 10\n"), encoding="utf-8")
    return str(profile)


def test_a_healthy_robot_ends_with_0(tank: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The table names faults, seed and the limits of the claim; nothing claims a performance level."""
    assert run(tank, "--no-proof", "--seed", "7") is Exit.FINE
    shown = capsys.readouterr().out
    assert "like stop category 0" in shown
    assert "seed 7" in shown
    assert "channel-lost (x3)" in shown
    assert CLAIM in shown
    assert "wheels off the ground" in shown
    assert "not proven in this run" in shown
    assert not {"PL d", "PL e", "SIL"} & set(shown.split())


def test_trouble_is_told_in_the_report(
    tank: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No arm switch, resume after a loss, a timeout of 2 s: rules hold, and there is much to think of."""
    text = Path(tank).read_text(encoding="utf-8")
    wish = 'lost_after_ms = 2000\nafter_loss = "resume"'
    text = text.replace('arm = { switch = "arm", position = "on" }', wish)
    text = text.replace("[switch.arm]\nreceiver = 5\n", "")
    profile = tmp_path / "trouble.toml"
    profile.write_text(text, encoding="utf-8")
    assert run(str(profile), "--no-proof") is Exit.FINE
    shown = capsys.readouterr().out
    assert "There is no arm switch" in shown
    assert "goes on by itself" in shown
    assert "drives on for 2 s" in shown
    assert "cannot be told from a hand on the stick" in shown
    assert "1990 ms" in shown


@pytest.mark.needs_tool("z3")
def test_the_document_is_json(tank: str, capsys: pytest.CaptureFixture[str]) -> None:
    """One document, with proof, campaign, warnings and the promise."""
    assert run(tank, as_json=True) is Exit.FINE
    (report,) = json.loads(capsys.readouterr().out)["reports"]
    assert report["stop"]["kept"] is True
    assert report["stop"]["words"].startswith("like stop category 0")
    assert {item["outcome"] for item in report["proof"]["rules"]} == {"proven"}
    assert report["campaign"]["broken"] is False
    assert report["campaign"]["seed"] == 1


def test_every_loadout_can_be_asked_for(
    tank: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """`all` runs the base robot and each loadout."""
    monkeypatch.setattr(campaign, "catalogue", lambda plan: catalogue(plan)[:6])
    profile = tmp_path / "two.toml"
    profile.write_text(
        Path(tank).read_text(encoding="utf-8") + "\n[loadout.ramping]\nguard.stop = 'ramp'\n",
        encoding="utf-8",
    )
    assert run(str(profile), "--loadout", "all", "--no-proof", as_json=True) is Exit.FINE
    reports = json.loads(capsys.readouterr().out)["reports"]
    assert [report["loadout"] for report in reports] == [None, "ramping"]
    stops = [report["stop"]["words"].split(":")[0] for report in reports]
    assert stops == ["like stop category 0", "like stop category 1"]


def test_bad_values_are_refused_before_anything_runs() -> None:
    """A loadout there is none of, no scenarios at all."""
    with pytest.raises(OptionError, match="no loadout 'bear'"):
        run(str(CARRIER), "--loadout", "bear")
    with pytest.raises(OptionError, match="--scenarios 0"):
        run(str(CARRIER), "--scenarios", "0")


def test_a_broken_rule_ends_with_1_and_its_example(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """With a wrong core: exit code 1, the rule named, and logs with start states that show it."""
    text = CARRIER.read_text(encoding="utf-8")
    assert "\ntick_ms = 2\n" in text
    profile = tmp_path / "fewer_ticks.toml"
    profile.write_text(text.replace("\ntick_ms = 2\n", "\ntick_ms = 10\n"), encoding="utf-8")
    monkeypatch.setattr(campaign, "catalogue", lambda plan: catalogue(plan)[:6])
    with SWAPPED_STOPS.built_in():
        arguments = ("--no-proof", "--loadout", "long_tray", "--examples", str(tmp_path / "found"))
        assert run(str(profile), *arguments) is Exit.FAILED
    shown = capsys.readouterr().out
    assert "BROKEN under" in shown
    assert "does not hold for " in shown
    assert ": something is BROKEN" in shown
    log = tmp_path / "found" / "long_tray.campaign.closed-stop.csv"
    assert log.exists()
    assert start_state_path(log).exists()
    assert log.read_text(encoding="utf-8").startswith("t_ms,")
    assert main(["replay", str(profile), str(log), "--loadout", "long_tray"]) == Exit.FINE
    assert f"begins in the state of {log.name}.start.json" in capsys.readouterr().err


def test_examples_need_a_place(tmp_path: Path) -> None:
    """A folder that cannot be made is told as such."""
    (tmp_path / "taken").write_text("", encoding="utf-8")
    with SWAPPED_STOPS.built_in(), pytest.raises(WriteError, match="cannot be written"):
        run(str(CARRIER), "--no-proof", "--examples", str(tmp_path / "taken"))
