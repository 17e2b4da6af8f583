"""`stickwright export`."""

import subprocess
from pathlib import Path

import pytest

from mixer.lower.c.program import header_text
from mixer.profile.exported import export_with, exported_of
from mixer.profile.journal import journal_of
from mixer.profile.profile import load_profile
from tests.cli.conftest import CARRIER, PROFILES, TANK, Run

TRIO = PROFILES / "holonomic_trio.toml"
FILES = ["mix.h", "mix.c", "vectors.csv", "check.c", "README.md"]


@pytest.mark.needs_tool("gcc")
def test_an_export_checks_itself_as_its_readme_says(run: Run, tmp_path: Path) -> None:
    """All files carry the profile's fingerprint, and the README's command finds no difference."""
    folder = tmp_path / "new" / "mix"
    ran = run("export", CARRIER, "-o", folder)
    assert ran.code == 0, ran.err
    fingerprint = load_profile(CARRIER).fingerprint()
    assert fingerprint in ran.out
    assert sorted(path.name for path in folder.iterdir()) == sorted(FILES)
    for name in ("mix.h", "mix.c", "check.c", "README.md"):
        assert fingerprint in (folder / name).read_text(encoding="utf-8")
    line = next(
        line.strip()
        for line in (folder / "README.md").read_text(encoding="utf-8").splitlines()
        if line.startswith("    cc ")
    )
    done = subprocess.run(line, shell=True, cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "0 numbers differ" in done.stdout


def test_a_loadout_is_another_mix_with_another_fingerprint(run: Run, tmp_path: Path) -> None:
    """--loadout exports that loadout: no actuator's wire is left in it."""
    base = load_profile(CARRIER)
    bare = run("export", CARRIER, "--loadout", "bare", "-o", tmp_path / "bare", "--json", "--quiet")
    assert bare.data["files"] == FILES
    assert bare.data["fingerprint"] == base.fingerprint("bare") != base.fingerprint()
    assert "wire_tray_left" in header_text(base.plan(), base.fingerprint())
    assert "wire_tray_left" not in (tmp_path / "bare" / "mix.h").read_text(encoding="utf-8")


def test_an_export_replaces_an_export_and_nothing_else(run: Run, tmp_path: Path) -> None:
    """Writing twice is fine; a README of somebody else stops it before anything is written."""
    assert run("export", TANK, "-o", tmp_path / "mix").code == 0
    assert run("export", TRIO, "-o", tmp_path / "mix").code == 0
    own = tmp_path / "own"
    own.mkdir()
    (own / "README.md").write_text("# My robot\n")
    ran = run("export", TANK, "-o", own)
    assert ran.code == 2
    assert "README.md is there already and was not written by this command" in ran.err
    assert "move it away, or add --overwrite" in ran.err
    assert [path.name for path in own.iterdir()] == ["README.md"]


def test_a_folder_that_cannot_be_is_told(run: Run, tmp_path: Path) -> None:
    """A file where the folder should be: exit code 2 and a remedy, no traceback."""
    (tmp_path / "taken").write_text("")
    ran = run("export", TANK, "-o", tmp_path / "taken" / "mix")
    assert ran.code == 2
    assert "cannot be written" in ran.err
    assert "remedy:" in ran.err


def test_what_is_exported_is_kept_beside_the_profile(run: Run, tmp_path: Path) -> None:
    """Its values and a line in the journal; a place that takes neither is told, and is no failure."""
    mine = tmp_path / "mine.toml"
    mine.write_text(TANK.read_text(encoding="utf-8"), encoding="utf-8")
    assert run("export", mine, "-o", tmp_path / "mix").code == 0
    assert export_with(mine, load_profile(mine).fingerprint()) is not None
    assert f"to {tmp_path / 'mix'}" in journal_of(mine).read_text()
    exported_of(mine).unlink()
    exported_of(mine).symlink_to("/dev/full")
    ran = run("export", mine, "-o", tmp_path / "again")
    assert ran.code == 0
    assert "not kept beside the profile, so nobody can say later what has changed" in ran.err
