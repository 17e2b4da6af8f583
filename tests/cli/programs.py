"""A compiled program for commands that take one."""

from pathlib import Path

from mixer.profile.profile import load_profile
from tests.boards.avr import build_avr
from tests.cli.conftest import TANK
from tests.lower.c_exports import write_mix


def tank_program(folder: Path, *flags: str) -> Path:
    """A program for the ATmega328P around the tank pair's mix as it is exported."""
    profile = load_profile(TANK)
    write_mix(folder, profile.plan(), profile.fingerprint())
    return build_avr(folder, "-O2", *flags)
