"""The example logs through the example robot: the story their maker put in comes out."""

from itertools import islice
from pathlib import Path

import pytest

from mixer.core.ops import ONE
from mixer.core.plan import Plan
from mixer.profile.profile import load_profile
from mixer.runs.measure.measures import Summary
from mixer.runs.play.drive_log import DriveLog
from tests.runs.drives import stretches, summarise

PROFILES = Path(__file__).parents[2] / "profiles"


@pytest.fixture(scope="module")
def carrier() -> Plan:
    """The reference robot."""
    return load_profile(PROFILES / "sample_carrier.toml").plan()


def driven(
    plan: Plan, log: str, engine: str = "python", most: int | None = None
) -> tuple[Summary, list[str]]:
    """The summary of a log, and its notices."""
    run = DriveLog(plan, PROFILES / "logs" / log)
    summary = summarise(plan, stretches(engine, plan, islice(run.chunks(), most)))
    return summary, [str(notice) for notice in run.notices]


def test_rough_ground(carrier: Plan) -> None:
    """Two losses, one of all channels and one marked on throttle; gaps up to 160 ms are bridged."""
    summary, notices = driven(carrier, "carrier_rough_ground.csv")
    (whole, marked) = summary.guard.losses

    assert whole.channels == ("steering", "throttle", "tip", "arm", "pace")
    assert marked.channels == ("throttle",)
    assert 45.2 < whole.at_s < 45.25 + 0.03
    assert 73.2 < marked.at_s < 73.25 + 0.03
    assert summary.outputs[0].over_range_s > 10
    assert any("t_ms: no row" in notice for notice in notices) is False


def test_two_loads(carrier: Plan) -> None:
    """Never lost; the tray is driven into its stops by hand and never by the firmware."""
    summary, _ = driven(carrier, "carrier_two_loads.csv")

    assert summary.guard.losses == ()
    assert all(actuator.vetoes >= 3 for actuator in summary.actuators)
    assert all(actuator.fault_s == 0 for actuator in summary.actuators)
    assert max(output.peak for output in summary.outputs) <= (ONE + 1) / ONE


@pytest.mark.long
@pytest.mark.no_cover
def test_direct_core_tells_the_same(carrier: Plan) -> None:
    """The summary of the first half minute does not depend on the engine."""
    log = "carrier_rough_ground.csv"
    assert driven(carrier, log, "direct", 4) == driven(carrier, log, "python", 4)
