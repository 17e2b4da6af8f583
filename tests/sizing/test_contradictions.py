"""Numbers of one profile that cannot all be true are told with both of them."""

from pathlib import Path

import pytest

from mixer.profile.profile import load_profile, parse_profile
from mixer.sizing.contradictions import contradictions

PROFILES = Path(__file__).parents[2] / "profiles"
CASES = {
    "stall_nm": ("sample_carrier", "stall_nm = 0.215", "stall_nm = 0.43", "0.43", "0.217"),
    "full_travel_ms": ("sample_carrier", "full_travel_ms = 6600", "full_travel_ms = 800", "800", "ms that"),
    "mass": ("sample_carrier", "mass_kg = 2.5\n", "mass_kg = 3.5\n", "6.4", "7.4"),
    "centre": ("sample_carrier", "at_m = [-0.15, 0.0, 0.15]", "at_m = [0.15, 0.0, 0.15]", "-20", "29"),
    "low_v": ("sample_carrier", "low_v = 9.9", "low_v = 11.9", "11.9", "11.5"),
    "never low": ("sample_carrier", "low_v = 9.9", "low_v = 7.0", "7", "9.75"),
    "gearing": ("long_crawler", "gear_ratio = 36", "gear_ratio = 36\ngear_torque_nm = 4", "4", "N·m"),
}


@pytest.mark.parametrize("name", CASES)
def test_both_numbers_are_told(name: str) -> None:
    """One value of an example changed: exactly what contradicts it is told, with both numbers."""
    robot, old, new, first, second = CASES[name]
    text = (PROFILES / f"{robot}.toml").read_text(encoding="utf-8")
    assert old in text
    said = list(contradictions(parse_profile(text.replace(old, new, 1), "changed.toml").robot()))
    assert said
    assert all(number in said[0] for number in (first, second)), said


@pytest.mark.parametrize("path", sorted(PROFILES.glob("*.toml")), ids=lambda path: path.stem)
def test_the_examples_do_not_contradict_themselves(path: Path) -> None:
    """In any loadout."""
    profile = load_profile(path)
    for loadout in (None, *profile.loadouts):
        assert list(contradictions(profile.robot(loadout))) == []
