"""A look at a log's first rows, for mistakes of the whole file that row after row would repeat."""

from collections.abc import Iterable
from itertools import islice, pairwise
from statistics import median

from mixer.errors import LogError, Problem
from mixer.runs.clock import US_PER_MS
from mixer.runs.log.cells import PLAUSIBLE_US, scale_hint
from mixer.runs.log.columns import Columns
from mixer.runs.log.lines import Record
from mixer.runs.log.mapping import TIME, Scale

LOOK_ROWS = 200
FRAME_US = (500, 500 * US_PER_MS)
"""Frames come every 2 to 25 ms from any receiver and rarer from a slow recorder; beyond this range the
unit of the time column is wrong."""


def inspect(file: str, columns: Columns, records: Iterable[Record]) -> None:
    """Raises LogError when the first rows are not in the units they are said to be in."""
    looked = [record.fields for record in islice(records, LOOK_ROWS) if len(record.fields) >= columns.width]
    problems = []
    for column in (column for column in columns.channels if column.index >= 0):
        found = numbers_in(fields[column.index] for fields in looked)
        given = [number for number in found if number]
        low, high = PLAUSIBLE_US
        if column.scale is Scale.US and given and not any(low <= number <= high for number in given):
            said = f"holds values such as {given[0]:g}, not pulses in µs"
            problems.append(Problem(file, column.name, said, scale_hint(column.name)))
    times = numbers_in(fields[columns.time] for fields in looked)
    steps = [(b - a) * float(columns.time_unit_us) for a, b in pairwise(times) if b > a]
    if len(steps) >= 3 and not FRAME_US[0] <= median(steps) <= FRAME_US[1]:
        said = f"rows come every {median(steps) / US_PER_MS:g} ms, as no receiver sends them"
        far = median(steps) / FRAME_US[1]
        unit = "s" if median(steps) < FRAME_US[0] else "ns" if far > 1000 else "us"
        remedy = f"give the unit of the time: --map {TIME}=COLUMN:{unit}"
        problems.append(Problem(file, TIME, said, remedy))
    if problems:
        raise LogError(problems)


def numbers_in(cells: Iterable[str]) -> list[float]:
    """The cells that hold a finite number; what is wrong with the others is said row by row."""
    numbers = []
    for cell in cells:
        try:
            number = float(cell.strip().removesuffix("%").replace(",", "."))
        except ValueError:
            continue
        if abs(number) < float("inf"):
            numbers.append(number)
    return numbers
