"""Reading a log: recorded inputs over time, one frozen row after the other.

The format is CSV (RFC 4180) with a header: ``t_ms`` (0 or more, rising), one column a channel in µs, one a
contact as the level read (0 or 1), optionally ``volts``. An empty cell is a missing pulse; an empty contact
stays as it was. Line ends CRLF, LF or CR. A last line without its line end that cannot be read was torn
by a crash, and is skipped.

What can be understood without doubt is put right and told (`LogReader.notices`); what cannot is refused
with every problem found, `MOST_PROBLEMS` at most. The reader holds one row at a time.
"""

import os
from collections.abc import Collection, Iterator
from contextlib import closing
from pathlib import Path
from typing import BinaryIO, TextIO

from mixer.core.plan import Plan
from mixer.errors import LogError, Problem
from mixer.runs.clock import US_PER_MS, US_PER_S
from mixer.runs.log.cells import Cells, Row
from mixer.runs.log.columns import Columns, Wanted, find_columns, wanted_by
from mixer.runs.log.inspect import inspect
from mixer.runs.log.lines import Records, open_text
from mixer.runs.log.mapping import TIME, Mapping
from mixer.runs.log.notices import Notice, Notices

MOST_PROBLEMS = 20
GAP_US = 100 * US_PER_MS
"""A silence longer than five nominal frames is told."""
LONGEST_GAP_US = 600 * US_PER_S
"""A silence longer than this is no drive: two logs in one, or times in another unit."""
MOST_SILENCE_US = 3600 * US_PER_S
"""Of all silences together: a few rows must not stand for days of ticks."""


class LogReader:
    """One log file. Reading starts anew with every `rows()`.

    Raises LogError at once for a file or header that cannot be used, and from `rows()` for rows.
    """

    def __init__(self, path: Path, wanted: Wanted, mapping: Mapping | None = None) -> None:
        self.path = path
        self._wanted = wanted
        self._mapping = mapping or Mapping()
        self._notices = Notices(str(path))
        self._raw: BinaryIO | None = None
        self._size = self._silent_us = 0
        text, raw = self._open()
        with closing(text):
            self._size = os.fstat(raw.fileno()).st_size
            records = Records(text, self._notices)
            columns = self._columns(records, self._notices)
            inspect(str(path), columns, records)

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What was put right so far; complete once `rows()` has been read to its end."""
        return self._notices.listed()

    @property
    def progress(self) -> float:
        """How much of the file has been read, 0 to 1."""
        if self._raw is None or self._raw.closed:
            return 1.0
        return min(self._raw.tell() / max(self._size, 1), 1.0)

    def rows(self) -> Iterator[Row]:
        """Every row in the order of its time. Raises LogError for all rows that cannot be read."""
        self._notices = Notices(str(self.path))
        text, self._raw = self._open()
        with closing(text):
            records = Records(text, self._notices)
            columns = self._columns(records, self._notices)
            cells = Cells(str(self.path), columns, records.separator, self._notices)
            yield from self._checked(records, cells)
            cells.tell_fit()

    def _open(self) -> tuple[TextIO, BinaryIO]:
        return open_text(self.path)

    def _columns(self, records: Records, notices: Notices) -> Columns:
        return find_columns(str(self.path), records.header(), self._wanted, self._mapping, notices)

    def _checked(self, records: Records, cells: Cells) -> Iterator[Row]:
        problems: list[Problem] = []
        self._silent_us = settled = 0
        before: Row | None = None
        line = 0
        for line, fields, trouble in records:
            settled = len(problems)
            if settled >= MOST_PROBLEMS:
                break
            if trouble:
                problems.append(
                    Problem(f"{self.path}:{line}", "", f"cannot be split: {trouble}", "mend the quotes")
                )
                continue
            row = cells.row(line, fields, problems)
            if row is None:
                continue
            if before is not None and not 0 < row.t_us - before.t_us <= GAP_US:
                self._check_order(before, row, problems)
            before = row
            if not problems:
                yield row
        if records.torn and line == records.line and len(problems) > settled:
            del problems[settled:]
            self._notices.add("torn", "the last line breaks off, skipped", line=line)
        if problems:
            raise LogError(problems)
        if before is None:
            raise LogError(
                [Problem(str(self.path), "", "holds no row", "record a log, or give another file")]
            )

    def _check_order(self, before: Row, row: Row, problems: list[Problem]) -> None:
        where = f"{self.path}:{row.line}"
        step = row.t_us - before.t_us
        if step < 0:
            said = f"goes back from {before.t_us / US_PER_MS:g} to {row.t_us / US_PER_MS:g} ms"
            remedy = "sort the rows by time, or split the log here if the recorder started anew"
            problems.append(Problem(where, TIME, said, remedy))
        elif step > LONGEST_GAP_US:
            said = f"jumps by {step / US_PER_S:g} s to {row.t_us / US_PER_MS:g} ms"
            remedy = f"split the log here, or give the unit of the time: --map {TIME}={TIME}:us"
            problems.append(Problem(where, TIME, said, remedy))
        elif step == 0:
            said = f"{row.t_us / US_PER_MS:g} ms comes twice, the later row wins"
            self._notices.add("repeated", said, key=TIME, line=row.line)
        else:
            self._silent_us += step
            if self._silent_us > MOST_SILENCE_US:
                said = f"by now no row came for over {MOST_SILENCE_US // US_PER_S} s in all, as in no drive"
                problems.append(Problem(where, TIME, said, "split the log where the driving pauses"))
            said = f"no row for {step / US_PER_MS:g} ms; the firmware sees missing pulses"
            self._notices.add("gap", said, key=TIME, line=row.line)


def open_log(
    path: Path, plan: Plan, mapping: Mapping | None = None, unused: Collection[str] = ()
) -> LogReader:
    """A reader of the inputs a plan needs. `unused`: the profile's names this loadout leaves out."""
    return LogReader(path, wanted_by(plan, unused), mapping)
