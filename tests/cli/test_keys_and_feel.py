"""`stickwright keys` and `stickwright feel` as a person and a program use them."""

import json
from pathlib import Path

from mixer.profile.feel.feelings import FEELINGS
from mixer.profile.keys.json_schema import json_schema
from mixer.profile.keys.listing import keys
from mixer.profile.profile import load_profile
from tests.cli.conftest import CARRIER, TANK, Run


def test_a_key_is_explained(run: Run) -> None:
    """Kind, unit, range, default, what it does, which figures it moves."""
    said = run("keys", "slew_up_ms").out
    assert "output.NAME.slew_up_ms\n    number in ms from 0 to 60000, default 0.0\n" in said
    assert "moves: sprint, half a turn, peak current (`size`); slewing (`replay`)" in said
    assert run("keys", "after_loss").out.count("re-arm, resume") == 1
    assert run("keys", "receiver.median").out.startswith(
        "receiver.median\n    true or false, default false\n"
    )
    (data,) = run("keys", "expo", "--json").data
    assert (data["key"], data["may_be"], data["moves"]) == (
        "shape.NAME.expo",
        "from -0.5 to 1",
        ["response"],
    )


def test_all_keys_stand_in_a_table(run: Run) -> None:
    """Without a word every key is listed; with one that many speak of, those."""
    assert len(run("keys", "--json").data) == len(keys()) > 150
    assert "battery.cells" in run("keys").out
    assert len(run("keys", "turn", "rate", "--json").data) > 8


def test_unknown_words_end_with_the_nearest(run: Run) -> None:
    """Exit 2, as for every input that cannot be used."""
    ran = run("keys", "exop")
    assert (ran.code, "did you mean 'expo'?" in ran.err) == (2, True)
    assert run("keys", "-o", "x").code == run("keys", "--schema", "expo").code == 2


def test_the_schema_is_printed_or_written(run: Run, tmp_path: Path) -> None:
    """On stdout as it is; into a file whole, and only over an earlier one of its own."""
    path = tmp_path / "schema.json"
    assert json.loads(run("keys", "--schema").out) == json_schema()
    for _ in range(2):
        assert run("keys", "--schema", "-o", path).code == 0
    assert json.loads(path.read_text(encoding="utf-8")) == json_schema()
    path.write_text("mine", encoding="utf-8")
    assert run("keys", "--schema", "-o", path).code == 2
    assert run("keys", "--schema", "-o", path, "--overwrite").code == 0


def test_feelings_are_listed_with_first_steps(run: Run) -> None:
    """All of them for this robot; where there is nothing to turn, that is said."""
    told = run("feel", TANK, "--json").data
    assert [each["words"] for each in told] == [feeling.words for feeling in FEELINGS]
    assert "nothing to turn here" in run("feel", TANK).out
    ran = run("feel", TANK, "tool")
    assert (ran.code, "this robot has no key for it" in ran.out) == (0, True)


def test_a_feeling_is_explained_and_its_step_written(run: Run, tmp_path: Path) -> None:
    """Which keys, from what to what, why and by what source; -o writes the profile with the step taken."""
    said = run("feel", CARRIER, "stops", "hard").out
    assert "output.left_front.slew_down_ms: 80 -> 380" in said
    assert "what shows it: " in said
    assert "source: " in said
    path = tmp_path / "softer.toml"
    assert run("feel", CARRIER, "stops", "hard", "-o", path).code == 0
    assert load_profile(path).robot().output["left_rear"].slew_down_ms == 380
    for words in (["pulls"], ["does not stop", "-o", CARRIER], ["stops too hard"]):
        assert run("feel", CARRIER, *words, *(["-o", path] if "-o" not in words else [])).code == 2


def test_unknown_feelings_end_with_the_nearest(run: Run) -> None:
    """As for keys."""
    ran = run("feel", TANK, "twichy")
    assert (ran.code, "did you mean 'twitchy'?" in ran.err) == (2, True)


def test_words_may_stand_behind_an_option(run: Run) -> None:
    """`feel PROFILE --loadout X twitchy` means what `feel PROFILE twitchy --loadout X` does."""
    words = ("--loadout", "bare", "twitchy", "at", "the", "centre")
    behind = run("feel", CARRIER, *words)
    assert (behind.code, behind.out) == (0, run("feel", CARRIER, *words[2:], *words[:2]).out)
    assert "no option" not in behind.err
    assert run("feel", CARRIER, "--bare", "twitchy").code == 2


def test_overlays_say_what_may_stand_in_them(run: Run) -> None:
    """Words that only a loadout, an operator or a spare receiver knows lead to it."""
    assert [key["key"] for key in run("keys", "remove", "--json").data] == ["loadout"]
    assert "frame_ms" in run("keys", "receiver.NAME").out
    assert "of each shape deadband, expo, rate" in run("keys", "operator").out
