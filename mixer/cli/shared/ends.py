"""How a command ends: by itself, by a signal, by a reader that has gone, or by a fault of our own."""

import os
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from types import FrameType
from typing import Any

from mixer.cli.shared.console import Console, Exit
from mixer.errors import StickwrightError, WriteError
from mixer.system import stop_signals

SIGNALLED = 128
"""Added to a signal's number in the exit code of what it ended, as shells do."""


class Stopped(BaseException):
    """A signal asks the program to end. No Exception: nothing but `main` may take it for its own."""

    def __init__(self, number: int) -> None:
        super().__init__(number)
        self.code = SIGNALLED + number


@contextmanager
def stopping_raises() -> Iterator[None]:
    """Signals that would end the program at once raise `Stopped`, so that files and children are tidied.

    Ctrl-C raises KeyboardInterrupt, as always. What was ignored at the start (nohup) stays ignored.
    """

    def stop(number: int, _frame: FrameType | None) -> None:
        raise Stopped(number)

    with handled(stop, lambda old: old is signal.SIG_DFL):
        yield


@contextmanager
def handled(
    handler: Callable[[int, FrameType | None], None], in_place_of: Callable[[object], bool]
) -> Iterator[None]:
    """Signals that ask a program to stop go to a handler, where what handled them so far is such a one."""
    before: dict[int, Any] = {}
    for each in stop_signals():
        if in_place_of(signal.getsignal(each)):
            with suppress(ValueError):  # not the main thread
                before[each] = signal.signal(each, handler)
    try:
        yield
    finally:
        for number, old in before.items():
            signal.signal(number, old)


def silence_stdout() -> None:
    """Whatever is still waiting for a stdout that takes no more goes nowhere, without a word at exit."""
    with suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def crashed(error: Exception, arguments: Sequence[str], console: Console) -> Exit:
    """Tell that this was our fault, and where the report is."""
    import tempfile  # noqa: PLC0415 - only a crash needs them
    from pathlib import Path  # noqa: PLC0415

    from mixer.files import write_file  # noqa: PLC0415

    path = Path(tempfile.gettempdir()) / f"stickwright-report-{os.getpid()}.txt"
    try:
        write_file(path, _report(error, arguments))
        remedy = f"your files are as they were; a report for the developers is in {path}"
    except WriteError as unwritten:
        remedy = f"your files are as they were; no report for the developers: {unwritten.said}"
    said = f"{type(error).__name__}: {error}".splitlines()[0][:300]
    console.error(StickwrightError(f"this is a fault of stickwright itself: {said}", remedy))
    return Exit.CRASHED


def _report(error: Exception, arguments: Sequence[str]) -> str:
    import platform  # noqa: PLC0415
    import traceback  # noqa: PLC0415

    lines = [
        f"stickwright {' '.join(arguments)}",
        f"Python {sys.version} on {platform.platform()}",
        *traceback.format_exception(error),
    ]
    return "\n".join(lines).encode(errors="backslashreplace").decode()
