"""`stickwright size`, physics in `replay`, and the drift run of `calibrate`."""

import csv
from pathlib import Path

import pytest

from tests.cli.conftest import CARRIER, PROFILES, TANK, Run
from tests.lengths import cases


@pytest.mark.parametrize("name", cases(["tank_pair"], ["sample_carrier", "holonomic_trio", "long_crawler"]))
def test_every_example_robot_gets_its_page(run: Run, name: str) -> None:
    """Each shipped robot has speeds, currents, charge and mass on its page, none over its limit."""
    ran = run("size", PROFILES / f"{name}.toml")
    assert ran.code == 0, ran.out
    for words in ("top speed", "push", "stalled", "charge used", "mass", "no certificate"):
        assert words in ran.out


def test_an_exceeded_limit_fails(run: Run, tmp_path: Path) -> None:
    """A robot over its class limit ends with 1 and says OVER."""
    path = tmp_path / "heavy.toml"
    text = TANK.read_text()
    assert "class_limit_kg = 1.5" in text
    path.write_text(text.replace("class_limit_kg = 1.5", "class_limit_kg = 1.0"))
    ran = run("size", path)
    assert ran.code == 1
    assert "OVER" in ran.out


def test_a_recorded_drive_can_be_the_match(run: Run, rough: Path) -> None:
    """--log judges by a recorded drive, which is gentler or harder than the typical cycle."""
    typical = run("size", TANK, "--json", "-q").data
    recorded = run("size", TANK, "--log", rough, "--json", "-q").data
    charge = [
        next(f["value"] for f in page["findings"] if f["key"] == "charge") for page in (typical, recorded)
    ]
    assert charge[0] != charge[1]
    assert all(0 < used < 100 for used in charge)


def test_another_motor_is_compared_side_by_side(run: Run, tmp_path: Path) -> None:
    """--instead-of shows what a motor of half the resistance brings; unknown motors name the nearest."""
    text = TANK.read_text()
    motor = text[text.index("[motor.gearmotor]") : text.index("\n[", text.index("[motor.gearmotor]") + 1)]
    path = tmp_path / "two.toml"
    path.write_text(text + "\n" + motor.replace("[motor.gearmotor]", "[motor.other]") + "\n")
    ran = run("size", path, "--instead-of", "gearmotor", "other")
    assert ran.code == 0, ran.err
    assert "top speed" in ran.out
    ran = run("size", path, "--instead-of", "gearmoter", "other")
    assert ran.code == 2
    assert "did you mean 'gearmotor'" in ran.err


def test_unknown_data_is_left_out_and_told(run: Run, tmp_path: Path) -> None:
    """A profile without physical data still gets a page that says what it lacks."""
    path = tmp_path / "starter.toml"
    run("new", path)
    ran = run("size", path)
    assert ran.code == 0
    assert "left out" in ran.out


def test_replay_with_physics_writes_plant_columns(run: Run, rough: Path, tmp_path: Path) -> None:
    """--physics adds currents, volts, speed, position, temperatures and extensions to the ticks."""
    ticks, drawing = tmp_path / "ticks.csv", tmp_path / "drive.svg"
    ran = run("replay", CARRIER, rough, "--physics", "-o", ticks, "--plot", drawing)
    assert ran.code == 0, ran.err
    assert "charge used" in ran.out
    with ticks.open(newline="") as file:
        header = next(csv.reader(file))
    for column in (
        "battery_a",
        "bus_v",
        "vx",
        "x",
        "output.left_front.winding_rise",
        "actuator.tray_left.extension",
    ):
        assert column in header
    assert drawing.read_text().lstrip().startswith("<?xml")


@pytest.mark.parametrize(
    ("profile", "wheels"), cases([(TANK, {"right"})], [(CARRIER, {"right_front", "right_rear"})])
)
def test_a_drift_run_proposes_gains_for_the_faster_side(run: Run, profile: Path, wheels: set[str]) -> None:
    """Drifting to the left slows the right side down, and the left one when drifting to the right."""
    left = run("calibrate", "--drift", 2, 0.1, "--profile", profile, "--json").data
    assert left["stronger"] == "right"
    assert set(left["gains"]) == wheels
    assert 0.9 < left["factor"] < 0.995
    assert all(0.8 < gain < 0.995 for gain in left["gains"].values())
    assert abs(left["after_m"]) < 0.03
    right = run("calibrate", "--drift", 2, -0.1, "--profile", TANK, "--json").data
    assert set(right["gains"]) == {"left"}
    assert run("calibrate", "--drift", 4, 0.3).code == 2
    assert run("calibrate").code == 2


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("size", "--loadout", "bare", "--without", "tray_left"), "no output is called 'tray_left'"),
        (("failsafe", "--driver", "x", "--all"), "every combination has every driver"),
        (("failsafe", "--all", "--receiver", "x"), "every combination has every driver"),
        (("failsafe", "--loadout", "all", "--driver", "x"), "every combination has every driver"),
    ],
)
def test_an_option_that_would_change_nothing_is_refused(
    run: Run, words: tuple[str, ...], said: str
) -> None:
    """A part that this loadout lacks taken as dead, a driver beside every combination: 2, and why."""
    command, *options = words
    ran = run(command, CARRIER, *options)
    assert (ran.code, said in ran.err) == (2, True)
