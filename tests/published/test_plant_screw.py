"""Power screws against handbook examples and ISO threads."""

import math

import pytest

from mixer.plant.parts.screw import METRIC_COARSE_MM, Screw, metric_screw, screw_by_measures
from tests.published.tables import rows_of


@pytest.mark.parametrize("row", rows_of("screw_examples.csv"), ids=lambda row: row["source"])
def test_torques_and_efficiency(row: dict[str, str]) -> None:
    """Raising, lowering, efficiency (Shigley 8-1; Bhandari, Design of Machine Elements, 6.2 and 6.6)."""
    screw = Screw(
        float(row["dm_mm"]) / 1000, float(row["lead_mm"]) / 1000, float(row["f"]),
        math.radians(float(row["alpha_deg"])), float(row["fc"]), float(row["dc_mm"]) / 1000,
    )  # fmt: skip
    force = float(row["F_N"])
    if row["T_raise"]:
        assert screw.torque_to_raise(force) == pytest.approx(float(row["T_raise"]), rel=3e-4)
        assert screw.torque_to_lower(force) == pytest.approx(float(row["T_lower"]), rel=5e-4)
    assert screw.efficiency == pytest.approx(float(row["efficiency"]), rel=1e-3)


def test_collar_holds_what_the_thread_alone_does_not() -> None:
    """Shigley 8-1: the thread alone lowers at -0.466 N·m, only the collar keeps it from running down."""
    screw = Screw(0.030, 0.008, 0.08, 0.0, 0.08, 0.040)
    assert 6400 * screw.thread_lowering == pytest.approx(-0.466, abs=1e-3)
    assert not screw.locks
    assert screw.torque_to_lower(6400) > 0


def test_acme_screw_with_collar() -> None:
    """377.6 + 375 = 753 lbf·in (Budynas & Nisbett, solutions manual, 8-6); in the units of the example."""
    screw = Screw(2.75, 0.5, 0.05, math.radians(14.5), 0.06, 5.0)
    assert 2500 * screw.thread_raising == pytest.approx(377.6, abs=0.1)
    assert screw.torque_to_raise(2500) == pytest.approx(753, abs=0.5)


def test_efficiency_and_torque_are_one_relation() -> None:
    """20 kN over 10 mm lead at 70 % takes 45.5 N·m (engineeringprep problem 516)."""
    low, high = 0.0, 0.5
    for _ in range(60):
        friction = (low + high) / 2
        low, high = (
            (friction, high) if Screw(0.04, 0.01, friction, 0.0).efficiency > 0.7 else (low, friction)
        )
    assert Screw(0.04, 0.01, low, 0.0).torque_to_raise(20_000) == pytest.approx(45.5, abs=0.05)


@pytest.mark.parametrize("row", rows_of("iso_metric_coarse.csv"), ids=lambda row: row["thread"])
def test_metric_threads(row: dict[str, str]) -> None:
    """Pitch, pitch diameter, lead angle and the friction that just locks (ISO 261/262, ISO 68-1/724)."""
    pitches = {name: pitch for name, _, pitch in METRIC_COARSE_MM}
    assert pitches[row["thread"]] == float(row["p_mm"])
    screw = metric_screw(row["thread"], 0.2)
    assert screw.mean_diameter * 1000 == pytest.approx(float(row["d2_mm"]), abs=1.1e-3)
    angle = math.degrees(math.atan(screw.lead / (math.pi * screw.mean_diameter)))
    assert angle == pytest.approx(float(row["lead_angle_deg"]), abs=2e-3)
    least = float(row["mu_self_lock"])
    assert metric_screw(row["thread"], least + 2e-4).locks
    assert not metric_screw(row["thread"], least - 2e-4).locks


def test_trapezoidal_mean_diameter() -> None:
    """Tr 52x8 has a mean diameter of 48 mm, d - p/2 (ISO 2904; used in Bhandari 6.6)."""
    assert screw_by_measures(52, 8, 1, 0.15, 15).mean_diameter == pytest.approx(0.048)
