"""What a firmware takes of its board, from the image that make builds."""

import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from mixer.board.kinds.known import BOARDS
from mixer.board.project.build import image_of_project
from mixer.board.project.burden import Burden, burden_of
from mixer.board.project.source import sources_of
from mixer.board.wiring.fit import Wiring, fit
from mixer.cli.main import main
from mixer.profile.profile import load_profile

PROFILES = Path(__file__).parents[2] / "profiles"


def of_tank(board: str) -> tuple[Burden, Wiring]:
    """The smallest robot's, with its wiring."""
    profile = load_profile(PROFILES / "tank_pair.toml")
    wiring = fit(profile, None, BOARDS[board])
    assert isinstance(wiring, Wiring)
    return burden_of(profile, None, wiring), wiring


@pytest.mark.needs_tool("avr-gcc")
def test_time_flash_and_ram_are_those_of_the_image(tmp_path: Path) -> None:
    """Flash and RAM as the compiler's own `avr-size` counts them; the mix's time with its interrupts."""
    burden, wiring = of_tank("atmega328p")
    profile = load_profile(PROFILES / "tank_pair.toml")
    files = sources_of(profile, None, wiring)
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    subprocess.run(["make", "-s", "-C", str(tmp_path)], check=True, timeout=110)
    said = subprocess.run(
        ["avr-size", str(tmp_path / "build" / "firmware.elf")],
        capture_output=True,
        text=True,
        check=True,
        timeout=20,
    )
    text_bytes, data, bss = map(int, said.stdout.splitlines()[1].split()[:3])
    assert burden.flash_bytes == text_bytes + data
    assert burden.ram_bytes == data + bss
    assert burden.fits
    assert burden.time is not None
    whole = burden.time.round
    assert whole is not None
    assert whole.cycles == whole.whole.cycles + 2 * wiring.channels * 46 + 25
    assert burden.time.cycles == burden.time.worst.cycles < whole.whole.cycles
    assert image_of_project(files, wiring.board).sha256 == burden.time.sha256


def test_without_a_compiler_it_says_what_was_not_checked(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Nothing is claimed, nothing fails, and what to install is told."""
    make = shutil.which("make")
    monkeypatch.setenv("PATH", str(tmp_path))
    if make is not None:
        monkeypatch.setenv("STICKWRIGHT_MAKE", make)
    burden, _ = of_tank("rp2040")
    assert burden.time is None
    assert list(burden.words()) == []
    assert burden.fits
    (said,) = burden.unknown
    assert said.startswith("time, flash and RAM were not checked")
    assert "apt-get install" in said


TOO_MUCH = """
__attribute__((naked, used, section(".init3"))) void too_much(void);
void too_much(void) { __asm__ volatile(".space 40000"); }
"""


@pytest.mark.needs_tool("avr-gcc")
def test_a_program_that_is_larger_than_flash_does_not_fit(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """The linker gives up then: that is no matter of a broken compiler, and nothing fits."""

    def larger(*given: Any, **named: Any) -> dict[str, str]:  # noqa: ANN401
        files = dict(sources_of(*given, **named))
        return files | {"main.c": files["main.c"] + TOO_MUCH}

    monkeypatch.setattr("mixer.board.project.burden.sources_of", larger)
    burden, wiring = of_tank("atmega328p")
    (said,) = burden.against()
    assert not burden.fits
    assert burden.unknown == ()
    assert re.match(r"the program is \d\d,\d{3} bytes too large for the board", said)
    tank = str(PROFILES / "tank_pair.toml")
    assert main(["check", tank, "--board", wiring.board.key]) == 1
    assert "so it does not fit the ATmega328P after all: the program is" in capsys.readouterr().out
    assert main(["export", tank, "--board", wiring.board.key, "-o", str(tmp_path / "out")]) == 0
    assert "it does not fit the ATmega328P: the program is" in capsys.readouterr().err


def test_what_goes_beyond_the_board_is_said() -> None:
    """Flash, RAM and time each; what is not known goes beyond nothing."""
    board = BOARDS["atmega328p"]
    assert list(Burden(board, None, 32_256, 2_048, ()).against()) == []
    assert list(Burden(board, None, 32_257, 2_049, ()).against()) == [
        "32,257 bytes of flash are wanted, and there are 32,256",
        "2,049 bytes of RAM are wanted, and there are 2,048",
    ]
    assert list(Burden(board, None, None, None, ("no compiler",)).against()) == []
