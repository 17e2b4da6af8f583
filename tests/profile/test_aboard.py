"""What is known of a mix by the twelve digits that a board tells."""

import json
import shutil
from pathlib import Path

import pytest

from mixer.errors import WriteError
from mixer.examples.shipped import example_path
from mixer.profile.aboard import Runs, Tunings, aboard, moving
from mixer.profile.exported import export_with, exported_of, keep
from mixer.profile.journal import entries, journal_of, note
from mixer.profile.profile import Profile, load_profile, parse_profile


@pytest.fixture
def carrier(tmp_path: Path) -> Path:
    """A copy of the carrier that is nobody's example."""
    return Path(shutil.copy(example_path("sample_carrier"), tmp_path / "mine.toml"))


def turned(profile: Profile, old: str = "expo = 0.2", new: str = "expo = 0.3") -> Profile:
    """The profile with one value turned."""
    assert old in profile.text
    return parse_profile(profile.text.replace(old, new), "edited")


def test_the_tuning_in_use_is_known(carrier: Path) -> None:
    """Equal fingerprints: nothing has changed, nothing is to be done."""
    profile = load_profile(carrier)
    known = aboard(Tunings(profile, "bare"), profile.fingerprint("bare"))
    assert (known.runs, known.remedy(), known.plan) == (Runs.THIS, "", profile.plan("bare"))


def test_an_edit_makes_it_the_one_before(carrier: Path) -> None:
    """What is in the profile's file, and what has been turned since."""
    profile = load_profile(carrier)
    edited = turned(profile)
    known = aboard(Tunings(edited, None, (("the file", profile),)), profile.fingerprint())
    assert (known.runs, known.what) == (Runs.OTHER, "the file")
    assert list(map(str, known.changes)) == ["shape.crawl.expo: 0.2 -> 0.3"]
    assert known.words().endswith(f"in use is {edited.fingerprint()}; since then: {known.changes[0]}")
    assert known.plan == profile.plan()


def test_another_loadout_is_named(carrier: Path) -> None:
    """Which one it is; what differs between loadouts is no change."""
    profile = load_profile(carrier)
    known = aboard(Tunings(profile), profile.fingerprint("bare"))
    assert (known.runs, known.changes, known.plan) == (Runs.OTHER, (), profile.plan("bare"))
    assert "loadout bare of this profile, and not base robot" in known.words()
    back = aboard(Tunings(profile, "bare"), profile.fingerprint())
    assert "base robot of this profile, and not loadout bare" in back.words()


def test_an_export_is_known_by_its_values(carrier: Path, tmp_path: Path) -> None:
    """When, in which loadout, what has changed since, and the very plan to compare the board with."""
    old = load_profile(carrier)
    keep(old, "bare", tmp_path / "mix")
    carrier.write_text(turned(turned(old), "mass_kg = 6.4", "mass_kg = 6.5").text, encoding="utf-8")
    known = aboard(Tunings(load_profile(carrier), "bare"), old.fingerprint("bare"))
    assert known.runs is Runs.OLDER
    assert known.what.startswith("exported 20")
    assert [change.key for change in known.changes] == ["shape.crawl.expo"], (
        "the mass is no matter of the mix"
    )
    assert known.plan == old.plan("bare")
    other = aboard(Tunings(load_profile(carrier)), old.fingerprint("bare"))
    assert "as loadout bare, and not base robot" in other.what


def test_of_an_export_of_another_version_no_plan_is_claimed(carrier: Path, tmp_path: Path) -> None:
    """The values give another fingerprint now: they are told, and compared with nothing."""
    old = load_profile(carrier)
    keep(old, None, tmp_path / "mix")
    place = exported_of(carrier)
    place.write_text(place.read_text().replace(old.fingerprint(), "0123456789ab"))
    known = aboard(Tunings(old), "0123456789ab")
    assert (known.runs, known.plan, known.changes) == (Runs.OLDER, None, ())
    assert "another version of Stickwright" in known.what


def test_where_no_values_are_kept_the_journal_has_the_word(carrier: Path) -> None:
    """The line with the fingerprint, and what was saved or written by hand after it."""
    note(carrier, "0123456789ab", "saved from the bench: expo 0.1 -> 0.2")
    note(carrier, "0123456789ab", "pit, base robot: READY")
    note(carrier, "ba9876543210", "saved from the bench: trim 0 -> 0.1")
    with journal_of(carrier).open("a") as file:
        file.write("new wheels\n")
    known = aboard(Tunings(load_profile(carrier)), "0123456789ab")
    assert known.runs is Runs.OLDER
    assert "pit, base robot: READY" in known.what
    assert [words.partition("saved")[2] for words in known.noted] == [" from the bench: trim 0 -> 0.1", ""]
    assert known.noted[1] == "new wheels"


def test_what_nobody_knows_is_said_to_be_unknown(carrier: Path) -> None:
    """No guess, and a remedy."""
    known = aboard(Tunings(load_profile(carrier)), "0123456789ab")
    assert (known.runs, known.plan) == (Runs.UNKNOWN, None)
    assert "of which nothing is known here" in known.words()
    assert "0123456789ab" in known.remedy()


def test_a_change_counts_where_the_mix_goes_by_it() -> None:
    """Two keys that only together move the mix are both told; a mass is not."""
    profile = load_profile(example_path("sample_carrier"))
    before, after = profile.tables(), turned(profile, "mass_kg = 6.4", "mass_kg = 6.5").tables()
    assert moving(before, after) == ()
    quicker = turned(profile, "tick_ms = 2", "tick_ms = 4").tables()
    assert [change.key for change in moving(before, quicker)] == ["robot.tick_ms"]


def test_one_value_that_became_a_table_is_one_change() -> None:
    """A shape by name where a switch chose among three: neither form hides the other."""
    profile = load_profile(example_path("sample_carrier"))
    chosen = 'shape = { switch = "pace", crawl = "crawl", walk = "soft", dash = "dash" }'
    plain = turned(profile, f"{chosen}\n\n[stick.steering]", 'shape = "soft"\n\n[stick.steering]')
    there, back = moving(profile.tables(), plain.tables()), moving(plain.tables(), profile.tables())
    assert list(map(str, there)) == ["stick.throttle.shape: a table of its own -> soft"]
    assert list(map(str, back)) == ["stick.throttle.shape: soft -> a table of its own"]


def test_exports_are_kept_once_and_read_leniently(carrier: Path, tmp_path: Path) -> None:
    """The same export again adds a line to the journal alone; broken lines are passed over."""
    profile = load_profile(carrier)
    for _ in range(2):
        keep(profile, None, tmp_path / "mix")
    lines = exported_of(carrier).read_text().splitlines()
    assert len(lines) == 1
    assert [entry.what for entry in entries(carrier, 9)] == [
        f"exported, base robot, to {tmp_path / 'mix'}"
    ] * 2
    broken = ["{", "[]", '{"at": 1}', json.dumps({**json.loads(lines[0]), "tables": 3}), "\xff" * 9]
    broken += [
        json.dumps({**json.loads(lines[0]), "wired": wired})
        for wired in (3, [], {}, {"board": "rp2040", "fingerprint": "0", "settings": 3})
    ]
    exported_of(carrier).write_text("\n".join([*lines, *broken]), encoding="latin-1")
    found = export_with(carrier, profile.fingerprint())
    assert found is not None
    assert found.tables == json.loads(lines[0])["tables"]
    assert export_with(tmp_path / "none.toml", profile.fingerprint()) is None


def test_nothing_is_kept_beside_the_shipped_robots(tmp_path: Path) -> None:
    """They are nobody's own, and may lie where nobody may write."""
    path = example_path("tank_pair")
    keep(load_profile(path), None, tmp_path)
    assert not exported_of(path).exists()
    assert not journal_of(path).exists()


def test_a_place_that_takes_nothing_says_so(carrier: Path, tmp_path: Path) -> None:
    """A full disk is an error with its remedy."""
    exported_of(carrier).symlink_to("/dev/full")
    with pytest.raises(WriteError, match="make room on the disk"):
        keep(load_profile(carrier), None, tmp_path)
