"""`stickwright check` and `new`."""

from pathlib import Path

from tests.cli.conftest import CARRIER, PROFILES, Run


def test_every_example_robot_passes(run: Run) -> None:
    """Every profile we ship is fine in all its loadouts."""
    found = sorted(PROFILES.glob("*.toml"))
    assert len(found) >= 4
    for path in found:
        ran = run("check", path)
        assert ran.code == 0, ran.err
        assert "fine" in ran.out


def test_json_is_one_document_with_every_loadout(run: Run) -> None:
    """--json prints one document and nothing else."""
    ran = run("check", CARRIER, "--json", "--quiet")
    assert ran.code == 0
    assert [report["loadout"] for report in ran.data["loadouts"]][:2] == [None, "bare"]
    assert ran.data["loadouts"][1]["actuators"] == []
    assert ran.err == ""


def test_numbers_show_the_plan(run: Run) -> None:
    """--numbers lists the plan's integers with what they stand for."""
    ran = run("check", CARRIER, "--numbers")
    assert "stick.throttle.centre_us" in ran.out
    assert "guard.lost_ticks" in ran.out


def test_mistakes_are_listed_at_once_with_line_and_remedy(run: Run, tmp_path: Path) -> None:
    """A bad profile names every mistake with file, line, key and remedy, and ends with 2."""
    path = tmp_path / "bad.toml"
    path.write_text(
        '[robot]\nname = "x"\n[stick.a]\nreceiver = 1\nlow_us = 1600\n[shape.s]\nexpoo = 0.3\n'
        "[output.m]\npin = 1\nmix = { b = 1.0 }\n"
    )
    ran = run("check", path)
    assert ran.code == 2
    assert f"{path}:5: stick.a.low_us" in ran.err
    assert "did you mean" in ran.err
    assert "remedy:" in ran.err
    assert "Traceback" not in ran.err
    assert ran.out == ""


def test_new_writes_a_profile_that_passes(run: Run, tmp_path: Path) -> None:
    """The starter passes `check`, and an existing file is never overwritten."""
    path = tmp_path / "my_robot.toml"
    assert run("new", path).code == 0
    assert run("check", path).code == 0
    before = path.read_text()
    again = run("new", path)
    assert again.code == 2
    assert "exists already" in again.err
    assert path.read_text() == before


def test_unknown_loadout_names_the_nearest(run: Run) -> None:
    """A mistyped loadout is answered with the nearest one."""
    ran = run("check", CARRIER, "--loadout", "bear")
    assert ran.code == 2
    assert "did you mean 'bare'" in ran.err


def test_a_notice_of_many_combinations_is_told_once(run: Run, tmp_path: Path) -> None:
    """What holds in every combination is one line, not one for each."""
    text = (PROFILES / "tank_pair.toml").read_text(encoding="utf-8")
    drivers = "".join(f"[operator.{name}]\nshape.soft.expo = 0.{k}\n" for k, name in enumerate("abc", 1))
    part = '[[part]]\nname = "all"\nmass_kg = 0.77\nat_m = [0, 0, 0.04]\n'
    (tmp_path / "r.toml").write_text(text + drivers + part)
    ran = run("check", tmp_path / "r.toml")
    notes = [line for line in ran.err.splitlines() if "0.77" in line]
    assert len(notes) == 1, ran.err
    assert "(all 4): " in notes[0]
