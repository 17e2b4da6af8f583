"""A compiled program for commands that take one."""

from pathlib import Path

from mixer.profile.profile import load_profile
from tests.boards.avr import build_avr
from tests.cli.conftest import TANK
from tests.lower.c_exports import write_export


def tank_program(folder: Path) -> Path:
    """The tank pair's mix for the ATmega328P, in a program that says which mix it is."""
    profile = load_profile(TANK)
    write_export(folder, profile.plan())
    source = folder / "mix.c"
    text = f'const char *volatile whose_mix = "{profile.fingerprint()}";\n'
    source.write_text(source.read_text(encoding="utf-8") + text, encoding="utf-8")
    return build_avr(folder)
