"""What a firmware takes of its board, from the image that make builds."""

import shutil
import subprocess
from pathlib import Path

import pytest

from mixer.board.kinds.known import BOARDS
from mixer.board.project.build import image_of_project
from mixer.board.project.burden import Burden, burden_of
from mixer.board.project.source import sources_of
from mixer.board.wiring.fit import Wiring, fit
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
