"""How the bench ends when it is told from outside: by TERM or HUP, and when its terminal is gone.

The toolkit draws through a thread of its own and waits for it. A terminal that no longer reads (stopped
with ctrl+s, a window that hangs, a line that went dead) therefore stops the whole program, and what should
end it is never looked at. So a signal is taken by a handler of the operating system, which also runs while
the program waits, and a thread sees to it that the end comes:

    told ──► the bench leaves by itself ──(not within PATIENCE_S)──► its drawing goes nowhere from now on,
    the terminal is put right ──(still not)──► the process ends as it is. Edits are in the recovery file.

The few things here that only POSIX has are looked up by name, so that the module loads elsewhere too.
"""

import asyncio
import contextlib
import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from importlib import import_module
from types import FrameType
from typing import Any

from mixer.errors import OptionError
from mixer.system import stop_signals

PATIENCE_S = 1.0
"""How long each way of ending is given before the next is taken."""
TRIES = 50
"""Of writing to a full terminal, ten milliseconds apart."""
DRAWING_THREAD = "textual-output"
RESTORED = (
    b"\x18\x1b[?2026l\x1b[?1000l\x1b[?1003l\x1b[?1015l\x1b[?1006l\x1b[?1016l\x1b[?2004l\x1b[?2048l\x1b[?7h"
    b"\x1b[<u\x1b[?1049l\x1b[?25h\x1b[?1004l\x1b[0m"
)
"""Takes back every mode that the toolkit sets in a terminal (ECMA-48, xterm's control sequences)."""


def need_terminal() -> None:
    """Raise OptionError where there is no terminal to draw in and to read keys from."""
    if is_served():
        return
    if not all(stream is not None and stream.isatty() for stream in (sys.__stdin__, sys.__stderr__)):
        raise OptionError(
            "the bench needs a terminal to draw in and to read keys from",
            "start it in a terminal window, without < and 2>, or add --browser",
        )


def is_served() -> bool:
    """Whether a page in a browser stands in for the terminal."""
    return "TEXTUAL_DRIVER" in os.environ


class Ends:
    """Ends one running bench on TERM, HUP and INT, with 128 + the signal's number."""

    def __init__(self, leave: Callable[[int], object], close: Callable[[], object]) -> None:
        """`leave` ends the program's loop with an exit code; `close` gives back what it holds."""
        self.code = 0
        """128 + the signal that ended the bench; 0 as long as none has."""
        self._leave, self._close = leave, close
        self._loop: asyncio.AbstractEventLoop | None = None
        self._left = threading.Event()
        self._ending: threading.Thread | None = None
        self._terminal = _attributes()

    def listen(self) -> None:
        """Take the signals from now on. Main thread only."""
        for number in stop_signals():
            signal.signal(number, self._told)
        threading.excepthook = self._thread_failed

    def running(self) -> None:
        """The program's loop runs: `leave` can be asked of it."""
        self._loop = asyncio.get_running_loop()

    def follow_parent(self) -> None:
        """End with the process that started this one, even when that had no time to say so."""
        threading.Thread(target=self._watch_parent, name="bench parent", daemon=True).start()

    def left(self) -> None:
        """The program has ended; wait until a terminal that was in its way is put right."""
        self._left.set()
        if self._ending is not None:
            self._ending.join(PATIENCE_S)

    def _told(self, number: int, _frame: FrameType | None) -> None:
        if not self.code:
            self.code = 128 + number
            self._ending = threading.Thread(target=self._see_to_it, name="bench end", daemon=True)
            self._ending.start()

    def _watch_parent(self) -> None:
        parent = os.getppid()
        while not self._left.wait(PATIENCE_S):
            if os.getppid() != parent:
                self._told(getattr(signal, "SIGHUP", 1), None)

    def _thread_failed(self, failed: Any) -> None:  # noqa: ANN401 - threading's own record
        """A drawing thread fails when its terminal is gone, which is what HUP says."""
        if failed.thread is not None and failed.thread.name == DRAWING_THREAD:
            self._told(getattr(signal, "SIGHUP", 1), None)
        else:
            threading.__excepthook__(failed)

    def _see_to_it(self) -> None:
        while self._loop is None and not self._left.is_set():
            time.sleep(0.02)  # told while still being set up, which takes a moment
        if self._loop is not None:
            with contextlib.suppress(RuntimeError):  # the loop has been closed: it is leaving already
                self._loop.call_soon_threadsafe(self._leave, self.code)
        if self._left.wait(PATIENCE_S):
            return
        with contextlib.suppress(OSError):
            _cut_off()
        if self._left.wait(PATIENCE_S):
            return
        closing = threading.Thread(target=self._close, name="bench close", daemon=True)
        closing.start()
        closing.join(PATIENCE_S)
        _set_attributes(self._terminal)
        os._exit(self.code)


def _cut_off() -> None:
    """Let all further drawing go nowhere, throw away what the terminal has not read, and put it right."""
    assert sys.__stderr__ is not None
    drawn_to = sys.__stderr__.fileno()
    kept = os.dup(drawn_to)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, drawn_to)
    for thread in threading.enumerate():
        if thread.name == DRAWING_THREAD and thread.ident is not None and hasattr(signal, "pthread_kill"):
            signal.pthread_kill(thread.ident, signal.SIGTERM)  # ends its wait; the next try goes nowhere
    os.set_blocking(kept, False)
    try:
        _put_right(kept)
    finally:
        os.set_blocking(kept, True)


def _put_right(terminal: int) -> None:
    """Write what restores a terminal that may still be full: what it has not read makes room for it."""
    termios, left = _termios(), RESTORED
    for _ in range(TRIES):
        if termios is not None:
            with contextlib.suppress(termios.error):
                termios.tcflush(terminal, termios.TCOFLUSH)
        with contextlib.suppress(BlockingIOError):
            left = left[os.write(terminal, left) :]
        if not left:
            return
        time.sleep(0.01)


def _termios() -> Any:  # noqa: ANN401 - a module that only POSIX has
    try:
        return import_module("termios")
    except ImportError:
        return None


def _attributes() -> list[Any] | None:
    """How the terminal's line is set; None where there is no terminal."""
    termios = _termios()
    if termios is None or sys.__stdin__ is None:
        return None
    with contextlib.suppress(termios.error, OSError, ValueError):
        found: list[Any] = termios.tcgetattr(sys.__stdin__.fileno())
        return found
    return None


def _set_attributes(attributes: list[Any] | None) -> None:
    termios = _termios()
    if attributes is not None and sys.__stdin__ is not None:
        with contextlib.suppress(termios.error, OSError, ValueError):
            termios.tcsetattr(sys.__stdin__.fileno(), termios.TCSANOW, attributes)
