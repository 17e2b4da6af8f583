"""`stickwright new`: what it writes is accepted by `check`, and nothing is ever written over."""

from pathlib import Path

import pytest

from mixer.examples.shipped import example_logs, example_names, example_path
from mixer.profile.profile import load_profile
from tests.cli.conftest import Run


@pytest.mark.parametrize("name", example_names())
def test_each_example_begins_a_robot_of_its_own(run: Run, tmp_path: Path, name: str) -> None:
    """All of it with its comments, but for the robot's name and the file that its comments speak of."""
    path = tmp_path / "my_robot.toml"
    assert run("new", "--like", name, path).code == 0
    assert load_profile(path).robot().robot.name == "my robot"
    was, now = (each.read_text(encoding="utf-8").splitlines() for each in (example_path(name), path))
    assert now[:2] == ["#:schema ./stickwright.schema.json", ""]
    differ = [line for line, new in zip(was, now[2:], strict=True) if line != new]
    assert all(line.startswith(("name = ", "#   stickwright ")) for line in differ)
    assert f"profiles/{name}" not in path.read_text(encoding="utf-8")
    checked = run("check", path)
    assert (checked.code, checked.err) == (0, "")


def test_recorded_drives_come_along(run: Run, tmp_path: Path) -> None:
    """Every log belongs to one robot; it is written beside the profile and replays there."""
    logs = {name: example_logs(name) for name in example_names()}
    folder = example_path("sample_carrier").parent / "logs"
    assert sorted(log for found in logs.values() for log in found) == sorted(folder.glob("*.csv"))
    made = run("new", "--like", "sample_carrier", tmp_path / "mine.toml", "--logs", "--json")
    assert made.code == 0
    assert [Path(log).name for log in made.data["logs"]] == [log.name for log in logs["sample_carrier"]]
    assert run("check", tmp_path / "mine.toml").code == 0
    assert run("calibrate", tmp_path / "carrier_sweeps.csv").code == 0


def test_what_cannot_be_begun_is_refused(run: Run, tmp_path: Path) -> None:
    """An unknown robot lists those there are; drives that are not there are no silent nothing."""
    path = tmp_path / "mine.toml"
    for words, said in (
        (["--like", "sampel_carrier"], "did you mean 'sample_carrier'? known robots: holonomic_trio, "),
        (["--like", "tank_pair", "--logs"], "there is no recorded drive of tank_pair"),
        (["--logs"], "name it with --like"),
        (["--like", "tank_pair", "--name", "-"], "cannot be a robot's name"),
    ):
        ran = run("new", path, *words)
        assert (ran.code, said in ran.err) == (2, True), ran.err
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_written_where_anything_stands(run: Run, tmp_path: Path) -> None:
    """Neither the profile nor a log replaces a file, and then none of them is written."""
    log = tmp_path / "carrier_sweeps.csv"
    log.write_text("mine", encoding="utf-8")
    ran = run("new", "--like", "sample_carrier", "--logs", tmp_path / "new.toml")
    assert (ran.code, "carrier_sweeps.csv exists already" in ran.err) == (2, True)
    assert [path.name for path in tmp_path.iterdir()] == [log.name]
    assert log.read_text(encoding="utf-8") == "mine"


def test_the_schema_beside_is_renewed_and_a_strangers_file_is_not(run: Run, tmp_path: Path) -> None:
    """Two robots in a folder share it; what is no schema of ours stays as it is."""
    schema = tmp_path / "stickwright.schema.json"
    assert run("new", tmp_path / "one.toml").code == 0
    first = schema.read_bytes()
    assert run("new", tmp_path / "two.toml").code == 0
    assert schema.read_bytes() == first
    schema.write_text("{}", encoding="utf-8")
    ran = run("new", tmp_path / "three.toml")
    assert (ran.code, "stickwright.schema.json" in ran.err) == (2, True)
    assert schema.read_text(encoding="utf-8") == "{}"
    assert not (tmp_path / "three.toml").exists()
