"""Which columns of a log are channels, when there is no robot to say so."""

from contextlib import closing
from itertools import islice
from pathlib import Path

from mixer.errors import LogError, Problem
from mixer.runs.log.cells import PLAUSIBLE_US
from mixer.runs.log.columns import Wanted
from mixer.runs.log.inspect import LOOK_ROWS, numbers_in
from mixer.runs.log.lines import Records, open_text
from mixer.runs.log.mapping import TIME, VOLTS, Mapping
from mixer.runs.log.notices import Notices


def channels_in(path: Path, mapping: Mapping | None = None) -> Wanted:
    """Every column that holds pulses in its first rows, and every one bound by hand.

    Raises LogError when there is none.
    """
    mapping = mapping or Mapping()
    text, _ = open_text(path)
    with closing(text):
        records = Records(text, Notices(str(path)))
        header = records.header()
        looked = [record.fields for record in islice(records, LOOK_ROWS)]
    names = [name.strip() for name in header.fields] if header else []
    bound = [
        binding
        for binding in mapping.bindings
        if binding.name not in {TIME, VOLTS} and binding.constant is None
    ]
    taken = {mapping.column_of(TIME), mapping.column_of(VOLTS), *(binding.column for binding in bound)}
    found = [
        name
        for place, name in enumerate(names)
        if name and name not in taken and _holds_pulses([row[place] for row in looked if place < len(row)])
    ]
    channels = (*(binding.name for binding in bound), *found)
    if not channels:
        said = "no column holds pulses in µs"
        remedy = "record the sticks in µs, or bind a column with --map NAME=COLUMN:UNIT"
        raise LogError([Problem(str(path), "", said, remedy)])
    return Wanted(channels)


def _holds_pulses(cells: list[str]) -> bool:
    low, high = PLAUSIBLE_US
    given = [number for number in numbers_in(cells) if number]
    return bool(given) and sum(low <= number <= high for number in given) * 2 > len(given)
