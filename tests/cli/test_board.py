"""What the commands say of a board: `check --board` and `export --board`."""

from pathlib import Path

import pytest

from mixer.board.image.ticktime import tick_time
from mixer.board.kinds.kind import Use
from mixer.board.project.build import image_of_project
from mixer.board.project.source import sources_of
from mixer.board.wiring.own import wiring_on
from mixer.files import has_mark
from mixer.lower.c.export import MARKS
from mixer.profile.profile import load_profile
from tests.cli.conftest import CARRIER, PROFILES, Run

TANK = PROFILES / "tank_pair.toml"


def test_export_writes_it_replaces_it_and_says_what_was_chosen(run: Run, tmp_path: Path) -> None:
    """A second export may replace the first; every file carries the mark by which it is known."""
    folder = tmp_path / "out"
    for _ in range(2):
        ran = run("export", TANK, "--board", "atmega328p", "-o", folder)
        assert ran.code == 0, ran.err
    assert "4 pins were chosen for you" in ran.out
    assert all(has_mark(path, MARKS) for path in folder.iterdir())
    (folder / "main.c").write_text("int main(void) { return 0; }\n")
    assert run("export", TANK, "--board", "atmega328p", "-o", folder).code == 2
    ran = run("export", TANK, "--board", "rp2040", "-o", tmp_path / "other", "--json")
    assert ran.data["board"] == "rp2040"
    assert len(ran.data["wiring"]) == 12


@pytest.mark.long
@pytest.mark.needs_tool("avr-gcc")
def test_the_readme_tells_the_time_of_the_program_that_is_beside_it(run: Run, tmp_path: Path) -> None:
    """With tables and without are two programs: each README names its own image and its own cycles."""
    profile = load_profile(TANK)
    for option, tables in (("--tables", True), ("--no-tables", False)):
        folder = tmp_path / option
        assert run("export", TANK, "--board", "atmega328p", option, "-o", folder).code == 0
        wiring = wiring_on(profile, None, "atmega328p")
        image = image_of_project(sources_of(profile, None, wiring, tables=tables), wiring.board)
        cycles = tick_time(image, profile.fingerprint(None), 2).cycles
        readme = (folder / "README.md").read_text()
        assert image.sha256[:16] in readme
        assert f"mix_tick takes at most {cycles} cycles" in readme


def test_export_refuses_a_robot_that_does_not_fit(run: Run, tmp_path: Path) -> None:
    """With the wiring's reason, the key and what was found to help; nothing is written."""
    ran = run("export", CARRIER, "--board", "atmega328p", "-o", tmp_path / "out")
    assert ran.code == 2
    assert "robot.board: the robot does not fit the ATmega328P: 6 duties want a pin each" in ran.err
    assert "it fits the RP2040" in ran.err
    assert not (tmp_path / "out").exists()
    ran = run("export", CARRIER, "--board", "nosuch", "-o", tmp_path / "out")
    assert ran.code == 2
    assert "known boards: atmega328p, rp2040" in ran.err


def test_check_shows_the_wires_and_what_to_paste(run: Run) -> None:
    """Fits with the table and exit 0; does not fit with the reason and what helps; all boards in lines."""
    ran = run("check", TANK, "--board", "atmega328p")
    assert ran.code == 0, ran.err
    assert "on the ATmega328P (base): it fits" in ran.out
    assert '[stick.throttle]\npin = "D12"\n' in ran.out
    ran = run("check", PROFILES / "long_crawler.toml", "--board", "atmega328p")
    assert ran.code == 1
    assert "6 servo pulses want a pin each, and there are 2 pins that can have them: D9, D10" in ran.out
    assert "It fits the RP2040" in ran.out
    ran = run("check", TANK, "--board", "all", "--json")
    assert [(each["board"], each["fits"]) for each in ran.data["boards"]] == [
        ("atmega328p", True),
        ("rp2040", True),
    ]
    assert {wire["wire"] for wire in ran.data["boards"][0]["wires"]} >= {str(Use.SERVO), str(Use.TICK)}


def test_pins_that_cannot_be_are_told_with_what_can(run: Run, tmp_path: Path) -> None:
    """A profile without a board is held against the one that is asked for; exit 2 as for any mistake."""
    path = tmp_path / "crawler.toml"
    text = (PROFILES / "long_crawler.toml").read_text()
    path.write_text("\n".join(line for line in text.splitlines() if not line.startswith("board")) + "\n")
    ran = run("check", path, "--board", "atmega328p")
    assert ran.code == 2
    assert (
        f"{path}:48: output.left_front.pin: pin D2 of the ATmega328P cannot have a servo pulse" in ran.out
    )
    assert "6 servo pulses want a pin each" in ran.out
    ran = run("export", path, "--board", "atmega328p", "-o", tmp_path / "out")
    assert ran.code == 2
    assert "remedy: those that can: D9, D10" in ran.err
