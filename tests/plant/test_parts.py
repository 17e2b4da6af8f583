"""Properties of the parts: motors in parallel, heat, screws, linkages, mass, drift, chassis."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.errors import ProfileError
from mixer.plant.parts.battery import Battery
from mixer.plant.parts.driver import Driver
from mixer.plant.parts.gearing import Gearing
from mixer.plant.parts.heat import HeatPath, heat_step, seconds_to_limit
from mixer.plant.parts.lift import Linkage
from mixer.plant.parts.mass import Part, centre_of_gravity, total_mass, wheel_loads
from mixer.plant.parts.motor import Motor, SheetPoints
from mixer.plant.parts.quantities import GRAVITY
from mixer.plant.parts.screw import Screw, metric_screw
from tests.plant.invented import SMALL_HEAT, tank
from tests.plant.ways import duties_for

motors = st.builds(
    Motor,
    st.floats(0.05, 20),
    st.floats(0.001, 0.2),
    st.floats(1e-7, 1e-4),
    st.sampled_from((0.0, 1e-7)),
    st.floats(1e-8, 1e-3),
)


@given(motors, st.integers(1, 16), st.floats(3, 40))
def test_motors_in_parallel(motor: Motor, count: int, volts: float) -> None:
    """N motors on one shaft: n times current and torque, same speed, efficiency and time constant."""
    many = motor.parallel(count)
    assert many.stall_current(volts) == pytest.approx(count * motor.stall_current(volts))
    assert many.stall_torque(volts) == pytest.approx(count * motor.stall_torque(volts))
    assert many.at_torque(volts, 0.0).speed == pytest.approx(motor.at_torque(volts, 0.0).speed)
    assert many.inertia_kgm2 / many.damping == pytest.approx(motor.inertia_kgm2 / motor.damping)
    speed = 0.6 * motor.at_torque(volts, 0.0).speed
    assert many.at_speed(volts, speed).efficiency == pytest.approx(motor.at_speed(volts, speed).efficiency)


@given(motors, st.floats(3, 40), st.floats(0.05, 0.95), st.floats(0.05, 0.95))
def test_more_load_is_slower_and_draws_more(motor: Motor, volts: float, one: float, other: float) -> None:
    """Speed falls and current rises with torque; no point gives more than half the no-load speed does."""
    low, high = sorted((one, other))
    light, heavy = (motor.at_torque(volts, share * motor.stall_torque(volts)) for share in (low, high))
    most = motor.at_speed(volts, motor.at_torque(volts, 0.0).speed / 2)
    assert light.speed >= heavy.speed
    assert light.current <= heavy.current
    assert heavy.power_out <= most.power_out * (1 + 1e-9)


@given(st.floats(0.05, 30), st.floats(0, 100), st.floats(0.1, 60), st.integers(1, 5))
def test_heat_in_parts_is_heat_at_once(watts: float, rise: float, seconds: float, parts: int) -> None:
    """The update is exact: n short steps are one long step, and the end of all steps is the steady rise."""
    whole = heat_step(SMALL_HEAT, seconds).after(rise, rise / 2, watts)
    winding, case = rise, rise / 2
    for _ in range(parts):
        winding, case = heat_step(SMALL_HEAT, seconds / parts).after(winding, case, watts)
    assert (winding, case) == pytest.approx(whole, rel=1e-9, abs=1e-9)
    assert heat_step(SMALL_HEAT, 1e6).after(rise, rise, watts) == pytest.approx(
        SMALL_HEAT.steady_rise(watts)
    )


def test_time_to_a_limit() -> None:
    """More loss reaches the limit sooner; a loss whose final rise stays below never does."""
    times = [seconds_to_limit(SMALL_HEAT, watts, 125.0) for watts in (10.0, 20.0, 40.0)]
    assert times[0] > times[1] > times[2]
    assert seconds_to_limit(SMALL_HEAT, 0.5, 125.0) is None
    # adiabatic start: C·rise/(P·mean copper factor), a lower bound
    capacity = SMALL_HEAT.winding_tau_s / SMALL_HEAT.winding_to_case
    adiabatic = capacity * 100 / (40 * 1.41)
    assert times[2] == pytest.approx(adiabatic, rel=0.35)
    assert times[2] > capacity * 100 / (40 * 1.42)


@given(st.floats(0.002, 0.02), st.floats(0.0, 0.35), st.floats(0, 0.5), st.floats(0.05, 0.25))
def test_self_locking_screws_lose_more_than_half(
    diameter: float, friction: float, angle: float, slope: float
) -> None:
    """A thread that holds by itself has at most 50 % efficiency; lowering never takes more than raising."""
    screw = Screw(diameter, slope * diameter, friction, angle)
    if screw.locks:
        assert screw.efficiency <= 0.5 + 1e-9
    assert screw.torque_to_lower(1.0) <= screw.torque_to_raise(1.0)
    assert screw.thread_raising >= screw.lead / (2 * math.pi) - 1e-12


@pytest.mark.parametrize(
    "linkage",
    [
        Linkage("lever", 0.03, 0.12, 0.05),
        Linkage("lever", 0.04, 0.10, 0.05, start=-0.4),
        Linkage("cam", 0.05, 0.01, 0.04, start=-0.6),
        Linkage("wedge", 0.05, slope=0.3),
    ],
)  # fmt: skip
def test_force_is_the_slope_of_height(linkage: Linkage) -> None:
    """Virtual work: the ratio is dh/dx everywhere, so push x way equals load x height."""
    steps = 400
    width = linkage.travel / steps
    work = sum(linkage.ratio((number + 0.5) * width) * width for number in range(steps))
    assert work == pytest.approx(linkage.height(linkage.travel) - linkage.height(0.0), rel=1e-4)
    assert linkage.capacity(100.0) == pytest.approx(100 / max(ratio for _, ratio in linkage.force_curve()))


@given(
    st.lists(st.tuples(st.floats(0.01, 5), st.floats(-1, 1), st.floats(-1, 1)), min_size=1, max_size=6),
)
def test_centre_of_gravity_balances(parts: list[tuple[float, float, float]]) -> None:
    """Moments about the centre of gravity vanish."""
    made = [Part(f"p{number}", mass, (x, y, 0.0)) for number, (mass, x, y) in enumerate(parts)]
    x, y, _ = centre_of_gravity(made)
    assert sum(part.mass_kg * (part.at[0] - x) for part in made) == pytest.approx(0, abs=1e-9)
    assert sum(part.mass_kg * (part.at[1] - y) for part in made) == pytest.approx(0, abs=1e-9)
    assert total_mass(made) == pytest.approx(sum(mass for mass, _, _ in parts))


@given(st.floats(-0.08, 0.08), st.floats(-0.06, 0.06), st.integers(2, 5))
def test_wheel_loads_carry_weight_and_moments(x: float, y: float, axles: int) -> None:
    """Sum and both moments of the loads are those of the weight."""
    places = [(0.1 - 0.2 * axle / (axles - 1), side) for axle in range(axles) for side in (-0.08, 0.08)]
    loads = wheel_loads(places, 2.0, (x, y))
    assert sum(loads) == pytest.approx(2 * GRAVITY)
    assert sum(load * place[0] for load, place in zip(loads, places, strict=True)) == pytest.approx(
        2 * GRAVITY * x
    )
    assert sum(load * place[1] for load, place in zip(loads, places, strict=True)) == pytest.approx(
        2 * GRAVITY * y
    )


def test_duties_of_a_tank() -> None:
    """Ahead drives both sides, turning left drives the right side ahead and the left one back."""
    assert duties_for(tank(), 1, 0, 0) == pytest.approx([1.0, 1.0])
    assert duties_for(tank(), 0, 0, 1) == pytest.approx([-1.0, 1.0])


def test_driver_volts_never_reverse() -> None:
    """The drop takes volts away and never turns the motor the other way."""
    driver = Driver(drop_v=0.5, limit_a=3.0)
    assert driver.motor_volts(0.5, 12.0) == pytest.approx(5.5)
    assert driver.motor_volts(-0.5, 12.0) == pytest.approx(-5.5)
    assert driver.motor_volts(0.01, 12.0) == 0.0
    assert driver.limited(5.0) == 3.0


IMPOSSIBLE = [
    (lambda: Motor(-1.0, 0.01), "resistance_ohm"),
    (lambda: SheetPoints(12, 6000, 2.0, 1.0, 0.1), "stalled motor draws the most"),
    (lambda: Gearing(10, 1.2), "gear_efficiency"),
    (lambda: HeatPath(1, 1, 0, 1), "winding_tau_s"),
    (lambda: Battery(((0, 4), (1, 3)), 1.0), "volts fall"),
    (lambda: Battery(((0.5, 3), (0.5, 4)), 1.0), "does not rise"),
    (lambda: Linkage("lever", 0.06, 0.1, 0.05), "past upright"),
    (lambda: Linkage("wedge", 0.0, slope=0.2), "travel"),
    (lambda: Screw(0.005, 0.02, 0.9), "jams"),
    (lambda: metric_screw("M7", 0.2), "M6"),
    (lambda: Part("lid", 0.0), "part.lid"),
]  # fmt: skip


@pytest.mark.parametrize(("make", "words"), IMPOSSIBLE, ids=[words for _, words in IMPOSSIBLE])
def test_impossible_data_is_refused_with_the_reason(make: object, words: str) -> None:
    """Each says which quantity cannot be, and what would be right."""
    with pytest.raises(ProfileError, match=words) as caught:
        make()  # type: ignore[operator]
    assert "remedy" in str(caught.value)
