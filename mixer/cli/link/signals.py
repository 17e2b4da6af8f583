"""How a person or the system stops a command that listens to a board: Ctrl-C, TERM, a closed terminal.

Signals that were ignored when the program started (nohup, a background job) stay ignored.
"""

import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

from mixer.system import stop_signals


class Stop:
    """Whether the command has been asked to stop."""

    def __init__(self) -> None:
        self.asked = False


@contextmanager
def asked_to_stop() -> Iterator[Stop]:
    """Collect the request in `Stop.asked` instead of interrupting whatever runs."""
    stop = Stop()

    def note(_number: int, _frame: FrameType | None) -> None:
        stop.asked = True

    with _handled(note):
        yield stop


@contextmanager
def stops_as_interrupt() -> Iterator[None]:
    """Every request to stop raises KeyboardInterrupt, so that one way out restores the terminal."""

    def interrupt(_number: int, _frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    with _handled(interrupt):
        yield


@contextmanager
def _handled(handler: Callable[[int, FrameType | None], None]) -> Iterator[None]:
    before: dict[signal.Signals, Any] = {}
    for each in stop_signals():
        if signal.getsignal(each) is not signal.SIG_IGN:
            before[each] = signal.signal(each, handler)
    try:
        yield
    finally:
        for each, old in before.items():
            signal.signal(each, old)
