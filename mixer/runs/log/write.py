"""Writing a log in the project's own form: RFC 4180, CRLF, whole or tenths of milliseconds as needed."""

import csv
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import TextIO

from mixer.runs.clock import US_PER_MS
from mixer.runs.log.cells import NO_PULSE, NOT_READ, Row
from mixer.runs.log.mapping import TIME, VOLTS


class LogWriter:
    """Writes rows to a text file opened with ``newline=""``.

    A row is handed to the file as a whole line, so that a crash tears the last one at most.
    """

    def __init__(
        self, file: TextIO, channels: Sequence[str], contacts: Sequence[str] = (), *, volts: bool = False
    ) -> None:
        self._writer = csv.writer(file, lineterminator="\r\n")
        self._volts = volts
        self._writer.writerow([TIME, *channels, *contacts, *([VOLTS] if volts else [])])

    def write(self, row: Row) -> None:
        """One row; its line number is not used."""
        cells: list[str | int] = [time_text(row.t_us)]
        cells += ["" if pulse == NO_PULSE else pulse for pulse in row.pulses]
        cells += ["" if level == NOT_READ else level for level in row.contacts]
        if self._volts:
            cells.append("" if row.volts is None else f"{row.volts:.3f}".rstrip("0").rstrip("."))
        self._writer.writerow(cells)


def time_text(t_us: int) -> str:
    """Microseconds as milliseconds without loss: 20500 -> 20.5."""
    whole, rest = divmod(t_us, US_PER_MS)
    return str(whole) if not rest else str(whole + Decimal(rest).scaleb(-3)).rstrip("0")


def write_log(
    file: TextIO,
    rows: Iterable[Row],
    channels: Sequence[str],
    contacts: Sequence[str] = (),
    *,
    volts: bool = False,
) -> None:
    """A whole log at once."""
    writer = LogWriter(file, channels, contacts, volts=volts)
    for row in rows:
        writer.write(row)
