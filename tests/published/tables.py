"""Reading the published tables in data/: CSV with the source in comment lines at the top."""

import csv
from pathlib import Path

DATA = Path(__file__).parent / "data"


def rows_of(name: str) -> list[dict[str, str]]:
    """The rows of a table by column name, its comment lines left out."""
    lines = (DATA / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def numbers_of(name: str) -> list[dict[str, int]]:
    """The rows of a table that holds whole numbers only."""
    return [{key: int(value) for key, value in row.items()} for row in rows_of(name)]
