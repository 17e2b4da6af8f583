"""A compiled program for commands that take one."""

from pathlib import Path

from mixer.lower.c.export import export_files
from mixer.profile.profile import load_profile
from tests.boards.avr import build_avr
from tests.cli.conftest import TANK


def tank_program(folder: Path, *flags: str) -> Path:
    """A program for the ATmega328P around the tank pair's mix as it is exported."""
    profile = load_profile(TANK)
    for name, text in export_files(profile.plan(), profile.fingerprint()).items():
        (folder / name).write_text(text, encoding="utf-8")
    return build_avr(folder, "-O2", *flags)
