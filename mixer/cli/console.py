"""Everything the commands print, and the exit codes they end with.

stdout is data (tables for people, JSON with --json), stderr is narration (notices, progress, errors).
Colour follows NO_COLOR and is off in pipes; nothing is ever told by colour alone.
"""

import json
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from enum import IntEnum
from typing import TextIO

from rich.console import Console as RichConsole
from rich.console import Group
from rich.live import Live
from rich.progress import BarColumn, Progress, TaskID, TaskProgressColumn, TextColumn, TimeRemainingColumn
from rich.table import Table
from rich.text import Text

from mixer.errors import StickwrightError


class Exit(IntEnum):
    """What a command's exit code says."""

    FINE = 0
    FAILED = 1
    """A rule or a comparison failed."""
    BAD_INPUT = 2
    """The input cannot be used as it is."""
    INTERRUPTED = 130
    """Ctrl-C."""


PIPE_WIDTH = 110
"""Columns of a table that is not shown in a terminal."""


class Console:
    """The two streams of a command. `as_json` makes stdout carry exactly one JSON document."""

    def __init__(self, *, as_json: bool = False, quiet: bool = False) -> None:
        self.as_json = as_json
        self.quiet = quiet
        self._out = _stream(sys.stdout)
        self._err = _stream(sys.stderr)

    def say(self, text: str = "") -> None:
        """A line of data for people; silent with --json."""
        if not self.as_json:
            self._out.print(Text(text), soft_wrap=True)

    def heading(self, text: str) -> None:
        """A line that opens a section; silent with --json."""
        if not self.as_json:
            self._out.print(Text(text, style="bold"), soft_wrap=True)

    def raw(self, text: str) -> None:
        """Text for a file or a shell, exactly as it is."""
        sys.stdout.write(text)
        sys.stdout.flush()

    def table(self, columns: Sequence[str], rows: Iterable[Sequence[str]], *, title: str = "") -> None:
        """A table for people; a column whose heading ends in `>` is flush right. Silent with --json."""
        if self.as_json:
            return
        table = Table(
            title=title or None, title_justify="left", box=None, pad_edge=False, header_style="bold"
        )
        for column in columns:
            right = column.endswith(">")
            table.add_column(column.rstrip(">"), justify="right" if right else "left", no_wrap=right)
        for row in rows:
            table.add_row(*(Text(cell) for cell in row))
        self._out.print(table)

    def document(self, data: object) -> None:
        """The one JSON document of a --json run; silent without."""
        if self.as_json:
            self.raw(json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n")

    def notice(self, text: str) -> None:
        """Something the reader should know although the command goes on."""
        if not self.quiet:
            self._err.print(Text(f"note: {text}"), soft_wrap=True)

    def ask(self, what: str, text: str) -> None:
        """What a person has to do or know before the command can go on; shown even when quiet."""
        asked = Text.assemble((what, "bold"), f": {text}" if text else "")
        self._err.print(asked, soft_wrap=not self._err.is_terminal)

    @property
    def is_live(self) -> bool:
        """Whether lines that change in place are shown: on a terminal, and not when quiet."""
        return self._err.is_terminal and not self.quiet

    @contextmanager
    def live(self) -> Iterator[Callable[..., None]]:
        """Lines on stderr that change in place, each call giving all of them; gone when done."""
        if not self.is_live:
            yield lambda *_: None
            return
        with Live(
            console=self._err, transient=True, refresh_per_second=8, redirect_stdout=False
        ) as display:

            def show(*lines: str) -> None:
                texts = (Text(line, no_wrap=True, overflow="ellipsis") for line in lines)
                display.update(Group(*texts))

            yield show

    def error(self, error: StickwrightError) -> None:
        """What is wrong and how to mend it, after all data has been written."""
        sys.stdout.flush()
        for line in f"error: {error}".splitlines():
            self._err.print(Text(line), soft_wrap=True)

    @contextmanager
    def progress(self, what: str, total: float) -> Iterator["Meter"]:
        """A progress bar on stderr for anything that may take over a second; gone when done."""
        columns = (
            TextColumn("{task.description}"),
            BarColumn(),
            TaskProgressColumn(),
            TimeRemainingColumn(),
        )
        hidden = self.quiet or not self._err.is_terminal
        with Progress(*columns, console=self._err, transient=True, disable=hidden) as bar:
            yield Meter(bar, bar.add_task(what, total=total))


class Meter:
    """Tells a progress bar how far the work has come."""

    def __init__(self, bar: Progress, task: TaskID) -> None:
        self._bar = bar
        self._task = task

    def at(self, done: float) -> None:
        """`done` of the total is finished."""
        self._bar.update(self._task, completed=done)


def _stream(file: TextIO) -> RichConsole:
    shown = file.isatty()
    return RichConsole(file=file, highlight=False, width=None if shown else PIPE_WIDTH, soft_wrap=False)
