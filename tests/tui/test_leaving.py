"""Leaving the bench by any way restores the terminal and loses no edit: the real program on a real pty."""

import os
import pty
import re
import select
import shutil
import signal
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TypeAlias

import pytest

from mixer.live.bench.session import open_session
from mixer.live.tuning.offers import Offers
from tests.lengths import cases

LEFT_SCREEN, CURSOR_SHOWN, MOUSE_OFF = b"\x1b[?1049l", b"\x1b[?25h", b"\x1b[?1000l"
PATIENCE_S = 30.0


class Terminal:
    """One bench on a terminal of its own."""

    def __init__(self, path: Path, *, crash: bool = False) -> None:
        self.master, self.slave = pty.openpty()
        termios.tcsetwinsize(self.slave, (40, 140))
        self.before = termios.tcgetattr(self.slave)
        words = ["-m", "tui", str(path)]
        if crash:
            words = ["-c", CRASHING, str(path)]
        # Test runners set LINES and COLUMNS, which would stand above the terminal's own size.
        environment = {
            name: value for name, value in os.environ.items() if name not in ("LINES", "COLUMNS")
        }
        environment |= {"TERM": "xterm-256color", "COLORTERM": "truecolor"}
        self.process = subprocess.Popen(
            [sys.executable, *words],
            stdin=self.slave, stdout=self.slave, stderr=self.slave, env=environment, start_new_session=True,
        )  # fmt: skip
        self.seen = b""

    def wait_for(self, words: str) -> None:
        """Read until these words have been drawn."""
        end = time.monotonic() + PATIENCE_S
        while words not in plain(self.seen):
            assert time.monotonic() < end, plain(self.seen)[-2000:]
            self._read(0.2)

    def type(self, keys: str) -> None:
        """Press keys."""
        os.write(self.master, keys.encode())

    def ended_unread(self) -> int:
        """The exit code of a bench whose terminal reads nothing until it has ended; then what is left."""
        code = self.process.wait(PATIENCE_S)
        os.write(self.slave, b"$ ")  # the shell's prompt
        while self._read(0.1):
            pass
        return code

    def is_full(self, process_waits_s: float = 1.0) -> bool:
        """Let the bench draw into the terminal, unread, until nothing more goes in."""
        time.sleep(process_waits_s)
        return not select.select([], [self.slave], [], 0)[1]

    def ended(self) -> int:
        """The exit code, everything drawn until then being read."""
        end = time.monotonic() + PATIENCE_S
        while self.process.poll() is None:
            assert time.monotonic() < end, "the bench did not end"
            self._read(0.1)
        while self._read(0.1):
            pass
        return self.process.returncode

    def is_restored(self) -> bool:
        """Whether the terminal is as it was found."""
        modes = self.seen.rfind(LEFT_SCREEN) > self.seen.rfind(b"\x1b[?1049h") >= 0
        return (
            modes
            and CURSOR_SHOWN in self.seen
            and MOUSE_OFF in self.seen
            and termios.tcgetattr(self.slave) == self.before
        )

    def close(self) -> None:
        """End what still runs."""
        self.process.kill()
        self.process.wait()
        os.close(self.master)
        os.close(self.slave)

    def _read(self, patience_s: float) -> bool:
        if not select.select([self.master], [], [], patience_s)[0]:
            return False
        self.seen += os.read(self.master, 65536)
        return True


CRASHING = """
import sys
from tui import __main__, app
class Broken(app.BenchApp):
    def on_mount(self):
        super().on_mount()
        self.set_timer(1.0, lambda: 1 / 0)
__main__.BenchApp = Broken
sys.exit(__main__.main(sys.argv[1:]))
"""


def plain(drawn: bytes) -> str:
    """What was drawn, without the terminal's own codes."""
    return re.sub(r"\x1b\[[0-9;?<>=]*[A-Za-z]", "", drawn.decode(errors="replace"))


@pytest.fixture
def path(tmp_path: Path) -> Iterator[Path]:
    """A profile of one's own to edit."""
    return Path(shutil.copy("profiles/tank_pair.toml", tmp_path))


Start: TypeAlias = Callable[..., Terminal]


@pytest.fixture
def start() -> Iterator[Start]:
    """Starts benches, and ends those that a test leaves behind."""
    opened: list[Terminal] = []

    def begin(path: Path, *, crash: bool = False) -> Terminal:
        opened.append(Terminal(path, crash=crash))
        return opened[-1]

    yield begin
    for terminal in opened:
        terminal.close()


def edited(start: Start, path: Path, *, crash: bool = False) -> Terminal:
    """A bench with one unsaved edit."""
    terminal = start(path, crash=crash)
    terminal.wait_for("hands")
    if not crash:
        terminal.type("t")
        terminal.wait_for("undo 0")
        terminal.type("\x1b[C")
        terminal.wait_for("unsaved")
    return terminal


def is_offered_again(path: Path) -> bool:
    """Whether a next start finds the edit to offer; one that does is seen where the keys leave."""
    session = open_session(path, now_s=0.0)
    found = Offers(session.tuning).next()
    session.close()
    return found is not None


@pytest.mark.parametrize("number", cases([signal.SIGTERM], [signal.SIGHUP]))
def test_signals_restore_the_terminal(start: Start, path: Path, number: signal.Signals) -> None:
    """TERM and HUP end the bench with 128 + number, the terminal as it was, the edit kept."""
    terminal = edited(start, path)
    terminal.process.send_signal(number)

    assert terminal.ended() == 128 + number
    assert terminal.is_restored()
    assert is_offered_again(path)


@pytest.mark.long
@pytest.mark.parametrize("number", cases([signal.SIGHUP], [signal.SIGTERM]))
def test_a_terminal_that_does_not_read_holds_nothing_up(
    start: Start, path: Path, number: signal.Signals
) -> None:
    """With the drawing stuck in a full terminal a signal still ends the bench, and puts all right."""
    terminal = edited(start, path)
    while not terminal.is_full():
        pass
    terminal.process.send_signal(number)

    assert terminal.ended_unread() == 128 + number
    assert terminal.is_restored()
    assert is_offered_again(path)


def test_a_window_that_is_gone_leaves_no_orphan(start: Start, path: Path) -> None:
    """A terminal that vanishes without a word ends the bench like HUP; the edit is kept."""
    terminal = edited(start, path)
    os.close(terminal.slave)
    os.close(terminal.master)
    code = terminal.process.wait(PATIENCE_S)
    terminal.master, terminal.slave = pty.openpty()

    assert code == 128 + signal.SIGHUP
    assert is_offered_again(path)


@pytest.mark.parametrize("command", cases([["-m", "mixer.cli", "bench"]], [["-m", "tui"]]))
def test_without_a_terminal_it_says_so_and_draws_nothing(path: Path, command: list[str]) -> None:
    """Pipes instead of a terminal: exit 2, a remedy in one line, not one escape."""
    done = subprocess.run(
        [sys.executable, *command, str(path)], stdin=subprocess.DEVNULL, capture_output=True, check=False
    )

    assert done.returncode == 2
    assert b"needs a terminal" in done.stderr
    assert b"--browser" in done.stderr
    assert b"\x1b" not in done.stdout + done.stderr


@pytest.mark.long
def test_keys_leave(start: Start, path: Path) -> None:
    """Key q asks about the edit; escape stays; keeping it leaves with 0 and the terminal as it was."""
    terminal = edited(start, path)
    terminal.type("\x1b")
    time.sleep(0.3)
    terminal.type("q")
    terminal.wait_for("keep them unsaved for next time")
    terminal.type("\t\r")

    assert terminal.ended() == 0
    assert terminal.is_restored()
    assert is_offered_again(path)
    start(path).wait_for("earlier run")


def test_ctrl_c_leaves(start: Start, path: Path) -> None:
    """Ctrl-C asks like q does where something is unsaved, and leaves at once where nothing is."""
    terminal = start(path)
    terminal.wait_for("hands")
    terminal.type("\x03")

    assert terminal.ended() == 0
    assert terminal.is_restored()


def test_an_exception_restores_the_terminal(start: Start, path: Path) -> None:
    """Our own bug shows itself after the terminal is as it was."""
    terminal = edited(start, path, crash=True)

    assert terminal.ended() == 70
    assert terminal.is_restored()
    assert "ZeroDivisionError" in plain(terminal.seen)
