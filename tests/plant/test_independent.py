"""The coupled step against a second solution of the same robots (see `independent`), and its laws."""

import math
from dataclasses import replace
from functools import lru_cache
from itertools import product
from pathlib import Path

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from mixer.plant.from_profile import prepare
from mixer.plant.parts.battery import Battery
from mixer.plant.parts.driver import Driver
from mixer.plant.parts.gearing import Gearing
from mixer.plant.parts.motor import Motor
from mixer.plant.parts.quantities import GRAVITY
from mixer.plant.parts.robot import Output, Robot, Wheel
from mixer.plant.plant import Plant
from mixer.profile.profile import load_profile
from tests.lengths import cases, examples
from tests.plant.independent import Drive, Machine, Seen, without_heat
from tests.plant.ways import duties_for, step_duties

PROFILES = Path(__file__).parents[2] / "profiles"
EXAMPLES = sorted(path.stem for path in PROFILES.glob("*.toml"))
TICKS_MS = (1, 2, 5, 10, 20)
PAIRS = list(product(EXAMPLES, TICKS_MS))
WITHIN = 0.03
CREPT_M = 1e-3
"""What the second solution creeps where dry friction holds: it smooths it at low speed."""
MOVES = (
    (1, 0, 0, 1, 0.4), (0.5, 0, 0.5, 1, 0.2), (-1, 0, 0, -1, 0.4), (0, 0, 1, -1, 0.3), (0, 0, 0, 0, 0.2),
    (0.3, 0.3, -0.6, 1, 0.3),
)  # fmt: skip
"""(forward, left, turn, actuators, s): full reversals without any slew, a spin, a stop, an arc."""


def example(name: str) -> Robot:
    """An example robot, its windings at the air's temperature."""
    robot = prepare(load_profile(PROFILES / f"{name}.toml").robot()).robot
    assert robot is not None
    return without_heat(robot)


def drive_of(robot: Robot) -> list[tuple[list[float], float]]:
    """`MOVES` as duties."""
    ways = [duties_for(robot, *unit) for unit in ((1, 0, 0), (0, 1, 0), (0, 0, 1))]
    drive = []
    for *amounts, out, seconds in MOVES:
        duties = [
            sum(amount * way[index] for amount, way in zip(amounts, ways, strict=True))
            for index in range(len(robot.outputs))
        ]
        duties = [max(-1.0, min(1.0, duty)) for duty in duties]
        for actuator in robot.actuators:
            duties[actuator.output] = out
        drive.append((duties, seconds))
    return drive


@lru_cache(maxsize=8)
def solved(name: str) -> Seen:
    """The independent solution of an example's drive."""
    robot = example(name)
    return Machine(robot).run(drive_of(robot))


def driven(robot: Robot, drive: Drive, tick_ms: int) -> tuple[Plant, Seen]:
    """The same by the plant, run tick by tick."""
    plant, seconds = Plant(robot), tick_ms / 1000
    peak, lowest, way, peaks = 0.0, math.inf, 0.0, [0.0] * len(robot.outputs)
    for duties, length in drive:
        for _ in range(round(length / seconds)):
            was = plant.value("x"), plant.value("y")
            seen = step_duties(plant, duties, seconds)
            peak, lowest = max(peak, seen.battery_peak_a), min(lowest, seen.lowest_v)
            peaks = [max(a, b) for a, b in zip(peaks, seen.output_peak_a, strict=True)]
            way += math.dist(was, (seen.x, seen.y))
    charge = (1 - seen.charge) * robot.battery.capacity_ah
    place = seen.x, seen.y, seen.yaw
    return plant, Seen(peak, peaks, lowest, charge, way, place, seen.extension_m)


def assert_agree(ours: Seen, theirs: Seen) -> None:
    """Peaks, volts, charge and path within `WITHIN`; turned by no more than that of a full turn."""
    assert ours.peak_a == pytest.approx(theirs.peak_a, rel=WITHIN)
    assert ours.output_peak_a == pytest.approx(theirs.output_peak_a, rel=WITHIN)
    assert ours.lowest_v == pytest.approx(theirs.lowest_v, rel=WITHIN)
    assert ours.charge_ah == pytest.approx(theirs.charge_ah, rel=WITHIN)
    assert ours.way_m == pytest.approx(theirs.way_m, rel=WITHIN, abs=CREPT_M)
    assert math.dist(ours.place[:2], theirs.place[:2]) < max(WITHIN * theirs.way_m, CREPT_M)
    assert ours.place[2] == pytest.approx(theirs.place[2], abs=WITHIN * 2 * math.pi)
    assert list(ours.extension_m) == pytest.approx(list(theirs.extension_m), abs=1e-4)


@pytest.mark.parametrize(("name", "tick_ms"), cases(PAIRS[::4], sorted({*PAIRS} - {*PAIRS[::4]})))
def test_every_example_agrees_with_a_second_solution_at_every_tick(name: str, tick_ms: int) -> None:
    """Full reversals, a spin, a stop, an arc: peaks, charge and path within 3 % of scipy's solve_ivp."""
    robot = example(name)
    plant, ours = driven(robot, drive_of(robot), tick_ms)
    assert_agree(ours, solved(name))
    account = plant.energies()
    given_out = account.pop("battery")
    assert sum(account.values()) == pytest.approx(given_out, rel=0.005)


@st.composite
def robots(draw: st.DrawFn, *, weak: bool = False) -> Robot:
    """Tanks with one to three wheels a side whose motors can drive them, or are too weak for it."""
    mass, side = draw(st.floats(0.5, 12)), draw(st.integers(1, 3))
    volts = draw(st.sampled_from((7.4, 11.1, 14.8)))
    radius = draw(st.floats(0.02, 0.06))
    speed = draw(st.floats(0.6, 3)) / radius
    ratio = draw(st.floats(8, 60))
    constant = volts / (speed * ratio)
    strength = st.sampled_from((0.001, 0.01, 0.02, 0.04)) if weak else st.floats(0.8, 3)
    stall_n = draw(strength) * mass * GRAVITY / (2 * side)
    ohm = constant * ratio * volts / (stall_n * radius)
    rotor = draw(st.floats(0.005, 0.03)) * constant**2 / ohm
    motor = Motor(
        ohm, constant, draw(st.floats(0, 1.5 if weak else 0.05)) * constant * volts / ohm, 0.0, rotor
    )
    driver = Driver(
        limit_a=draw(st.sampled_from((None, 0.6, 1.5))) and draw(st.floats(0.4, 1.2)) * volts / ohm,
        resistance_ohm=draw(st.floats(0, 0.1)) * ohm,
        drop_v=draw(st.sampled_from((0.0, 0.1, 0.6))),
        brakes=draw(st.booleans()),
    )
    gearing = Gearing(ratio, draw(st.sampled_from((1.0, 0.85, 0.6))))
    sag = draw(st.floats(0.01, 0.2)) * ohm / (2 * side)
    low_v = draw(st.sampled_from((None, 1.05 * volts, 1.2 * volts))) if weak else None
    pack = Battery(((0.0, volts), (1.0, volts * 1.13)), 2.0, sag, low_v=low_v)
    load, grip = mass * GRAVITY / (2 * side), draw(st.floats(0.4, 1.2))
    wheels = tuple(
        Wheel(f"{name}{number}", 0 if name == "l" else 1, 0.08 * (number - (side - 1) / 2),
              0.1 if name == "l" else -0.1, radius, load, grip=grip, rolling=0.02)
        for name in "lr" for number in range(side)
    )  # fmt: skip
    outputs = tuple(Output(name, driver, motor, gearing, side) for name in ("l", "r"))
    return Robot("drawn", pack, outputs, mass, mass * 0.012, wheels)


@pytest.mark.no_cover
@given(robots(), st.sampled_from(TICKS_MS), st.tuples(*[st.integers(-8, 8)] * 2))
@settings(examples(5, 8), deadline=None, phases=(Phase.explicit, Phase.generate))
def test_drawn_robots_agree_with_a_second_solution(
    robot: Robot, tick_ms: int, last: tuple[int, int]
) -> None:
    """Ahead, a full reversal, any duties: within 3 % for robots that chance draws, books to 0.5 %."""
    drive = [([1.0, 1.0], 0.2), ([-1.0, -1.0], 0.2), ([part / 8 for part in last], 0.2)]
    plant, ours = driven(robot, drive, tick_ms)
    assert_agree(ours, Machine(robot).run(drive))
    account = plant.energies()
    given_out = account.pop("battery")
    assert sum(account.values()) == pytest.approx(given_out, rel=0.005)


def test_a_limited_motor_turns_round_on_lossy_gears() -> None:
    """Both sides alike, as the second solution does: a wheel at rest once stuck to its gearing."""
    motor, gearing = Motor(78.6, 0.0126, 0.0, 0.0, 6e-8), Gearing(56.4, 0.6)
    outputs = tuple(Output(n, Driver(limit_a=0.155, drop_v=0.6), motor, gearing, 3) for n in "lr")
    wheels = tuple(
        Wheel(f"{side}{number}", side, 0.08 * (number - 1), 0.1 - 0.2 * side, 0.0538, 2.45, grip=0.66,
              rolling=0.02)
        for side in (0, 1) for number in range(3)
    )  # fmt: skip
    robot = Robot("round", Battery(((0.0, 14.8), (1.0, 16.7)), 2.0, 2.4), outputs, 1.5, 0.018, wheels)
    drive = [([1.0, 1.0], 0.2), ([-1.0, -1.0], 0.2)]
    _, ours = driven(robot, drive, 2)
    assert ours.place[2] == pytest.approx(0.0, abs=1e-6)
    assert_agree(ours, Machine(robot).run(drive))


@given(robots(weak=True), st.sampled_from(TICKS_MS), st.tuples(*[st.integers(-8, 8)] * 2))
@settings(max_examples=8, deadline=None, phases=(Phase.explicit, Phase.generate))
def test_robots_too_weak_to_move_are_no_trouble(robot: Robot, tick_ms: int, last: tuple[int, int]) -> None:
    """Less torque than friction, a pack below its stop: all finite, books to 0.5 %, nothing given back.

    Against the second solution where the stop does not act, which that does not have.
    """
    drive = [([1.0, 1.0], 0.1), ([-1.0, -1.0], 0.1), ([part / 8 for part in last], 0.1)]
    plant, ours = driven(robot, drive, tick_ms)
    assert all(math.isfinite(value) for value in plant.state + plant.seen)
    account = plant.energies()
    given_out = account.pop("battery")
    assert sum(account.values()) == pytest.approx(given_out, rel=0.005, abs=1e-9)
    assert min(account.values()) >= -1e-3 * abs(given_out) - 1e-9
    if robot.battery.low_v is None:
        assert_agree(ours, Machine(robot).run(drive))


@pytest.mark.parametrize("drop_v", [0.0, 2.0])
@pytest.mark.parametrize("name", EXAMPLES)
def test_no_step_gives_what_cannot_be(name: str, drop_v: float) -> None:
    """At every 2 ms: battery current at most the sum of |duty| x limit; no loss falls (second law)."""
    base = example(name)
    drivers = [replace(output.driver, drop_v=output.driver.drop_v + drop_v) for output in base.outputs]
    outputs = zip(base.outputs, drivers, strict=True)
    robot = replace(base, outputs=tuple(replace(output, driver=driver) for output, driver in outputs))
    plant, before = Plant(robot), dict.fromkeys(("copper", "driver", "inner", "gearing"), 0.0)
    for duties, length in drive_of(robot):
        most = sum(
            abs(duty) * (math.inf if output.driver.limit_a is None else output.driver.limit_a)
            for duty, output in zip(duties, robot.outputs, strict=True)
        )
        for _ in range(round(length / 0.002)):
            seen = step_duties(plant, duties, 0.002)
            assert max(seen.battery_a, seen.battery_peak_a) <= most * (1 + 1e-9) + 1e-9
            now = plant.energies()
            assert all(now[loss] >= was - 1e-9 for loss, was in before.items())
            before = {loss: now[loss] for loss in before}


@pytest.mark.parametrize("duty", [0.0, 0.3, -1.0])
def test_a_drop_always_hinders(duty: float) -> None:
    """A wheel that turns faster than its duty brakes less with a drop in the path than without one.

    By hand: I = (d·V - K·u + drop)/R while the current flows backwards (Kirchhoff).
    """
    base = example("long_crawler")
    found = []
    for drop_v in (0.0, 2.0):
        driver = replace(base.outputs[0].driver, drop_v=drop_v, limit_a=None)
        robot = replace(base, outputs=tuple(replace(output, driver=driver) for output in base.outputs))
        plant = Plant(robot)
        for slot, name in enumerate(plant.layout.state):
            if name.endswith(".speed") or name == "vx":
                plant.state[slot] = 1.5
        seen = step_duties(plant, [duty] * 6, 1e-5)
        motor, wheel = robot.outputs[0].motor, robot.wheels[0]
        assert motor is not None
        emf = motor.constant * 1.5 * robot.outputs[0].gearing.ratio / wheel.radius
        ohm = motor.at_temperature(25).resistance_ohm + driver.resistance_ohm
        hand = (duty * seen.battery_v - emf + drop_v) / ohm
        assert seen.output_a[0] == pytest.approx(hand, rel=0.02)
        assert plant.energies()["driver"] >= 0
        found.append(abs(seen.output_a[0]))
    assert found[1] < found[0]
