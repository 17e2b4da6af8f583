"""Logs written by the project read back as they were."""

import io
from pathlib import Path

import pytest
from hypothesis import given

from mixer.runs.log.cells import Row
from mixer.runs.log.read import open_log
from mixer.runs.log.write import time_text, write_log
from tests.plans import tipper_plan
from tests.runs.drives import CHANNELS, CONTACTS, ROWS, with_text


@given(ROWS)
def test_round_trip(tmp_path_factory: pytest.TempPathFactory, rows: list[Row]) -> None:
    """What is written reads back equal: times to the µs, missing pulses, volts to the mV."""
    file = io.StringIO(newline="")
    probed = [Row(0, 0, (1500,) * len(CHANNELS), (0, 1), 12.5), *rows]
    write_log(file, probed, CHANNELS, CONTACTS, volts=True)
    path: Path = with_text(tmp_path_factory.mktemp("log"), file.getvalue())
    back = list(open_log(path, tipper_plan()).rows())

    assert [row._replace(line=0) for row in back] == probed
    assert [row.line for row in back] == list(range(2, len(probed) + 2))


def test_form() -> None:
    """Header, CRLF line ends (RFC 4180 section 2.1), empty cells for what is missing."""
    file = io.StringIO(newline="")
    write_log(file, [Row(0, 20_030, (1500, 0), (1, -1), 12.10)], ("a", "b"), ("c", "d"), volts=True)

    assert file.getvalue() == "t_ms,a,b,c,d,volts\r\n20.03,1500,,1,,12.1\r\n"


def test_times_are_exact() -> None:
    """Every µs of a second is written as milliseconds without loss."""
    assert all(round(float(time_text(t)) * 1000) == t for t in range(0, 1_000_000, 7))
    assert [time_text(t) for t in (0, 1, 500, 20_000, 3_600_000_010)] == [
        "0",
        "0.001",
        "0.5",
        "20",
        "3600000.01",
    ]
