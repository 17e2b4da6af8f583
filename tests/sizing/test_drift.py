"""Drift is undone by gains that a run finds: nine tenths in one round where a gain can, else in two."""

from dataclasses import replace
from pathlib import Path

import pytest

from mixer.errors import OptionError
from mixer.live.robot.robot import Build, build_of
from mixer.plant.from_profile import prepare
from mixer.plant.parts.robot import Output, Robot
from mixer.profile.integers.to_plan import plan_of
from mixer.profile.profile import load_profile
from mixer.sizing.drift import STRAIGHT, Straights, side_gains, sides_of
from tests.lengths import cases

PROFILES = Path(__file__).parents[2] / "profiles"
LENGTH_M = 4.0


def example(name: str) -> Build:
    """An example robot."""
    return build_of(load_profile(PROFILES / f"{name}.toml"))


def worn(output: Output) -> Output:
    """A quarter more resistance, a fifth more friction, a worse gearing: not what the search assumes."""
    motor = output.motor
    assert motor is not None
    motor = replace(motor, resistance_ohm=1.25 * motor.resistance_ohm, friction_nm=1.2 * motor.friction_nm)
    gearing = replace(output.gearing, efficiency=0.9 * output.gearing.efficiency)
    return replace(output, motor=motor, gearing=gearing)


def quick(output: Output) -> Output:
    """A motor that runs 4 % faster at the same volts."""
    assert output.motor is not None
    return replace(output, motor=replace(output.motor, constant=output.motor.constant / 1.04))


def changed(robot: Robot, side: str, change: object) -> Robot:
    """The robot as it really is: one side's motors are not like the sheet."""
    wanted = sides_of(robot)[side]
    outputs = tuple(
        change(output) if index in wanted else output  # type: ignore[operator]
        for index, output in enumerate(robot.outputs)
    )
    return replace(robot, outputs=outputs)


def after_a_round(build: Build, real: Robot) -> tuple[float, Build, float]:
    """Drive the real robot, calibrate by its profile, drive it again: drift, new build, drift left."""
    drift = Straights(build, LENGTH_M, real).sideways({})
    found = side_gains(build, LENGTH_M, drift)
    assert abs(found.after_m) <= 0.1 * abs(drift)
    gains = {name: found.gains.get(name, section.gain) for name, section in build.robot.output.items()}
    outputs = {
        name: section.model_copy(update={"gain": gains[name]})
        for name, section in build.robot.output.items()
    }
    robot = build.robot.model_copy(update={"output": outputs})
    tuned = Build(plan_of(robot, robot.robot.name), robot, prepare(robot))
    return drift, tuned, Straights(tuned, LENGTH_M, real).sideways({})


@pytest.mark.parametrize(
    "name", cases([], ["tank_pair", "holonomic_trio", "long_crawler", "sample_carrier"])
)
def test_nine_tenths_of_a_drift_are_gone(name: str) -> None:
    """One round, where a side's motors are quicker by what a gain can undo."""
    build = example(name)
    assert build.prepared.robot is not None
    drift, _, left = after_a_round(build, changed(build.prepared.robot, "right", quick))
    assert abs(drift) > STRAIGHT * LENGTH_M
    assert abs(left) <= 0.1 * abs(drift)


@pytest.mark.long
@pytest.mark.parametrize("name", cases(["tank_pair"], ["holonomic_trio", "long_crawler", "sample_carrier"]))
def test_a_second_round_undoes_what_one_number_cannot_tell(name: str) -> None:
    """Worn motors are weak at the start more than at speed: most goes in one round, the rest in another.

    Over when nine tenths are gone, or when what is left is straight by the program's own word.
    """
    build = example(name)
    assert build.prepared.robot is not None
    real = changed(build.prepared.robot, "left", worn)
    drift, tuned, left = after_a_round(build, real)
    assert abs(drift) > STRAIGHT * LENGTH_M
    assert abs(left) <= 0.25 * abs(drift)
    if abs(left) > STRAIGHT * LENGTH_M:
        _, _, left = after_a_round(tuned, real)
    assert abs(left) <= max(0.1 * abs(drift), STRAIGHT * LENGTH_M)


@pytest.mark.parametrize("setting", cases([], [{"limit": 0.5}, {"breakaway": 0.3}, {"limit": 0.99}]))
def test_what_follows_a_gain_in_the_firmware_counts(setting: dict[str, float]) -> None:
    """A limit takes up a small gain, a breakaway thins it: the gains are those that still straighten."""
    build = example("tank_pair")
    outputs = {name: section.model_copy(update=setting) for name, section in build.robot.output.items()}
    robot = build.robot.model_copy(update={"output": outputs})
    build = Build(plan_of(robot, robot.robot.name), robot, prepare(robot))
    assert build.prepared.robot is not None
    real = Straights(build, LENGTH_M, changed(build.prepared.robot, "right", quick))
    drift = real.sideways({})
    found = side_gains(build, LENGTH_M, drift)
    assert abs(drift) > 1
    assert abs(real.tuned(found.gains).sideways({})) <= 0.1 * abs(drift)


def test_a_straight_run_changes_nothing() -> None:
    """Two millimetres a metre are no drift."""
    found = side_gains(example("tank_pair"), 3.0, 0.005)
    assert found.stronger is None
    assert found.gains == {}


@pytest.mark.parametrize(("length", "sideways"), [(1.0, 1.5), (0.0, 0.1), (-1.0, 0.0)])
def test_what_is_no_drift_is_refused(length: float, sideways: float) -> None:
    """More sideways than ahead, or no way at all."""
    with pytest.raises(OptionError, match="no drift"):
        side_gains(example("tank_pair"), length, sideways)
