"""Endpoints, centre and deadband proposed from a recording whose truth is known."""

import tomllib
from pathlib import Path
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mixer.cli.shared.console import as_data
from mixer.runs.log.calibrate import Calibration, Kind, calibrate, toml_lines
from mixer.runs.log.cells import NO_PULSE, Row
from mixer.runs.log.columns_free import channels_in
from mixer.runs.log.read import LogReader

LOGS = Path(__file__).parents[2] / "profiles" / "logs"


def recording(low: int, centre: int, high: int, noise: int, seed: int, *, spikes: bool = True) -> list[Row]:
    """A stick swept end to end, held, and released, with noise, wild pulses and missing ones."""
    random = Random(seed)
    path = (
        [centre] * 100
        + list(range(centre, high, 25))
        + [high] * 40
        + list(range(high, low, -25))
        + [low] * 40
    )
    path = (path + list(range(low, centre, 25)) + [centre] * 100) * 2
    rows = []
    for index, true in enumerate(path):
        pulse = true + random.randint(-noise, noise)
        if spikes and index % 37 == 5:
            pulse = random.choice([NO_PULSE, 620, 2390, 3100])
        switch = 1000 if index % 200 < 100 else 2000
        rows.append(Row(index + 2, index * 20_000, (pulse, 1510, switch, 0), (), None))
    return rows


def found_in(rows: list[Row]) -> Calibration:
    """What is proposed for the four channels."""
    return calibrate(("stick", "still", "switch", "dead"), rows)


@settings(max_examples=25, deadline=None)
@given(
    st.integers(900, 1150),
    st.integers(1450, 1550),
    st.integers(1850, 2100),
    st.integers(0, 8),
    st.integers(0, 999),
)
def test_finds_the_truth(low: int, centre: int, high: int, noise: int, seed: int) -> None:
    """Ends and centre come back within half the noise, and the deadband covers the noise, spikes or not."""
    stick = found_in(recording(low, centre, high, noise, seed)).channels[0]
    within = max(noise / 2, 1)

    assert stick.kind is Kind.STICK
    assert abs(stick.low_us - low) <= within
    assert abs(stick.high_us - high) <= within
    assert stick.centre_us is not None
    assert abs(stick.centre_us - centre) <= within
    assert stick.deadband * min(centre - low, high - centre) >= noise
    assert stick.rest_noise_us <= 2 * noise + 1
    assert stick.notes == ()


def test_other_kinds() -> None:
    """A switch, a channel that never moved and one that never came are told apart."""
    _, still, switch, dead = found_in(recording(1000, 1500, 2000, 2, 1)).channels

    assert (switch.kind, switch.levels_us, switch.centre_us) == (Kind.SWITCH, (1000, 2000), None)
    assert (still.kind, still.low_us, still.notes) == (
        Kind.STILL,
        1510,
        ("never moved: sweep it end to end and record again",),
    )
    assert (dead.kind, dead.notes) == (Kind.STILL, ("no pulse came",))


def test_ends_not_held() -> None:
    """Ends that were only touched are taken from the outermost pulses, and that is said."""
    path = [1500] * 60 + ([*range(1500, 2000, 10), *range(2000, 1000, -10), *range(1000, 1500, 10)]) * 4
    rows = [Row(2, index * 20_000, (pulse,), (), None) for index, pulse in enumerate(path)]
    stick = calibrate(("stick",), rows).channels[0]

    assert stick.centre_us == 1500
    assert 1000 <= stick.low_us <= 1020
    assert 1980 <= stick.high_us <= 2000
    assert [note.split(":")[0] for note in stick.notes] == [
        "the low end was never held for half a second",
        "the high end was never held for half a second",
    ]


def test_lines_are_toml() -> None:
    """The lines to paste are TOML that says the same."""
    found = found_in(recording(1012, 1503, 1988, 0, 1))
    told = tomllib.loads("\n".join(toml_lines(found)))

    assert told == {
        "stick": {"stick": {"low_us": 1012, "centre_us": 1503, "high_us": 1988}},
        "switch": {"switch": {"low_us": 1000, "high_us": 2000}},
    }
    assert as_data(found)["channels"][0]["kind"] == "stick"


def test_demo_sweeps() -> None:
    """The committed sweeps give the endpoints that their maker put in."""
    path = LOGS / "carrier_sweeps.csv"
    wanted = channels_in(path)
    found = {c.name: c for c in calibrate(wanted.channels, LogReader(path, wanted).rows()).channels}
    throttle = found["throttle"]

    assert (throttle.low_us, throttle.centre_us, throttle.high_us) == (1011, 1502, 1993)
    assert found["pace"].levels_us == (1000, 1500, 2000)
    assert found["arm"].kind is Kind.STILL


def normal(sigma: float, drift: float = 0.0, seed: int = 1) -> list[Row]:
    """A stick swept and left alone for a minute each time, with normal noise and a centre that wanders."""
    random = Random(seed)
    sweep = [
        *range(1500, 2000, 10),
        *[2000] * 60,
        *range(2000, 1000, -10),
        *[1000] * 60,
        *range(1000, 1500, 10),
    ]
    path = ([1500] * 900 + sweep) * 3 + [1500] * 900
    return [
        Row(2, k * 20_000, (round(true + random.gauss(0, sigma) + drift * k / len(path)),), (), None)
        for k, true in enumerate(path)
    ]


@pytest.mark.parametrize("sigma", [1.0, 4.0, 9.0, 15.0])
def test_noise_is_three_sigma(sigma: float) -> None:
    """However noisy a receiver is, the width told holds three standard deviations, and little more."""
    stick = calibrate(("stick",), normal(sigma)).channels[0]
    assert stick.kind is Kind.STICK
    assert stick.centre_us is not None
    assert abs(stick.centre_us - 1500) <= max(1, sigma / 4)
    assert 3 * sigma * 0.9 <= stick.rest_noise_us <= 3 * sigma * 1.2 + 1
    assert stick.deadband * 500 >= 3 * sigma * 0.9


def test_a_still_noisy_channel_is_still() -> None:
    """Noise alone is no movement."""
    random = Random(2)
    rows = [Row(2, k * 20_000, (round(random.gauss(1500, 15)),), (), None) for k in range(2000)]
    assert calibrate(("stick",), rows).channels[0].kind is Kind.STILL


@pytest.mark.parametrize(("drift", "told"), [(0.0, False), (2.0, False), (14.0, True), (-14.0, True)])
def test_drift_is_told(drift: float, told: bool) -> None:
    """A centre that wanders while recording is named with where it was first and last."""
    stick = calibrate(("stick",), normal(1.5, drift)).channels[0]
    assert any("it drifts" in note for note in stick.notes) == told


def test_instant_flicks_are_noticed() -> None:
    """End, middle, end within a frame each look like a switch of three positions: that is said."""
    path = ([1500] * 60 + [2000] * 60 + [1500] * 60 + [1000] * 60) * 4
    rows = [Row(2, k * 20_000, (pulse,), (), None) for k, pulse in enumerate(path)]
    found = calibrate(("stick",), rows).channels[0]
    assert found.kind is Kind.SWITCH
    assert found.notes == (
        "every move took one frame; if this is a stick, sweep it slowly and record again",
    )
