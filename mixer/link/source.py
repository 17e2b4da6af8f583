"""A pulse reader on a serial port as a source: a thread reads, the bench takes the newest.

The thread puts each frame's pulses into a slot; a pulse not yet fetched is replaced by a newer one, never
queued. When the board is unplugged nothing arrives any more, and the firmware's own fail-safe does what it
would do on the robot; when it is back, pulses come again by themselves.
"""

import threading
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Protocol

from mixer.board.frames import Frame
from mixer.core.plan import Plan
from mixer.errors import WrongDeviceError
from mixer.link.binding import Binding
from mixer.link.serial_port import BAUD, open_serial
from mixer.link.session import (
    Counts,
    HeldLow,
    LinkSession,
    Quiet,
    Replugged,
    SessionEvent,
    Unplugged,
    Unreadable,
)
from mixer.link.watch import BoardWatch, News
from mixer.live.views.status import LinkView
from mixer.profile.aboard import Tunings

WAIT_S = 0.05
SILENT_TICKS_S = 0.2
"""Without a frame for this long an open link is called quiet."""
TAPPED_EVENTS = 5000
"""Ten seconds at a frame a tick: nobody who listens stays away for longer."""


class Polled(Protocol):
    """What `mixer.link.session.LinkSession` is to the bench."""

    counts: Counts

    def poll(self, wait_s: float) -> list[SessionEvent]:
        """What has happened, waiting at most so long."""
        ...

    def close(self) -> None:
        """Give the port back."""
        ...


class LinkSource:
    """The source ``link``."""

    mode = "link"

    def __init__(self, port: str, open_session: Callable[[], Polled], tunings: Tunings) -> None:
        """Open the port; raises what the opener raises (LinkError, MissingToolError)."""
        self.port = port
        self._session = open_session()
        self._lock = threading.Lock()
        self._pulses: dict[int, int] = {}
        self._contacts: int | None = None
        self._view = LinkView("waiting", f"{port} is open, no frame yet", port)
        self._frames_seen = 0
        self._silent_ticks = 0
        self._watch = BoardWatch(tunings)
        """Of the reading thread alone; what it has to say is put down here for everybody."""
        self._board, self._news = self._watch.view(), list[News]()
        self._tapped: deque[SessionEvent] | None = None
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        self.change_plan(tunings.plan)

    def follow(self, tunings: Tunings) -> None:
        """Another tuning is in use: what the board runs is told against that one from now on."""
        self._watch.follow(tunings)

    def news(self) -> Sequence[News]:
        """What is to be told of the board since the last call."""
        with self._lock:
            told, self._news = self._news, []
        return told

    def change_plan(self, plan: Plan) -> None:
        """Go on with a changed plan."""
        self._plan, self._binding = plan, Binding(plan)
        self._silent_after = round(SILENT_TICKS_S * 1000 / plan.tick_ms)

    def start(self) -> None:
        """Read in a thread of its own, until `close`."""
        self._thread = threading.Thread(target=self._work, name="link reader", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Stop reading and give the port back."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join(timeout=2.0)
        else:
            self._session.close()

    def poll_once(self, wait_s: float = 0.0) -> None:
        """Read what has come (the thread does this all the time)."""
        events = self._session.poll(wait_s)
        self._watch.study()
        self._watch.take(events)
        with self._lock:
            self._board = self._watch.view()
            self._news += self._watch.news()
            for event in events:
                try:
                    self._take(self._binding.bound(event) if isinstance(event, Frame) else event)
                except WrongDeviceError as error:
                    self._say("unfit", f"{error.said}: {error.remedy}")

    def view(self) -> LinkView:
        """How the link stands."""
        with self._lock:
            view, counts, board = self._view, self._session.counts, self._board
        if view.state == "connected" and self._silent_ticks > self._silent_after:
            view = replace(view, state="quiet", words=f"{self.port} is open and has gone quiet")
        return replace(
            view,
            frames=counts.frames,
            dropped=counts.lost,
            bad=counts.bad,
            unplugged=counts.unplugged,
            board=board,
        )

    def inputs(self, tick: int, readings: Sequence[int]) -> list[int]:
        """The newest pulses not yet fetched, and contacts as the board reads them."""
        del tick
        with self._lock:
            pulses, self._pulses = self._pulses, {}
            levels = self._contacts
            fresh = self._frames_seen
            self._frames_seen = 0
        self._silent_ticks = 0 if fresh else self._silent_ticks + 1
        read = list(readings) if levels is None else [levels >> bit & 1 for bit in range(len(readings))]
        return [pulses.get(number, 0) for number in range(len(self._plan.channels))] + read

    def tap(self, on: bool) -> None:
        """Keep all that the link says for `tapped` from now on, or no more."""
        with self._lock:
            self._tapped = deque(maxlen=TAPPED_EVENTS) if on else None

    def tapped(self) -> Sequence[SessionEvent]:
        """Frames and all else that has happened since the last call, while `tap` is on."""
        with self._lock:
            events = tuple(self._tapped or ())
            if self._tapped:
                self._tapped.clear()
        return events

    def _work(self) -> None:
        try:
            while not self._stop.is_set():
                self.poll_once(WAIT_S)
        except Exception as error:  # whatever ends the reader must show on the screen
            with self._lock:
                self._view = LinkView("lost", f"the reader of {self.port} has ended: {error}", self.port)
        finally:
            self._session.close()

    def _take(self, event: SessionEvent) -> None:
        if self._tapped is not None:
            self._tapped.append(event)
        match event:
            case Frame():
                newer = {number: pulse for number, pulse in enumerate(event.pulses_us) if pulse}
                self._pulses |= newer
                self._contacts = event.contacts
                self._frames_seen += 1
                self._say("connected", f"{self.port} sends frames")
            case Unplugged():
                self._say("lost", f"{self.port} has gone away; it is tried again until it is back")
            case Replugged():
                self._say("waiting", f"{self.port} is back, no frame yet")
            case HeldLow():
                self._say("low", f"{self.port} gives only zeros: its wire is held low")
            case Quiet():
                self._say("quiet", f"{self.port} is open and nothing comes")
            case Unreadable():
                self._say(
                    "unreadable", f"{self.port} sends bytes and no frame: baud rate, or another device?"
                )

    def _say(self, state: str, words: str) -> None:
        if state != self._view.state:
            self._view = LinkView(state, words, self.port)


def open_source(
    port: str, tunings: Tunings, opener: Callable[[], Polled] | None = None, *, baud: int = BAUD
) -> LinkSource:
    """A pulse reader on a port, being read. Raises LinkError or MissingToolError.

    `opener` stands in for the serial port, in tests and for other kinds of ports.
    """
    link = LinkSource(port, opener or (lambda: LinkSession(lambda: open_serial(port, baud))), tunings)
    link.start()
    return link
