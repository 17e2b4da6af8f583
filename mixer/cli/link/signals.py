"""How a person or the system stops a command that listens to a board: Ctrl-C, TERM, a closed terminal.

Signals that were ignored when the program started (nohup, a background job) stay ignored.
"""

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

from mixer.cli.shared.ends import handled


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

    with handled(note, _not_ignored):
        yield stop


@contextmanager
def stops_as_interrupt() -> Iterator[None]:
    """Every request to stop raises KeyboardInterrupt, so that one way out restores the terminal."""

    def interrupt(_number: int, _frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    with handled(interrupt, _not_ignored):
        yield


def _not_ignored(old: object) -> bool:
    return old is not signal.SIG_IGN
