"""A recording while it runs: what the live lines show, what is worth a notice, and when it ends."""

from collections.abc import Callable, Sequence

from mixer.board.frames import Frame, WrongVersion
from mixer.cli.link.board import pulses_line
from mixer.cli.link.quiet import QuietWatch
from mixer.cli.link.signals import Stop
from mixer.cli.shared.console import Console
from mixer.link.recorder import Progress
from mixer.link.session import HeldLow, Quiet, Replugged, SessionEvent, Unplugged, Unreadable
from mixer.link.watch import BoardWatch
from mixer.runs.clock import US_PER_S, Clock

OVERTIME_US = US_PER_S
"""How much longer than asked a recording waits on this machine's clock for a board that sends nothing."""


class Recording:
    """Asked after every batch of events whether to go on; keeps what the report needs."""

    def __init__(
        self,
        names: Sequence[str],
        watch: BoardWatch,
        seconds: float | None,
        console: Console,
        clock: Clock,
        stop: Stop,
    ) -> None:
        """`names` are the channels', in the order of frames; `watch` hears the same board."""
        self._names = list(names)
        self._watch = watch
        self._seconds = seconds
        self._console = console
        self._clock = clock
        self._stop = stop
        self._begin_us = clock.now_us()
        self._link = "ok"
        self._back_after: float | None = None
        """Device time at which the port went away, until frames come again."""
        self.quiet = QuietWatch(self._names)

    def keep_on(
        self, show: Callable[..., None], progress: Progress, events: Sequence[SessionEvent]
    ) -> bool:
        """Take in a batch; whether to go on recording."""
        for event in events:
            self._take(event)
        for words, _ in self._watch.news():
            self._console.notice(words)
        show(self._counters(progress), pulses_line(self._names, progress.pulses_us))
        return not self._stop.asked and not self._is_over(progress)

    @property
    def was_stopped(self) -> bool:
        """By a person or the system, not by --seconds."""
        return self._stop.asked

    def _is_over(self, progress: Progress) -> bool:
        if self._seconds is None:
            return False
        waited_us = self._clock.now_us() - self._begin_us
        return progress.seconds >= self._seconds or waited_us >= self._seconds * US_PER_S + OVERTIME_US

    def _take(self, event: SessionEvent) -> None:
        match event:
            case Frame():
                self._frame(event)
            case Unplugged(said):
                self._link, self._back_after = "unplugged, waiting", self.quiet.seconds
                self._console.notice(
                    f"{said}. Plug it in again and the recording goes on; stopping keeps what is there"
                )
            case Replugged():
                self._link = "back, no frame yet"
            case HeldLow():
                self._link = "held low"
                self._console.notice("only zeros come: the wire that carries the frames is held low")
            case Quiet():
                self._link = "silent"
                self._console.notice("nothing has come for a second: is the board powered?")
            case Unreadable():
                self._link = "unreadable"
                self._console.notice("bytes come, but no frames: another device, or another baud rate?")
            case WrongVersion(number):
                self._link = f"frames of version {number}"

    def _frame(self, frame: Frame) -> None:
        resets = self.quiet.resets
        self.quiet.take(frame)
        self._link = "ok"
        if self._back_after is None:
            return
        gap = f"the log has a gap of {self.quiet.seconds - self._back_after:.2f} s"
        if self.quiet.resets > resets:
            gap = "the board began anew, so the log goes on after one frame; the true gap is not known"
        self._back_after = None
        self._console.notice(f"the board is back, recording goes on; {gap}")

    def _counters(self, progress: Progress) -> str:
        counts = progress.counts
        return (
            f"recording {progress.seconds:7.1f} s  {progress.rows} rows  dropped {counts.drop_rate:.2%}  "
            f"bad frames {counts.bad}  link {self._link}   Ctrl-C stops"
        )
