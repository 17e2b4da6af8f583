"""Everything the commands print, and the exit codes they end with.

stdout is data (tables for people, JSON with --json), stderr is narration (notices, progress, errors).
Colour follows NO_COLOR and is off in pipes; nothing is ever told by colour alone. Text that came from a
file is shown, never obeyed: what would act on a terminal is printed as an escape.
"""

import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import is_dataclass
from enum import IntEnum
from io import TextIOWrapper
from typing import TYPE_CHECKING, Any, TextIO

from mixer.errors import MOST_SHOWN, StdoutError, StickwrightError
from mixer.text import visible

if TYPE_CHECKING:
    from rich.console import Console as RichConsole

# What draws (rich) and what writes JSON are imported on use: starting a command must cost little.


class Exit(IntEnum):
    """What a command's exit code says. A signal that ends a command gives 128 and its number."""

    FINE = 0
    FAILED = 1
    """A rule or a comparison failed."""
    BAD_INPUT = 2
    """The input cannot be used as it is, or the output cannot be written."""
    CRASHED = 70
    """A fault of Stickwright's own (EX_SOFTWARE in BSD's sysexits.h)."""
    INTERRUPTED = 130
    """Ctrl-C."""


PIPE_WIDTH = 110
"""Columns of a table that is not shown in a terminal."""


class Console:
    """The two streams of a command. `as_json` makes stdout carry exactly one JSON document."""

    def __init__(self, *, as_json: bool = False, quiet: bool = False) -> None:
        self.as_json = as_json
        self.quiet = quiet
        self._drawn: RichConsole | None = None
        """What draws lines that change in place, while it does."""
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, TextIOWrapper):
                stream.reconfigure(errors="backslashreplace")

    def say(self, text: str = "") -> None:
        """A line of data for people; silent with --json."""
        if not self.as_json:
            self.raw(visible(text) + "\n")

    def heading(self, text: str) -> None:
        """A line that opens a section; silent with --json."""
        if not self.as_json:
            self._styled(text)

    def raw(self, text: str) -> None:
        """Text for a file or a shell, exactly as it is.

        Raises StdoutError where it cannot be written, BrokenPipeError where nobody reads any more.
        """
        if sys.stdout is None:
            raise StdoutError("standard output is closed")
        try:
            sys.stdout.write(text)
            sys.stdout.flush()
        except BrokenPipeError:
            raise
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            raise StdoutError(f"standard output cannot be written: {reason}") from None

    def table(self, columns: Sequence[str], rows: Iterable[Sequence[str]], *, title: str = "") -> None:
        """A table for people; a column whose heading ends in `>` is flush right. Silent with --json.

        Where it is too wide, lines break, then headings, then words: nothing flush left is ever cut. One of
        figures alone behind its first columns is parted instead of breaking words, first columns repeated.
        """
        if self.as_json:
            return
        headings = [visible(column) for column in columns]
        lines = [[visible(cell) for cell in row] for row in rows]
        width = PIPE_WIDTH if sys.stdout is None else rich_console(sys.stdout).width
        for number, part in enumerate(_parts(headings, lines, width)):
            if number:
                self.say()
            picked = [[row[k] for k in part] for row in lines]
            self._table([headings[k] for k in part], picked, width, title="" if number else title)

    def _table(
        self, columns: Sequence[str], rows: Sequence[Sequence[str]], width: int, *, title: str
    ) -> None:
        from rich.table import Table  # noqa: PLC0415
        from rich.text import Text  # noqa: PLC0415

        table = Table(
            title=visible(title) or None,
            title_justify="left",
            box=None,
            pad_edge=False,
            header_style="bold",
        )
        tight = sum(_needs(columns, rows, broken=False)) - 2 > width
        for column in columns:
            heading = column.rstrip(">")
            right = column.endswith(">")
            table.add_column(
                heading.replace(" ", "\n") if right and tight else heading,
                justify="right" if right else "left",
                no_wrap=right,
                overflow="ellipsis" if right else "fold",
            )
        for row in rows:
            table.add_row(*map(Text, row))
        self._print(table)

    def document(self, data: object) -> None:
        """The one JSON document of a --json run; silent without."""
        if not self.as_json:
            return
        import json  # noqa: PLC0415

        text = json.dumps(as_data(data), indent=2, ensure_ascii=False, allow_nan=False)
        self.raw(visible_json(text) + "\n")

    def notice(self, text: str) -> None:
        """Something the reader should know although the command goes on."""
        if not self.quiet:
            self._tell(f"note: {visible(text)}")

    def notices(self, notices: Sequence[object]) -> None:
        """As many notices as a person reads, and a count of the others."""
        for each in notices[:MOST_SHOWN]:
            self.notice(str(each))
        if len(notices) > MOST_SHOWN:
            self.notice(f"... and {len(notices) - MOST_SHOWN} more of the like")

    def ask(self, what: str, text: str) -> None:
        """What a person has to do or know before the command can go on; shown even when quiet."""
        self._tell(visible(what) + (f": {visible(text)}" if text else ""), bold=visible(what))

    def prompt(self, text: str) -> None:
        """What stands before an answer that is typed on the same line; shown even when quiet."""
        with suppress(OSError, ValueError):
            if sys.stderr is not None:
                sys.stderr.write(visible(text))
                sys.stderr.flush()

    @property
    def is_live(self) -> bool:
        """Whether lines that change in place are shown: on a terminal, and not when quiet."""
        return sys.stderr is not None and sys.stderr.isatty() and not self.quiet

    @contextmanager
    def live(self) -> Iterator[Callable[..., None]]:
        """Lines on stderr that change in place, each call giving all of them; gone when done."""
        if not self.is_live:
            yield lambda *_: None
            return
        from rich.console import Group  # noqa: PLC0415
        from rich.live import Live  # noqa: PLC0415
        from rich.text import Text  # noqa: PLC0415

        with (
            self._drawing() as drawn,
            Live(console=drawn, transient=True, refresh_per_second=8, redirect_stdout=False) as display,
        ):

            def show(*lines: str) -> None:
                texts = (Text(visible(line), no_wrap=True, overflow="ellipsis") for line in lines)
                display.update(Group(*texts))

            yield show

    def error(self, error: StickwrightError) -> None:
        """What is wrong and how to mend it, after all data has been written."""
        with suppress(OSError, ValueError):
            if sys.stdout is not None:
                sys.stdout.flush()
        self._tell(visible(f"error: {error}", keep="\n"))

    @contextmanager
    def progress(self, what: str, total: float) -> Iterator["Meter"]:
        """A progress bar on stderr for anything that may take over a second; gone when done."""
        if not self.is_live:
            yield Meter()
            return
        from rich.progress import (  # noqa: PLC0415
            BarColumn,
            Progress,
            TaskProgressColumn,
            TextColumn,
            TimeRemainingColumn,
        )

        told = TextColumn("{task.description}", markup=False)
        columns = (told, BarColumn(), TaskProgressColumn(), TimeRemainingColumn())
        with self._drawing() as drawn, Progress(*columns, console=drawn, transient=True) as bar:
            task = bar.add_task(visible(what), total=total)
            yield Meter(lambda done: bar.update(task, completed=done))

    @contextmanager
    def _drawing(self) -> Iterator["RichConsole"]:
        self._drawn = drawn = rich_console(sys.stderr)
        try:
            yield drawn
        finally:
            self._drawn = None

    def _tell(self, text: str, bold: str = "") -> None:
        """A line on stderr, above what changes in place; that stderr is full or closed is no failure."""
        with suppress(OSError, ValueError):
            if self._drawn is not None or (sys.stderr is not None and sys.stderr.isatty()):
                from rich.text import Text  # noqa: PLC0415

                shown = Text(text)
                shown.stylize("bold", 0, len(bold))
                (self._drawn or rich_console(sys.stderr)).print(shown, soft_wrap=not bold)
            elif sys.stderr is not None:
                sys.stderr.write(text + "\n")
                sys.stderr.flush()

    def _styled(self, text: str) -> None:
        if sys.stdout is not None and sys.stdout.isatty():
            from rich.text import Text  # noqa: PLC0415

            self._print(Text(visible(text), style="bold"), soft_wrap=True)
        else:
            self.raw(visible(text) + "\n")

    def _print(self, shown: object, *, soft_wrap: bool = False) -> None:
        """What rich makes of it, through the one door to stdout."""
        if sys.stdout is None:
            self.raw("")
        drawn = rich_console(sys.stdout)
        with drawn.capture() as captured:
            drawn.print(shown, soft_wrap=soft_wrap)
        self.raw(captured.get())


def as_data(thing: object) -> Any:  # noqa: ANN401  what JSON knows
    """Anything as what JSON knows: frozen objects as their types say, enumerations by their values."""
    from pydantic import TypeAdapter  # noqa: PLC0415
    from pydantic_core import to_jsonable_python  # noqa: PLC0415

    if is_dataclass(thing):
        return TypeAdapter(type(thing)).dump_python(thing, mode="json", by_alias=True)
    if isinstance(thing, Mapping):
        return {name: as_data(value) for name, value in thing.items()}
    if isinstance(thing, list | tuple):
        return [as_data(each) for each in thing]
    return to_jsonable_python(thing)


def _parts(columns: Sequence[str], rows: Sequence[Sequence[str]], width: int) -> list[list[int]]:
    """The columns of each table that one has to be parted into to stand in so many characters."""
    lead = next((k for k, column in enumerate(columns) if column.endswith(">")), len(columns))
    needs = _needs(columns, rows, broken=True)
    figures = range(lead, len(columns))
    of_figures = bool(lead) and bool(figures) and all(columns[k].endswith(">") for k in figures)
    if not of_figures or sum(needs) - 2 <= width:
        return [list(range(len(columns)))]
    parts: list[list[int]] = []
    room = 0
    for k in figures:
        if needs[k] > room or not parts:
            parts.append(list(range(lead)))
            room = width + 2 - sum(needs[:lead])
        parts[-1].append(k)
        room -= needs[k]
    return parts


def _needs(columns: Sequence[str], rows: Sequence[Sequence[str]], *, broken: bool) -> list[int]:
    """What each column of a table takes at least, and the gap behind it, without a broken word.

    Flush right no line is broken either, but a heading's where that may be `broken`.
    """
    return [_least(column, [row[k] for row in rows], broken=broken) for k, column in enumerate(columns)]


def _least(column: str, cells: Sequence[str], *, broken: bool) -> int:
    right, heading = column.endswith(">"), column.rstrip(">")
    pieces = list(cells) if right else " ".join(cells).split()
    pieces += [heading] if right and not broken else heading.split()
    return 2 + max(map(len, pieces), default=0)


class Meter:
    """Tells a progress bar how far the work has come."""

    def __init__(self, tell: Callable[[float], None] = lambda _: None) -> None:
        self._tell = tell

    def at(self, done: float) -> None:
        """`done` of the total is finished."""
        self._tell(done)


def visible_json(text: str) -> str:
    """JSON whose strings hold no character that would act: each as an escape that JSON readers undo."""
    if visible(text, keep="\n") == text:
        return text
    return "".join(c if c == "\n" or visible(c) == c else _json_escape(c) for c in text)


def _json_escape(character: str) -> str:
    units = character.encode("utf-16-be", errors="surrogatepass").hex()
    return "".join(f"\\u{units[at : at + 4]}" for at in range(0, len(units), 4))


def rich_console(file: TextIO) -> "RichConsole":
    """What knows a terminal's width and colours."""
    from rich.console import Console as RichConsole  # noqa: PLC0415

    class Told(RichConsole):
        """A closed pipe is told to `main`, not ended with 1 as rich does by itself."""

        def on_broken_pipe(self) -> None:
            raise BrokenPipeError

    width = None if file.isatty() else PIPE_WIDTH
    return Told(file=file, highlight=False, width=width, soft_wrap=False, legacy_windows=None)
