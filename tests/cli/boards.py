"""A simulated board at the far end of a real pty, and commands that run against it in their own process.

The board's clock runs faster than the wall's: a frame says 20 ms later than the one before and is sent as
soon as the command takes it. So minutes of a rehearsal take seconds, and no test depends on the machine's
speed: the board sends no frame before the command has read those before it.
"""

import contextlib
import fcntl
import os
import re
import signal
import subprocess
import sys
import termios
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import IO

from mixer.board.frames import Frame, Identity, encode
from mixer.link.rehearse.report import Prompt
from tests.link.frame_strategies import encode_identity
from tests.link.ptys import PtyFarEnd
from tests.link.receivers import ORDER, Person

ROOT = Path(__file__).parents[2]
PAUSE_S = 0.001
MOST_UNREAD = 64
"""Bytes, less than two frames, that may wait in the pty."""
CART = """
[robot]
name = "cart"
tick_ms = 10

[stick.throttle]
receiver = 1

[stick.steer]
receiver = 2

[switch.arm]
receiver = 3

[output.left]
pin = 9
mix = { throttle = 1.0, steer = 1.0 }

[output.right]
pin = 10
mix = { throttle = 1.0, steer = -1.0 }

[guard]
arm = { switch = "arm", position = "on" }
"""
"""The small robot of the link's own tests as a profile; an invention."""

FrameMaker = Callable[[int], Frame | Identity]


def driven(n: int) -> Frame:
    """Four seconds at rest with half a µs of noise and armed, four of sweeping sticks, and again."""
    at = n % 400
    moves = (n * 37 % 800, n * 53 % 800) if at >= 200 else (400, 400)
    widths = (2 * (1100 + moves[0]) + n % 2, 2 * (1100 + moves[1]), 4000 if at >= 50 else 2000)
    return Frame(n & 0xFFFF, 1_000_000 + n * 20_000, widths, 0, 7400)


def unread(far: PtyFarEnd) -> int:
    """How many bytes the command has not read yet; none where the plug is being pulled."""
    count = bytearray(4)
    with contextlib.suppress(OSError):
        fcntl.ioctl(far._slave, termios.FIONREAD, count)
    return int.from_bytes(count, sys.byteorder)


class FastBoard:
    """Writes frames into a pty from a thread; can be unplugged and plugged in again behind one path."""

    def __init__(self, path: Path, frame_of: FrameMaker) -> None:
        self.path = path
        self.sent: list[Frame] = []
        self._frame_of = frame_of
        self._stopped = threading.Event()
        self.plug()
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    def plug(self) -> None:
        """A new pty behind the same path."""
        self._far: PtyFarEnd | None = PtyFarEnd()
        self.path.unlink(missing_ok=True)
        self.path.symlink_to(self._far.path)

    def unplug(self) -> None:
        """Pull the plug; the board itself, on its own supply, runs on."""
        far, self._far = self._far, None
        self.path.unlink()
        if far:
            time.sleep(0.05)  # the thread may be within a write
            far.close()

    def wait_for(self, frames: int) -> None:
        """Until so many frames have been sent."""
        end = time.monotonic() + 60
        while len(self.sent) < frames:
            assert time.monotonic() < end, f"only {len(self.sent)} of {frames} frames were taken"
            time.sleep(0.005)

    def close(self) -> None:
        """Stop the thread and pull the plug."""
        self._stopped.set()
        self._thread.join()
        if self._far:
            self._far.close()

    def _run(self) -> None:
        n = 0
        while not self._stopped.is_set():
            far = self._far
            if far is None or unread(far) < MOST_UNREAD:
                frame = self._frame_of(n)
                n += 1
                if isinstance(frame, Frame):
                    self.sent.append(frame)
                if far:
                    with contextlib.suppress(OSError):
                        far.write(encode(frame) if isinstance(frame, Frame) else encode_identity(frame))
            time.sleep(PAUSE_S)


@contextlib.contextmanager
def board_at(path: Path, frame_of: FrameMaker = driven) -> Iterator[FastBoard]:
    """A board behind `path` for as long as the block runs."""
    board = FastBoard(path, frame_of)
    try:
        yield board
    finally:
        board.close()


class Command:
    """A command in its own process, its stderr read line by line, its stdin open for answers."""

    def __init__(self, *words: object, heard: Callable[[str], None] = lambda _: None) -> None:
        self.narration: list[str] = []
        self._heard = heard
        self._process = subprocess.Popen(
            [sys.executable, "-m", "mixer.cli", *map(str, words)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT,
        )  # fmt: skip
        self._reader = threading.Thread(target=self._listen)
        self._reader.start()

    def answer(self, line: str) -> None:
        """Type a line. A command that is gone does not hear it."""
        with contextlib.suppress(OSError, ValueError):
            os.write(self._stdin.fileno(), f"{line}\n".encode())

    def hang_up(self) -> None:
        """Close its stdin."""
        self._stdin.close()

    def send(self, number: signal.Signals) -> None:
        """Send it a signal."""
        self._process.send_signal(number)

    def wait_for(self, words: str) -> None:
        """Until its narration says so."""
        end = time.monotonic() + 60
        while not any(words in line for line in self.narration):
            assert time.monotonic() < end, self.err
            assert self._process.poll() is None or self._reader.is_alive(), self.err
            time.sleep(0.005)

    def end(self) -> tuple[int, str]:
        """Wait for its end; the exit code and stdout."""
        assert self._process.stdout
        out = self._process.stdout.read()
        code = self._process.wait(60)
        self._reader.join()
        for stream in (self._process.stdin, self._process.stdout, self._process.stderr):
            if stream:
                stream.close()
        return code, out

    @property
    def err(self) -> str:
        """All narration so far."""
        return "\n".join(self.narration)

    @property
    def _stdin(self) -> IO[str]:
        assert self._process.stdin
        return self._process.stdin

    def _listen(self) -> None:
        assert self._process.stderr
        for line in self._process.stderr:
            self.narration.append(line.rstrip("\n"))
            self._heard(self.narration[-1])


class Bench:
    """Receiver, board and a person who reads the command's prompts and answers each once."""

    READING_US = 300_000
    LOOK_UP_S = 0.2
    """So long the board stands still before an answer, for the command to show what it has seen."""
    _PROMPT = re.compile(r"^(?P<step>\w[^:]*): (?P<text>.*?)(?:  \[(?P<answers>.*)\])?$")

    def __init__(self, person: Person) -> None:
        self.person = person
        self.command: Command | None = None
        self.prompts: list[Prompt] = []
        self._answered = self._seen = 0
        """How many prompts there were when the last was answered, and when the last was seen."""
        self._since_us = 0

    def hear(self, line: str) -> None:
        """Take in a line of the command's narration."""
        found = self._PROMPT.match(line)
        if found and not line.startswith(("too soon", "note", "error", "nothing")):
            answers = (found["answers"] or "").split(" / ")
            choices = tuple(answer.split(",")[0] for answer in answers if answer)
            self.prompts.append(Prompt(found["step"], found["text"], choices))

    def frame(self, n: int) -> Frame:
        """Do what the newest prompt asks, and give the pulses that come of it."""
        now_us = n * 20_000
        if self.prompts:
            self._act(now_us)
        pulses = self.person.receiver.pulses(now_us, self.person.on_air())
        widths = tuple(2 * pulses.get(name, 0) for name in ORDER)
        return Frame(n & 0xFFFF, now_us & 0xFFFFFFFF, widths, 0, 7400)

    def _act(self, now_us: int) -> None:
        count = len(self.prompts)
        answer = self.person.act(self.prompts[count - 1], now_us)
        if self._seen != count:
            self._seen, self._since_us = count, now_us
        has_read = now_us - self._since_us >= self.READING_US
        if not (answer and has_read and self.command and self._answered < count):
            return
        time.sleep(self.LOOK_UP_S)
        if len(self.prompts) == count:
            self._answered = count
            self.command.answer(answer)
