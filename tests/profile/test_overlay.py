"""Loadouts: what they take out, lay over and leave alone, and what is refused in them."""

import re
import tomllib
from pathlib import Path

import pytest

from mixer.profile.profile import parse_profile
from mixer.profile.read.overlay import with_loadout
from tests.profile.texts import BASE, assert_only, refusals


def test_values_replace_and_tables_merge() -> None:
    """A loadout changes what it names and nothing beside it; the base stays as it was."""
    base = {"a": {"x": {"m": 1, "n": 2}}, "b": 3}
    result = with_loadout(base, {"a": {"x": {"n": 5}, "y": {"m": 0}}, "c": {"z": 1}})

    assert result == {"a": {"x": {"m": 1, "n": 5}, "y": {"m": 0}}, "b": 3, "c": {"z": 1}}
    assert base == {"a": {"x": {"m": 1, "n": 2}}, "b": 3}


def test_removal_comes_first() -> None:
    """What is removed and named again is made anew, without the old keys."""
    assert with_loadout({"a": {"x": {"m": 1}}}, {"remove": ["a.x"], "a": {"x": {"n": 2}}}) == {
        "a": {"x": {"n": 2}}
    }


def test_single_keys_and_parts_can_be_removed() -> None:
    """A path of any depth may be taken out, and a part by its name."""
    base = {"output": {"l": {"mix": {"a": 1, "b": 2}}}, "part": [{"name": "p"}, {"name": "q"}]}

    assert with_loadout(base, {"remove": ["output.l.mix.a", "part.p"]}) == {
        "output": {"l": {"mix": {"b": 2}}},
        "part": [{"name": "q"}],
    }


def test_parts_replace_their_namesakes_and_join_the_rest() -> None:
    """A loadout's part takes the place of the base's part of that name."""
    base = {"part": [{"name": "p", "mass_kg": 1}, {"name": "q"}]}

    result = with_loadout(base, {"part": [{"name": "p", "mass_kg": 2}, {"name": "r"}]})
    assert result == {"part": [{"name": "q"}, {"name": "p", "mass_kg": 2}, {"name": "r"}]}


def test_a_choice_is_replaced_whole() -> None:
    """Shapes by another switch do not keep the positions of the first one."""
    base = {"stick": {"s": {"shape": {"switch": "pace", "slow": "soft"}}}}
    over = {"stick": {"s": {"shape": {"switch": "arm", "on": "soft"}}}}

    assert with_loadout(base, over) == over


def test_unused_channels_are_left_out_and_said() -> None:
    """A stick that feeds nothing is no channel of the plan, and a notice says so."""
    profile = parse_profile(BASE + '[loadout.bare]\nremove = ["output.tray", "actuator.tray"]\n', "p.toml")

    assert [channel.name for channel in profile.plan("bare").channels] == ["steering", "throttle", "arm"]
    assert profile.plan("bare").contacts == ()
    assert profile.notices("bare") == (
        "stick.tip: nothing uses it, so it is left out and its wire is not watched",
        "switch.pace: nothing uses it, so it is left out and its wire is not watched",
        "contact.out: nothing uses it, so it is left out and its wire is not watched",
        "contact.in: nothing uses it, so it is left out and its wire is not watched",
    )


CASES = tomllib.loads(Path(__file__).with_name("wrong_loadouts.toml").read_text(encoding="utf-8"))["case"]


@pytest.mark.parametrize("case", CASES, ids=lambda case: str(case["new"]).strip())
def test_mistakes_in_a_loadout_are_placed_where_they_stand(case: dict[str, str]) -> None:
    """A problem names its loadout, and the line of the loadout's own key or of the base's."""
    found = refusals(BASE + case["new"])

    assert any(said.startswith(case["begins"]) for said in found), found


def test_a_mistake_of_the_base_is_said_once() -> None:
    """A loadout does not repeat what is wrong with the base robot."""
    text = BASE.replace("pin = 6\n", "pin = 5\n") + "[loadout.a]\n[loadout.b]\n"

    assert_only(
        text, re.escape("p.toml:20: output.right.pin: pin 5 is already taken by output.left | ") + ".*"
    )
