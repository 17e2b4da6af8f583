"""From one record's text to one row of numbers.

Nearly every row of a good log takes the quick path: whole numbers in all the right places. Whatever
does not is read again cell by cell, where each oddity becomes a notice or a problem.
"""

from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from operator import itemgetter
from typing import NamedTuple

from mixer.errors import Problem
from mixer.runs.clock import US_PER_MS
from mixer.runs.log.columns import ChannelColumn, Columns
from mixer.runs.log.mapping import TIME, VOLTS, Scale, share_of, to_us
from mixer.runs.log.notices import Notices

NO_PULSE = 0
NOT_READ = -1
PLAUSIBLE_US = (300, 4000)
"""Anything a receiver's wire may carry; outside it a number is noise, or no pulse in µs at all."""
MOST_US = 65535
"""Longer than three frames: no pulse."""
LATEST_US = 10**16
"""Three hundred years: no log, even where times count from 1970."""

LONGEST_NUMBER = 40
"""Digits, and powers of ten, of anything a recorder writes; beyond them arithmetic itself may give up."""

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_LEVELS = {"0": 0, "1": 1, "": NOT_READ}
_GOOD_VOLTS = 1000


class Row(NamedTuple):
    """What was recorded at one moment."""

    line: int
    t_us: int
    pulses: tuple[int, ...]
    """µs for each wanted channel, `NO_PULSE` where none came."""
    contacts: tuple[int, ...]
    """0 or 1 for each wanted contact, `NOT_READ` where nothing was recorded."""
    volts: float | None


class Cells:
    """Reads the fields of one log's records."""

    def __init__(self, file: str, columns: Columns, separator: str, notices: Notices) -> None:
        self._file = file
        self._columns = columns
        self._decimal_comma = separator != ","
        self._notices = notices
        self._get_pulses = _getter([column.index for column in columns.channels])
        self._contact_places = [place for _, place in columns.contacts]
        self._quick = all(column.scale is Scale.US and column.index >= 0 for column in columns.channels)
        self._unit_us = int(columns.time_unit_us)
        """0 for nanoseconds, which are read slowly."""
        self._shares: dict[str, tuple[Decimal, Decimal]] = {}
        """Lowest and highest value of each column that is not in µs, as shares of its range."""

    def row(self, line: int, fields: Sequence[str], problems: list[Problem]) -> Row | None:
        """The record's row; None when it holds nothing, or after adding to `problems`."""
        columns = self._columns
        if self._quick and self._unit_us and len(fields) == columns.width:
            try:
                t_us = quick_time_us(fields[columns.time], self._unit_us)
                pulses = tuple(map(int, self._get_pulses(fields)))
                contacts = tuple(
                    [_LEVELS[fields[at]] if at >= 0 else NOT_READ for at in self._contact_places]
                )
                volts = float(fields[columns.volts]) if columns.volts >= 0 else None
            except (ValueError, KeyError):
                return self._row_slowly(line, fields, problems)
            low, high = PLAUSIBLE_US
            usual = min(pulses) >= low and max(pulses) <= high and 0 <= t_us <= LATEST_US
            if usual and (volts is None or abs(volts) <= _GOOD_VOLTS):
                return Row(line, t_us, pulses, contacts, volts)
        return self._row_slowly(line, fields, problems)

    def _row_slowly(self, line: int, fields: Sequence[str], problems: list[Problem]) -> Row | None:
        columns = self._columns
        if not any(cell.strip() for cell in fields):
            self._notices.add("blank", "a row without any value, skipped", line=line)
            return None
        if len(fields) < columns.width or any(cell.strip() for cell in fields[columns.width :]):
            problems.append(self._wrong_width(line, len(fields)))
            return None
        before = len(problems)
        t_us = self._time(line, fields[columns.time], problems)
        pulses = tuple(
            [
                column.constant
                if column.constant is not None
                else self._pulse(line, column, fields[column.index], problems)
                for column in columns.channels
            ]
        )
        contacts = tuple(
            [
                self._contact(line, name, fields[place] if place >= 0 else "", problems)
                for name, place in columns.contacts
            ]
        )
        volts = self._volts(line, fields[columns.volts]) if columns.volts >= 0 else None
        return Row(line, t_us, pulses, contacts, volts) if len(problems) == before else None

    def tell_fit(self) -> None:
        """Tell the scales that fit badly, once the whole log has been read."""
        for column in self._columns.channels:
            low, high = self._shares.get(column.name, (Decimal(0), Decimal(0)))
            most = max(abs(low), abs(high))
            unit = f"{column.reach[0]}..{column.reach[1]}"
            remedy = f"give its own range, such as --map {column.name}=COLUMN:-90..90"
            if most > Decimal("1.05"):
                said = f"goes to {most:.0%} of the range {unit} it is said to have; {remedy}"
                self._notices.add("beyond", said, key=column.name)
            elif 0 < most <= Decimal("0.1"):
                said = f"uses only {most:.0%} of the range {unit} it is said to have; {remedy}"
                self._notices.add("narrow", said, key=column.name)

    def _wrong_width(self, line: int, found: int) -> Problem:
        said = f"{found} fields where the header has {self._columns.width}"
        remedy = "give every row one field a column"
        if found > self._columns.width and not self._decimal_comma:
            remedy += "; a decimal comma splits a number: write decimal points, or put semicolons between"
        return Problem(f"{self._file}:{line}", "", said, remedy)

    def _number(self, cell: str, line: int, key: str) -> Decimal | None:
        text = cell.strip()
        if self._decimal_comma and "," in text and "." not in text:
            self._notices.add(
                "decimal comma", f"{text!r} has a decimal comma, read as a point", key=key, line=line
            )
            text = text.replace(",", ".")
        if len(text) > LONGEST_NUMBER:
            return None
        try:
            number = Decimal(text)
        except InvalidOperation:
            return None
        beyond_reason = number.is_finite() and number and abs(number.adjusted()) > LONGEST_NUMBER
        return None if number.is_snan() or beyond_reason else number

    def _time(self, line: int, cell: str, problems: list[Problem]) -> int:
        number = self._number(cell, line, TIME)
        if number is None and cell.strip():
            number = self._date(cell, line)
        if (
            number is not None
            and number.is_finite()
            and 0 <= number * self._columns.time_unit_us <= LATEST_US
        ):
            return int((number * self._columns.time_unit_us).to_integral_value(ROUND_HALF_UP))
        said = f"{shortened(cell)} is no time" if cell.strip() else "the time is missing"
        remedy = (
            "a number, 0 or more, in the bound unit (ms without one), or a date with its time (ISO 8601)"
        )
        problems.append(Problem(f"{self._file}:{line}", TIME, said, remedy))
        return 0

    def _date(self, cell: str, line: int) -> Decimal | None:
        """A date with its time of day, in units of the time column; without a zone taken as UTC."""
        try:
            moment = datetime.fromisoformat(cell.strip())
        except (ValueError, OverflowError):
            return None
        self._notices.add("date", "dates with times of day, read as such (ISO 8601)", key=TIME, line=line)
        moment = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
        return Decimal((moment - EPOCH) // timedelta(microseconds=1)) / self._columns.time_unit_us

    def _pulse(self, line: int, column: ChannelColumn, cell: str, problems: list[Problem]) -> int:
        if cell.isdecimal() and len(cell) <= LONGEST_NUMBER and column.scale is Scale.US:
            whole = int(cell)
            if PLAUSIBLE_US[0] <= whole <= PLAUSIBLE_US[1]:
                return whole
        if not cell or cell.isspace():
            self._notices.add("missing", "an empty cell, a missing pulse", key=column.name, line=line)
            return NO_PULSE
        relative = column.scale is not Scale.US
        number = self._number(cell.strip().removesuffix("%") if relative else cell, line, column.name)
        if number is not None and number.is_nan():
            self._notices.add(
                "nan", f"{cell.strip()!r}, read as a missing pulse", key=column.name, line=line
            )
            return NO_PULSE
        pulse = (
            to_us(number, column.scale, column.ends_us, column.reach)
            if number is not None and number.is_finite()
            else None
        )
        if relative and number is not None and number.is_finite():
            share = share_of(number, column.reach)
            low, high = self._shares.get(column.name, (share, share))
            self._shares[column.name] = min(low, share), max(high, share)
        if pulse is None or not 0 <= pulse <= MOST_US:
            problems.append(self._no_pulse(line, column, cell))
            return NO_PULSE
        return self._whole_pulse(line, column, cell, pulse)

    def _whole_pulse(self, line: int, column: ChannelColumn, cell: str, exact: Decimal) -> int:
        pulse = int(exact.to_integral_value(ROUND_HALF_UP))
        low, high = PLAUSIBLE_US
        if pulse == NO_PULSE:
            self._notices.add(
                "zero", f"{cell.strip()!r}, read as a missing pulse", key=column.name, line=line
            )
        elif not low <= pulse <= high:
            said = f"a pulse of {pulse} µs, outside anything usual, handed to the firmware as it is"
            self._notices.add("implausible", said, key=column.name, line=line)
        elif pulse != exact and column.scale is Scale.US:
            self._notices.add(
                "rounded", f"{cell.strip()!r} rounded to whole µs", key=column.name, line=line
            )
        return pulse

    def _no_pulse(self, line: int, column: ChannelColumn, cell: str) -> Problem:
        said = f"{shortened(cell)} is no pulse in {column.scale.value}"
        remedy = f"a pulse in µs, such as 1500, or an empty cell where none came; {scale_hint(column.name)}"
        if column.scale is not Scale.US:
            remedy = "a number in the bound unit, or an empty cell where no pulse came"
        return Problem(f"{self._file}:{line}", column.name, said, remedy)

    def _contact(self, line: int, name: str, cell: str, problems: list[Problem]) -> int:
        level = _LEVELS.get(cell.strip())
        if level is None:
            number = self._number(cell, line, name)
            level = int(number) if number in {Decimal(0), Decimal(1)} else None
        if level is None:
            said = f"{shortened(cell)} is no contact reading"
            problems.append(Problem(f"{self._file}:{line}", name, said, "0 or 1"))
            return NOT_READ
        return level

    def _volts(self, line: int, cell: str) -> float | None:
        if not cell or cell.isspace():
            return None
        number = self._number(cell, line, VOLTS)
        if number is None or not number.is_finite() or abs(number) > _GOOD_VOLTS:
            self._notices.add("volts", f"{shortened(cell)} is no voltage, left out", key=VOLTS, line=line)
            return None
        return float(number)


def shortened(cell: str) -> str:
    """A cell in quotes, of a long one only the beginning."""
    text = cell.strip()
    return repr(text if len(text) <= LONGEST_NUMBER else f"{text[:LONGEST_NUMBER]}...")


def quick_time_us(cell: str, unit_us: int) -> int:
    """A time in whole units, or in ms down to the µs. Raises ValueError for any other spelling."""
    whole, _, rest = cell.partition(".")
    if not rest:
        return int(cell) * unit_us
    if unit_us != US_PER_MS or len(rest) > 3 or not (whole.isdecimal() and rest.isdecimal()):
        raise ValueError(cell)
    return int(whole) * US_PER_MS + int(rest.ljust(3, "0"))


def scale_hint(channel: str) -> str:
    """What to write when a column is in other units than µs."""
    return f"for a column in other units bind it, such as --map {channel}=COLUMN:percent or :-90..90"


def _getter(places: Sequence[int]) -> Callable[[Sequence[str]], Sequence[str]]:
    """The fields at some places, as a sequence however many there are."""
    if len(places) > 1:
        return itemgetter(*places)
    return lambda fields: [fields[place] for place in places]
