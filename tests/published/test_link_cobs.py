"""The byte stuffing against its paper and a table of edge cases.

Source: S. Cheshire and M. Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM Transactions on
Networking 7(2), 1999, pp. 159-172; its worked example (bytes from
memory, confirmed by the package cobs 1.2.2).
data/cobs_vectors.csv was made with cobs 1.2.2; what is under test is that the codec stuffs by that rule.
"""

import csv
from pathlib import Path

import pytest

from mixer.board.frames import Decoder, Noise, _stuffing

TABLE = Path(__file__).with_name("data") / "cobs_vectors.csv"
LINES = [line for line in TABLE.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
ROWS = [(bytes.fromhex(row["raw_hex"]), bytes.fromhex(row["encoded_hex"])) for row in csv.DictReader(LINES)]


@pytest.mark.parametrize(("raw", "coded"), ROWS, ids=[f"{len(raw)} bytes" for raw, _ in ROWS])
def test_stuffing_follows_the_table(raw: bytes, coded: bytes) -> None:
    """Every row of the table, there and back."""
    stuff, unstuff, _ = _stuffing()

    assert stuff(raw) == coded
    assert unstuff(coded) == raw


def test_the_papers_worked_example() -> None:
    """An IPv4 header start, as in the paper."""
    stuff, _, _ = _stuffing()

    raw = bytes.fromhex("4500002C4C79000040064F37")
    assert stuff(raw) == bytes.fromhex("0245010 42C4C79010540064F37".replace(" ", ""))


def test_invalid_stuffing_is_noise() -> None:
    """A piece that promises more bytes than come is refused: 05 11."""
    assert Decoder().feed(b"\0\x05\x11\0") == [Noise(2)]
