"""Motors, gears and braking against published sheets and handbook examples."""

import math

import pytest

from mixer.plant.parts.gearing import Gearing
from mixer.plant.parts.motor import Motor, SheetPoints, motor_from_points, sheet_efficiency
from mixer.plant.parts.quantities import RADIANS_PER_RPM
from tests.published.tables import rows_of

OUNCE_INCH = 7.06155e-3
SHEETS = {row["model"]: row for row in rows_of("motors_datasheet.csv")}
MAXON = ["RE30-48V", "RE40-48V", "DCX22L-9V"]


def maxon(model: str) -> tuple[Motor, dict[str, float]]:
    """A motor from the constants its sheet prints."""
    row = {
        key: float(value) for key, value in SHEETS[model].items() if value and key not in ("maker", "model")
    }
    motor = Motor(row["R_ohm"], row["Kt_Nm_A"], row["Kt_Nm_A"] * row["I0_A"], 0, row["J_kgm2"])
    return motor, row


@pytest.mark.parametrize("model", MAXON)
def test_speed_and_current_follow_from_the_constants(model: str) -> None:
    """No-load speed, stall current and the nominal point (maxon data sheets RE 30, RE 40, DCX 22 L)."""
    motor, row = maxon(model)
    assert motor.at_torque(row["V"], 0.0).speed / RADIANS_PER_RPM == pytest.approx(row["n0_rpm"], rel=4e-3)
    assert motor.stall_current(row["V"]) == pytest.approx(row["Is_A"], rel=4e-3)
    at_nominal = motor.at_torque(row["V"], row["TN_Nm"])
    assert at_nominal.current == pytest.approx(row["IN_A"], rel=5e-3)
    assert at_nominal.speed / RADIANS_PER_RPM == pytest.approx(row["nN_rpm"], rel=6e-3)


@pytest.mark.parametrize("model", MAXON)
def test_stall_torque_is_net_of_friction(model: str) -> None:
    """These sheets print Kt·V/R; ours is that less friction (maxon's convention, see `motor`)."""
    motor, row = maxon(model)
    gross = motor.stall_torque(row["V"]) + motor.friction_nm
    assert gross == pytest.approx(row["Ts_Nm"], rel=5e-3)


@pytest.mark.parametrize("model", ["RE30-48V", "RE40-48V"])
def test_best_efficiency_and_time_constant(model: str) -> None:
    """The best of all points, and J·R/K² (maxon data sheets, printed to 1 % and 0.01 ms)."""
    motor, row = maxon(model)
    shares = (
        motor.at_speed(row["V"], share / 1000 * motor.at_torque(row["V"], 0.0).speed)
        for share in range(1000)
    )
    assert max(point.efficiency for point in shares) == pytest.approx(row["eta_max"], abs=5e-3)
    assert motor.inertia_kgm2 / motor.damping == pytest.approx(row["tau_m_s"], rel=6e-3)


PITTMAN = [  # Kt, Km, friction oz·in, damping oz·in/krpm, volts, rpm, stall oz·in
    ("14203S010", 0.0327, 0.0556, 1.6, 0.18, 12, 3456, 159),
    ("9233S013", 0.0373, 0.0188, 0.60, 0.034, 24, 5993, 32),
    ("14201S003", 0.0525, 0.0314, 1.2, 0.17, 24, 4230, 63),
    ("14204S004", 0.0306, 0.0609, 1.6, 0.18, 12, 3702, 204),
]


@pytest.mark.parametrize(("sheet", "kt", "km", "friction", "damping", "volts", "rpm", "stall"), PITTMAN)
def test_friction_and_damping_sheets(
    sheet: str,
    kt: float,
    km: float,
    friction: float,
    damping: float,
    volts: float,
    rpm: float,
    stall: float,
) -> None:
    """No-load speed and net stall torque with friction and damping (Ametek Pittman data sheets)."""
    viscous = damping * OUNCE_INCH / (1000 * RADIANS_PER_RPM)
    motor = Motor((kt / km) ** 2, kt, friction * OUNCE_INCH, viscous)
    assert motor.at_torque(volts, 0.0).speed / RADIANS_PER_RPM == pytest.approx(rpm, rel=2e-3), sheet
    assert motor.stall_torque(volts) / OUNCE_INCH == pytest.approx(stall, abs=0.5)


MAGMOTOR = [  # V, Ke V/krpm, R, I0, T oz·in, rpm, A, efficiency, W
    (24, 11.5, 0.32, 1.45, 125, 1863.3, 9.5, 0.7566, 172.274),
    (24, 11.5, 0.32, 1.45, 250, 1639.7, 17.5, 0.72088, 303.193),
    (36, 13.70, 4.60, 0.20, 26, 2157, 1.6, 0.71853, 41.472),
    (24, 13.3, 0.31, 1.26, 215, 1526, 13.2, 0.76520, 242.655),
]


@pytest.mark.parametrize(
    ("volts", "ke", "ohm", "idle", "torque", "rpm", "amps", "efficiency", "watts"), MAGMOTOR
)
def test_operating_points(
    volts: float, ke: float, ohm: float, idle: float, torque: float,
    rpm: float, amps: float, efficiency: float, watts: float,
) -> None:  # fmt: skip
    """Operating points of Magmotor's calculation sheets; their line leaves friction out of the speed."""
    motor = Motor(ohm, 1.352 * ke * OUNCE_INCH)
    point = motor.at_torque(volts, torque * OUNCE_INCH)
    assert point.speed / RADIANS_PER_RPM == pytest.approx(rpm, rel=1e-3)
    assert point.power_out == pytest.approx(watts, rel=1e-3)
    assert point.current + idle == pytest.approx(amps, abs=0.06)
    assert point.power_out / (volts * (point.current + idle)) == pytest.approx(efficiency, rel=1e-3)


def test_rated_torque_of_a_library_machine() -> None:
    """100 V, 100 A, 1425 rpm, 0.05 ohm gives 63.66 N·m (Modelica, DcPermanentMagnetData)."""
    constant = (100 - 5) / (1425 * RADIANS_PER_RPM)
    point = Motor(0.05, constant).at_speed(100, 1425 * RADIANS_PER_RPM)
    assert point.current == pytest.approx(100)
    assert point.torque == pytest.approx(63.66, abs=0.005)


def test_points_give_back_the_constants() -> None:
    """RE 30's printed points lead back to its printed resistance and constant (maxon data sheet)."""
    motor = motor_from_points(SheetPoints(48, 8490, 0.0786, 19.6, 1.05))
    assert motor.resistance_ohm == pytest.approx(2.45, rel=3e-3)
    assert motor.constant == pytest.approx(0.0538, rel=3e-3)
    assert sheet_efficiency(SheetPoints(48, 8490, 0.0786, 19.6, 1.05)) == pytest.approx(1.0, abs=0.01)


def test_referred_torque() -> None:
    """117.53 N·m (Dubey, Fundamentals of Electrical Drives, example 2.1)."""
    speed = 1420 * RADIANS_PER_RPM
    torque = Gearing(10, 0.9).motor_torque(10) + 1000 * 9.81 * 1.5 / (speed * 0.85)
    assert torque == pytest.approx(117.53, abs=0.05)


def test_worm_gear() -> None:
    """753 lbf·in raised over a 75:1 worm of 95 % on two screws takes 21.1 lbf·in (Budynas, 8-6)."""
    assert Gearing(75, 0.95).motor_torque(2 * 753) == pytest.approx(21.1, abs=0.05)


def test_self_locking_gear() -> None:
    """A train at or below 50 % cannot be driven backwards (statics, equal friction both ways)."""
    assert Gearing(50, 0.5).locks
    assert not Gearing(50, 0.51).locks
    assert Gearing(50, 0.8).backwards == pytest.approx(0.75)


def test_rheostatic_braking() -> None:
    """220 V, 1000 rpm, 175 A, 0.08 ohm at 1050 rpm: 0.538 ohm holds twice the current (Dubey, ex. 5.9)."""
    constant = (220 - 175 * 0.08) / (1000 * RADIANS_PER_RPM)
    point = Motor(0.08 + 0.538, constant).at_speed(0.0, 1050 * RADIANS_PER_RPM)
    assert point.current == pytest.approx(-350, rel=1e-3)
    assert point.torque == pytest.approx(-688.5, abs=0.5)


def test_chopper_duty() -> None:
    """230 V, 960 rpm, 200 A, 0.02 ohm: rated torque at 350 rpm takes a duty of 0.376 (Dubey, ex. 5.19)."""
    constant = (230 - 200 * 0.02) / (960 * RADIANS_PER_RPM)
    emf = constant * 350 * RADIANS_PER_RPM
    motor = Motor(0.02, constant)
    assert motor.at_speed(0.376 * 230, emf / constant).current == pytest.approx(200, abs=6)
    assert motor.at_speed(0.34 * 230, emf / constant).current == pytest.approx(-200, abs=12)


def test_step_response_without_inductance_follows_the_table_later() -> None:
    """The exact response with L joins ours once L/R is over (RE 65, table `dcmotor_step.csv`).

    This is where the quasi-static current ends: at 0.5 ms (one L/R) it is off by tens of percent, from
    15 ms (34 L/R) on by less than one.
    """
    motor = Motor(0.365, 0.123, 0, 0, 1.34e-4)
    off = {}
    for row in rows_of("dcmotor_step.csv"):
        seconds = float(row["t_s"])
        ours = 48 / 0.123 * (1 - math.exp(-seconds / (motor.inertia_kgm2 / motor.damping)))
        off[seconds] = abs(ours - float(row["omega_exact_rad_s"])) / (48 / 0.123)
    assert off[0.0005] > 0.05
    assert all(error < 0.01 for seconds, error in off.items() if seconds >= 0.015)
