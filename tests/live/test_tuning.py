"""Values turned while the robot drives."""

import random
from pathlib import Path

import pytest

from mixer.errors import StickwrightError
from mixer.examples.shipped import example_path
from mixer.live.bench.session import open_session
from mixer.live.tuning.trying import try_out
from mixer.profile.edit.differences import Change
from mixer.profile.feel.advice import advice
from mixer.profile.feel.feelings import find_feelings
from mixer.profile.journal import entries
from mixer.profile.profile import load_profile
from tests.lengths import cases
from tests.live.benches import AtOnce, Bench


def test_a_value_is_felt_at_the_next_tick(bench: Bench) -> None:
    """A limit halved while driving at full halves the command in the very next tick."""
    bench.arm()
    bench.session.sticks.turn("pace", 2)
    bench.session.sticks.set("throttle", 1.0)
    before = bench.run(1.0)
    assert before.outputs[0].command > 8192
    assert bench.session.tuning.set("output.left_front.limit", 0.5) == ""
    after = bench.session.step(1)
    assert after.tick == before.tick + 1
    assert after.outputs[0].command == 8192
    assert after.outputs[1].command == before.outputs[1].command
    assert after.plan_revision > before.plan_revision
    assert bench.words("edit") == ["output.left_front.limit: 1 -> 0.5"]


def test_a_refused_value_says_why_and_changes_nothing(bench: Bench) -> None:
    """Text, plan and undo list stay; the words hold value and remedy; the next edit clears them."""
    tuning, text = bench.session.tuning, bench.session.tuning.profile.text
    plan = bench.session.robot.plan
    said = tuning.set("shape.soft.expo", 3.0)
    assert "3" in said
    assert ":" in said
    assert (tuning.profile.text, bench.session.robot.plan) == (text, plan)
    assert tuning.view().refused == said
    assert tuning.view().undo == 0
    assert "cannot be tuned" in tuning.set("robot.name", "other")
    assert "260" in tuning.set("guard.lost_after_ms", 900.0)
    assert tuning.set("shape.soft.expo", 0.3) == ""
    assert tuning.view().refused == ""


@pytest.mark.parametrize("seed", cases([0], [1, 2]))
def test_any_edits_can_be_undone_to_the_bytes_of_the_file(bench: Bench, seed: int) -> None:
    """After random edits, undoing all gives the file's bytes and plan, redoing all the last text."""
    rng = random.Random(seed)
    tuning = bench.session.tuning
    original, plan = tuning.profile.text, bench.session.robot.plan
    for _ in range(25):
        knob = rng.choice([knob for knob in tuning.knobs if knob.kind == "number"])
        tuning.set(knob.key, round(rng.uniform(knob.low, knob.reach), 3), drag=rng.random() < 0.2)
        bench.session.step(rng.randint(0, 20))
    last = tuning.profile.text
    assert tuning.view().undo > 0
    while tuning.undo():
        bench.session.step(1)
    assert tuning.profile.text == original
    assert bench.session.robot.plan == plan
    assert tuning.edits() == ()
    while tuning.redo():
        pass
    assert tuning.profile.text == last


def test_two_sides_are_kept_apart(bench: Bench) -> None:
    """A and B have values and undo of their own; a swap changes over; one can be copied to the other."""
    tuning = bench.session.tuning
    tuning.set("shape.soft.expo", 0.9)
    assert tuning.swap() == "B"
    assert tuning.value("shape.soft.expo") == 0.4
    assert tuning.view().undo == 0
    tuning.set("shape.soft.expo", 0.1)
    assert tuning.swap() == "A"
    assert tuning.value("shape.soft.expo") == 0.9
    tuning.copy_across()
    tuning.swap()
    assert tuning.value("shape.soft.expo") == 0.9
    tuning.undo()
    assert tuning.value("shape.soft.expo") == 0.1


def test_what_changed_since_the_file_is_listed(bench: Bench) -> None:
    """Key, was, now; none once it is back; a value the file does not hold was not set."""
    tuning = bench.session.tuning
    tuning.set("output.left_front.gain", 0.9)
    tuning.set("guard.lost_after_ms", 200.0)
    found = [(change.key, change.was, change.now) for change in tuning.edits()]
    assert found == [("output.left_front.gain", None, 0.9), ("guard.lost_after_ms", 250, 200)]
    assert tuning.view().changed == 2
    assert tuning.reset("output.left_front.gain") == ""
    tuning.reset("guard.lost_after_ms")
    assert tuning.edits() == ()


def test_saving_keeps_comments_and_a_backup(bench: Bench) -> None:
    """The file differs in that one line; the backup is the file as it was; undo still works after it."""
    before = bench.path.read_text(encoding="utf-8")
    tuning = bench.session.tuning
    tuning.set("shape.soft.expo", 0.55)
    backup = tuning.save()
    assert backup is not None
    assert backup.read_text(encoding="utf-8") == before
    after = bench.path.read_text(encoding="utf-8")
    pairs = zip(before.split("\n"), after.split("\n"), strict=True)
    assert [(old, new) for old, new in pairs if old != new] == [("expo = 0.4", "expo = 0.55")]
    assert load_profile(bench.path).robot().shape["soft"].expo == 0.55
    (entry,) = entries(bench.path, 5)
    assert entry.fingerprint == load_profile(bench.path).fingerprint()
    assert entry.what == "saved from the bench: shape.soft.expo: 0.4 -> 0.55"
    assert tuning.view().saved
    tuning.undo()
    assert [(change.was, change.now) for change in tuning.edits()] == [(0.55, 0.4)]


def test_the_other_side_follows_what_is_saved_unless_it_was_edited(bench: Bench) -> None:
    """After an ordinary save nothing is unsaved on either side; a side with edits of its own keeps them."""
    tuning = bench.session.tuning
    tuning.set("shape.soft.expo", 0.55)
    assert (tuning.view().changed, tuning.view().elsewhere, tuning.view().saved) == (1, 0, False)
    tuning.save()
    assert tuning.view().saved
    tuning.swap()
    assert tuning.value("shape.soft.expo") == 0.55
    tuning.set("shape.soft.rate", 0.6)
    tuning.swap()
    assert (tuning.view().changed, tuning.view().elsewhere, tuning.view().saved) == (0, 1, False)
    tuning.set("shape.dash.expo", 0.2)
    tuning.save()
    assert [(change.key, change.now) for change in tuning.edits("B")] == [
        ("shape.soft.rate", 0.6), ("shape.dash.expo", 0.3),
    ]  # fmt: skip
    assert not tuning.view().saved


def test_an_edit_in_one_loadout_counts_in_all(tmp_path: Path) -> None:
    """What a loadout's own tables say differently is unsaved whichever loadout is looked at."""
    bench = Bench(tmp_path, loadout="long_tray")
    bench.session.tuning.set("actuator.tray_left.full_travel_ms", 9000.0)
    bench.session.change_loadout(None)
    assert bench.session.tuning.view().changed == 1
    assert not bench.session.tuning.view().saved


def test_a_value_typed_back_leaves_nothing_unsaved(bench: Bench) -> None:
    """Undone by hand, or put back where the file said nothing, the text is the file's."""
    tuning = bench.session.tuning
    tuning.set("output.left_front.gain", 0.9)
    tuning.reset("output.left_front.gain")
    tuning.set("shape.soft.expo", 0.9)
    tuning.set("shape.soft.expo", 0.4)
    assert tuning.profile.text == bench.path.read_text(encoding="utf-8")
    assert tuning.view().saved


def test_a_change_on_the_disk_is_seen_and_can_be_taken_under_the_edits(bench: Bench) -> None:
    """Another program's value and comment come in, ours stay on top of them, one undo takes all back."""
    tuning = bench.session.tuning
    tuning.set("shape.soft.expo", 0.55)
    tuning.swap()
    tuning.set("shape.dash.expo", 0.1)
    tuning.swap()
    edited = tuning.profile.text
    assert tuning.file.look() == ""
    theirs = bench.path.read_text(encoding="utf-8").replace("rate = 0.75", "rate = 0.5") + "# theirs\n"
    bench.path.write_text(theirs, encoding="utf-8")
    assert tuning.file.look() == "changed"
    assert tuning.view().file == "changed"
    assert tuning.reload() == ()
    assert tuning.file.look() == ""
    assert (tuning.value("shape.soft.expo"), tuning.value("shape.soft.rate")) == (0.55, 0.5)
    assert [change.key for change in tuning.edits("A")] == ["shape.soft.expo"]
    assert [change.key for change in tuning.edits("B")] == ["shape.dash.expo"]
    tuning.undo()
    assert tuning.profile.text == edited
    tuning.redo()
    tuning.save()
    after = bench.path.read_text(encoding="utf-8")
    assert "# theirs" in after
    assert "rate = 0.5" in after
    assert "expo = 0.55" in after


def test_what_no_longer_fits_a_changed_file_is_told(tmp_path: Path) -> None:
    """Edits of a thing that is gone are given back; the file is taken, and undo finds them again."""
    bench = Bench(tmp_path, loadout="long_tray")
    tuning = bench.session.tuning
    tuning.set("actuator.tray_left.full_travel_ms", 9000.0)
    text = bench.path.read_text(encoding="utf-8")
    bench.path.write_text(text[: text.index("[loadout.long_tray]")], encoding="utf-8")
    with pytest.raises(StickwrightError, match="has no loadout 'long_tray'"):
        tuning.reload()
    bench.session.change_loadout(None)
    assert [change.now for change in tuning.reload()] == [9000]
    assert tuning.view().saved
    tuning.undo()
    assert "9000" in tuning.profile.text


def test_a_file_that_is_no_profile_any_more_is_not_taken(bench: Bench) -> None:
    """Half a file, or none: the refusal names it, and the robot drives on with what it has."""
    tuning = bench.session.tuning
    tuning.set("shape.soft.expo", 0.55)
    bench.path.write_text("[robot", encoding="utf-8")
    assert tuning.file.look() == "changed"
    with pytest.raises(StickwrightError, match="not TOML"):
        tuning.reload()
    bench.path.unlink()
    assert tuning.file.look() == "gone"
    assert tuning.value("shape.soft.expo") == 0.55
    tuning.save()
    assert (tuning.file.look(), load_profile(bench.path).robot().shape["soft"].expo) == ("", 0.55)


def test_saving_under_another_name_takes_no_file_that_is_there(bench: Bench) -> None:
    """Not even with a backup: the name is somebody else's."""
    other = bench.path.with_name("other.toml")
    other.write_text("mine", encoding="utf-8")
    with pytest.raises(StickwrightError, match="there already"):
        bench.session.tuning.save(other)
    assert other.read_text(encoding="utf-8") == "mine"


def test_a_file_changed_meanwhile_is_not_overwritten(bench: Bench) -> None:
    """The refusal leaves the other's file and our edits."""
    bench.session.tuning.set("shape.soft.expo", 0.55)
    bench.path.write_text(bench.path.read_text(encoding="utf-8") + "# theirs\n", encoding="utf-8")
    with pytest.raises(StickwrightError, match="changed by another program"):
        bench.session.tuning.save()
    assert bench.session.tuning.value("shape.soft.expo") == 0.55
    other = bench.path.with_name("mine.toml")
    bench.session.tuning.save(other)
    assert load_profile(other).robot().shape["soft"].expo == 0.55


def test_a_loadout_is_tuned_in_its_own_tables(tmp_path: Path) -> None:
    """What the loadout says itself is changed there, what it takes from the base in the base."""
    bench = Bench(tmp_path, loadout="long_tray")
    tuning = bench.session.tuning
    assert tuning.set("actuator.tray_left.full_travel_ms", 9000.0) == ""
    assert tuning.set("shape.soft.expo", 0.7) == ""
    saved = tuning.profile
    assert saved.robot("long_tray").actuator["tray_left"].full_travel_ms == 9000
    assert saved.robot().actuator["tray_left"].full_travel_ms == 6600
    assert saved.robot().shape["soft"].expo == 0.7
    bench.session.close()


def test_no_stick_left_in_any_mix_is_taken_in_stride(bench: Bench) -> None:
    """With its last weight at zero a stick leaves the plan, and comes back with it."""
    bench.arm()
    tuning = bench.session.tuning
    for side in ("left", "right"):
        assert tuning.set(f"output.tray_{side}.mix.throttle", 0.2) == ""
        assert tuning.set(f"output.tray_{side}.mix.tip", 0.0) == ""
    assert "tip" not in [source.name for source in bench.run(0.2).sources]
    tuning.undo()
    assert "tip" in [source.name for source in bench.run(0.2).sources]
    assert bench.words("rule") == []


def test_a_step_is_tried_as_b_against_a(bench: Bench) -> None:
    """A is the tuning as it was, edits included; B has the step on top and drives."""
    tuning = bench.session.tuning
    assert tuning.set("shape.tray.expo", 0.1) == ""
    before = tuning.profile.text
    (feeling,) = find_feelings("tool hard")
    step = advice(tuning.profile, tuning.loadout, feeling)[0]
    assert try_out(tuning, step.moves) == ""
    assert (tuning.view().side, tuning.value("shape.tray.expo")) == ("B", step.moves[0].now)
    assert [str(change) for change in tuning.edits("A")] == ["shape.tray.expo: not set -> 0.1"]
    assert (tuning.swap(), tuning.profile.text) == ("A", before)
    assert tuning.swap() == "B"
    assert tuning.undo() == "tried out"
    assert tuning.value("shape.tray.expo") == 0.0


def test_what_was_on_the_other_side_comes_back(bench: Bench) -> None:
    """From B as well A becomes what was driven; what A held before is one undo away."""
    tuning = bench.session.tuning
    assert tuning.set("shape.dash.expo", 0.9) == ""
    assert tuning.swap() == "B"
    assert tuning.set("shape.dash.expo", 0.5) == ""
    assert try_out(tuning, [Change("shape.dash.expo", 0.5, 0.65)]) == ""
    assert tuning.value("shape.dash.expo") == 0.65
    assert (tuning.swap(), tuning.value("shape.dash.expo")) == ("A", 0.5)
    assert tuning.undo() == "tried out"
    assert tuning.value("shape.dash.expo") == 0.9


def test_a_loadouts_own_value_is_tried_where_it_stands(tmp_path: Path) -> None:
    """What a loadout says otherwise is turned in the loadout, and the base robot stays."""
    path = tmp_path / "carrier.toml"
    text = example_path("sample_carrier").read_text(encoding="utf-8")
    path.write_text(f"{text}\n[loadout.calm]\nguard.arm_hold_ms = 900\n", encoding="utf-8")
    tuning = open_session(path, now_s=0.0, loadout="calm", worker=AtOnce(), state_folder=tmp_path).tuning
    (feeling,) = find_feelings("live")
    assert try_out(tuning, advice(tuning.profile, "calm", feeling)[0].moves) == ""
    assert [str(change) for change in tuning.edits()] == ["loadout.calm.guard.arm_hold_ms: 900 -> 540"]
