"""Battery, leads and heat against published tables and examples."""

import itertools

import pytest

from mixer.plant.parts.battery import Battery
from mixer.plant.parts.heat import HeatPath, copper_factor, heat_step
from mixer.plant.parts.wire import gauge_area_mm2, gauge_diameter_mm, lead_resistance
from tests.published.tables import rows_of

REST_VOLTS = ((0.8, 4.2 * 0.926), (0.85, 4.2 * 0.943), (0.9, 4.2 * 0.964), (1.0, 4.2))
"""Upper end of Modelica.Electrical.Batteries.ParameterRecords.ExampleData, times 4.2 V."""


def test_pulse_table() -> None:
    """Volts, slow pair and charge over two pulses (PyBaMM 26.10 Thevenin model, `thevenin_pulses.csv`)."""
    table = rows_of("thevenin_pulses.csv")
    cell = Battery(REST_VOLTS, 0.85, 0.012, 0.006, 2500.0)
    pair, charge = 0.0, 0.9
    for before, row in itertools.pairwise(table):
        seconds = float(row["t_s"]) - float(before["t_s"])
        current = float(row["current_A"])
        charge, pair = cell.charge_after(charge, current, seconds), cell.pair_after(pair, current, seconds)
        assert charge == pytest.approx(float(row["soc"]), abs=1e-8)
        assert -pair == pytest.approx(float(row["v1_pybamm_V"]), abs=1e-8)
        assert cell.volts(charge, current, pair) == pytest.approx(float(row["v_pybamm_V"]), abs=2e-8)


def test_pack_scaling() -> None:
    """Volts x Ns, charge x Np, ohms x Ns/Np (Modelica Standard Library, Batteries.Parameterization)."""
    cell = Battery(((0.0, 3.0), (1.0, 4.0)), 2.0, 0.02, 0.01, 1000.0)
    pack = cell.packed(4, 2)
    assert pack.rest_volts(0.5) == pytest.approx(14.0)
    assert pack.capacity_ah == pytest.approx(4.0)
    assert pack.resistance_ohm == pytest.approx(0.04)
    assert pack.pair_time_constant == pytest.approx(cell.pair_time_constant)


def test_c_rate() -> None:
    """10 C of 0.85 Ah is 8.5 A and empties it in 6 min (IEC 61960-3, It = C/1 h)."""
    cell = Battery(((0.0, 3.0), (1.0, 4.2)), 0.85, c_rating=10)
    assert cell.most_current == pytest.approx(8.5)
    assert cell.charge_after(1.0, 8.5, 360) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("row", rows_of("awg.csv"), ids=lambda row: row["awg"])
def test_wire_gauges(row: dict[str, str]) -> None:
    """Diameter, area and ohms a km (ASTM B258; NBS Handbook 100 resistances, `awg.csv`)."""
    gauge = int(row["awg"])
    assert gauge_diameter_mm(gauge) == pytest.approx(float(row["d_mm"]), abs=6e-5)
    assert gauge_area_mm2(gauge) == pytest.approx(float(row["area_mm2"]), abs=6e-5)
    if row["r_pub_ohm_km"]:
        assert lead_resistance(gauge, 1000) == pytest.approx(float(row["r_pub_ohm_km"]), rel=4e-4)


def test_wire_anchors() -> None:
    """AWG 36 is 0.127 mm and AWG 0000 is 11.684 mm by definition (ASTM B258)."""
    assert gauge_diameter_mm(36) == pytest.approx(0.127)
    assert gauge_diameter_mm(-3) == pytest.approx(11.684, abs=5e-4)


def test_copper_pairs() -> None:
    """0.03864 ohm at 20 °C is 0.05 at 95 °C with 0.00392 (Modelica, DCPM_withLosses)."""
    assert 0.03864 * copper_factor(95, 0.00392) == pytest.approx(0.05, rel=1e-4)


@pytest.mark.parametrize(
    ("celsius", "factor"), [(5, 1.064), (10, 1.042), (25, 0.980), (40, 0.926), (80, 0.806), (100, 0.758)]
)
def test_temperature_factors(celsius: float, factor: float) -> None:
    """Correction factors k_t to 20 °C (IEC 60228, with its 0.004 per kelvin)."""
    assert 1 / copper_factor(celsius, 0.004) == pytest.approx(factor, abs=6e-4)


RE30 = HeatPath(1.7, 6.0, 16.9, 593.0, 155.0)


def test_two_node_step() -> None:
    """5 W into RE 30's thermal path (maxon sheet; scipy expm, `thermal_two_node.csv`), one step each."""
    for row in rows_of("thermal_two_node.csv"):
        seconds = float(row["t_s"])
        if seconds:
            winding, case = heat_step(RE30, seconds).after(0.0, 0.0, 5.0)
            assert 25 + winding == pytest.approx(float(row["T_winding_C"]), abs=2e-6)
            assert 25 + case == pytest.approx(float(row["T_housing_C"]), abs=2e-6)


@pytest.mark.parametrize(
    ("volts", "ke", "ohm", "idle", "torque", "path", "rise"),
    [
        (24, 11.5, 0.32, 1.45, 125, 2.3, 127),
        (36, 13.7, 4.6, 0.2, 26, 4.9, 80),
        (24, 13.3, 0.31, 1.26, 215, 2.0, 149),
    ],
)  # fmt: skip
def test_steady_rise(
    volts: float, ke: float, ohm: float, idle: float, torque: float, path: float, rise: float
) -> None:
    """Rise = thermal resistance x (power in - power out) (Magmotor calculation sheets)."""
    current = torque / (1.352 * ke) + idle
    speed = volts / ke * (1 - torque / (1.352 * ke * volts / ohm)) * 1000 * 0.10471975512
    lost = volts * current - torque * 7.06155e-3 * speed
    whole = HeatPath(path / 2, path / 2, 10, 500).steady_rise(lost)[0]
    assert whole == pytest.approx(rise, abs=0.8)


def test_energy_is_the_area_under_the_curve() -> None:
    """A pack whose volts fall in a straight line gives capacity times the middle (the trapezoidal rule)."""
    assert Battery(((0.0, 3.0), (1.0, 4.0)), 2.0, 0.02).energy_wh() == pytest.approx(7.0)
    assert Battery(((0.2, 3.0), (0.6, 3.0)), 2.0, 0.02).energy_wh() == pytest.approx(6.0)
