"""The frame's check against the published catalogue of CRC algorithms.

Source: Greg Cook's catalogue of parametrised CRC algorithms (RevEng), CRC-16/IBM-3740: check value over
"123456789" is 29B1. The other columns of data/crc_vectors.csv were computed with crccheck 1.3.1 and an
independent bitwise model, which agree.
"""

import csv
from pathlib import Path

import pytest

from mixer.board.frames import check_of

TABLE = Path(__file__).with_name("data") / "crc_vectors.csv"
MESSAGES = {
    "check": b"123456789",
    "empty": b"",
    "hex00": b"\0",
    "hexFF": b"\xff",
    "A": b"A",
    "range16": bytes(range(16)),
    "zeros8": bytes(8),
}


def row_of(name: str) -> dict[str, str]:
    """The catalogue's row for one algorithm."""
    lines = [line for line in TABLE.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return next(row for row in csv.DictReader(lines) if row["name"].startswith(name))


@pytest.mark.parametrize("column", MESSAGES)
def test_check_values_follow_the_catalogue(column: str) -> None:
    """The frame's check is CRC-16/IBM-3740, on every message of the table."""
    row = row_of("CRC-16/IBM-3740")

    assert (row["poly"], row["init"], row["refin"], row["xorout"]) == ("0x1021", "0xFFFF", "0", "0x0")
    assert check_of(MESSAGES[column]) == int(row[column], 16)


def test_the_check_of_message_and_check_is_zero() -> None:
    """With the check appended high byte first the register ends at 0 (a property of this algorithm)."""
    message = MESSAGES["check"]

    assert check_of(message + check_of(message).to_bytes(2, "big")) == 0
