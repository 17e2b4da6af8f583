"""Frames into a log, so that at most the last half second of it can be lost.

Rows are collected and handed to the operating system whole, every half second of device time, then synced
to the disk: a crash of this program or of the machine costs what was not yet handed over. When the disk is
full, what was written of the last batch is cut back to whole lines. One frame is one row; a pulse that
did not come is an empty cell, exactly as the board said, so the log replays as is.
"""

import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Self

from mixer.board.frames import MOST_CONTACTS, Frame
from mixer.core.plan import Plan
from mixer.errors import WriteError, WrongDeviceError
from mixer.files import GrowingFile
from mixer.link.device_time import DeviceTime
from mixer.link.session import Counts, LinkSession, SessionEvent
from mixer.runs.log.cells import Row
from mixer.runs.log.head import head_text, made_by
from mixer.runs.log.write import LogWriter

BATCH_US = 500_000


@dataclass(frozen=True, slots=True)
class Progress:
    """How a recording stands."""

    rows: int
    seconds: float
    """Device time since the first row."""
    counts: Counts
    resets: int
    pulses_us: tuple[int, ...]
    """The newest row's pulses, 0 where none came."""


class Recorder:
    """Writes one log. Use as a context manager, so that the last rows are handed over."""

    def __init__(
        self,
        path: Path,
        channels: Sequence[str],
        contacts: Sequence[str] = (),
        *,
        overwrite: bool = False,
        head: str = "",
    ) -> None:
        """Create the file, `head` above its header. Raises WriteError where it is, or cannot be made."""
        self._channels, self._contacts = len(channels), min(len(contacts), MOST_CONTACTS)
        self._file = GrowingFile(path, overwrite=overwrite)
        self._lines = io.StringIO(newline="")
        names = list(contacts)[:MOST_CONTACTS]
        self._lines.write(head)
        self._writer = LogWriter(self._lines, channels, names, volts=True)
        self._time = DeviceTime()
        self._handed_us = 0
        self._last_pulses: tuple[int, ...] = ()
        self.rows = 0
        try:
            self._hand_over()
        except WriteError:
            self._file.close()
            raise

    def take(self, events: Iterable[SessionEvent]) -> None:
        """Add the frames among the events.

        Raises:
            WriteError: the disk is full or gone; the file is whole up to the last lines.
            WrongDeviceError: the board has fewer channels than the robot.
        """
        for event in events:
            if isinstance(event, Frame):
                self._row(event)
        if self._time.now_us - self._handed_us >= BATCH_US:
            self._hand_over()

    def progress(self, counts: Counts) -> Progress:
        """How it stands."""
        return Progress(self.rows, self._time.now_us / 1e6, counts, self._time.resets, self._last_pulses)

    def close(self) -> None:
        """Hand over the last rows and close the file. Twice is harmless."""
        try:
            self._hand_over()
        finally:
            self._file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _row(self, frame: Frame) -> None:
        if len(frame.widths) < self._channels:
            said = f"the board has {len(frame.widths)} channels, this robot {self._channels}"
            raise WrongDeviceError(said, "build the pulse reader with as many CHANNELS as the profile has")
        pulses = frame.pulses_us[: self._channels]
        levels = tuple(frame.level(contact) for contact in range(self._contacts))
        volts = None if frame.battery_mv is None else frame.battery_mv / 1000
        self._writer.write(Row(0, self._time.at(frame), pulses, levels, volts))
        self._last_pulses = pulses
        self.rows += 1

    def _hand_over(self) -> None:
        data = self._lines.getvalue().encode()
        self._lines.seek(0)
        self._lines.truncate()
        self._handed_us = self._time.now_us
        if data:
            self._file.append(data)


def recorder_for(path: Path, plan: Plan, *, overwrite: bool = False) -> Recorder:
    """A recorder whose columns are this plan's channels and contacts, in the board's order."""
    channels = [channel.name for channel in plan.channels]
    contacts = [contact.name for contact in plan.contacts]
    return Recorder(path, channels, contacts, overwrite=overwrite, head=head_text(made_by(plan)))


def record(
    session: LinkSession,
    recorder: Recorder,
    keep_on: Callable[[Progress, Sequence[SessionEvent]], bool],
    wait_s: float = 0.1,
) -> Progress:
    """Record until `keep_on`, asked after each batch of events, says no; then close the file.

    Also closes it when interrupted, so that Ctrl-C keeps everything. Raises what `Recorder.take` raises.
    """
    with recorder:
        while True:
            events = session.poll(wait_s)
            recorder.take(events)
            progress = recorder.progress(session.counts)
            if not keep_on(progress, events):
                return progress
