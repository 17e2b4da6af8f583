"""The board at the other end of a serial port, opened once for every command that needs it.

`await_board` looks at the first events to see whether a pulse reader answers. `BoardSession` hands those
events out again: a board that restarts when its port is opened sends its frame 0 then, and without that one
a mix on the board cannot be compared from its start.
"""

import argparse
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from mixer.board.frames import Frame
from mixer.cli.shared.console import Console
from mixer.errors import OptionError
from mixer.link.binding import Binding
from mixer.link.ports import Port
from mixer.link.serial_port import BAUD, open_serial
from mixer.link.session import LinkSession, MachineClock, SessionEvent, await_board
from mixer.link.speed import speed_of
from mixer.link.watch import BoardWatch
from mixer.profile.aboard import Tunings

ANSWER_WITHIN_S = 3.0


def add_port(parser: argparse.ArgumentParser) -> None:
    """Where the board is."""
    parser.add_argument(
        "--port", metavar="PATH", help="the board's serial port; `record --list` shows them"
    )
    parser.add_argument(
        "--baud",
        type=int,
        metavar="N",
        help=f"as the board was built; default: as the profile's board is exported, else {BAUD}",
    )


def require_port(args: argparse.Namespace) -> None:
    """Raise OptionError when no port was named, or its speed is none."""
    if not args.port:
        raise OptionError(
            "which port? --port is missing", "`stickwright record --list` shows what is there"
        )
    if args.baud is not None and args.baud <= 0:
        raise OptionError(f"--baud {args.baud} is no speed", "leave it out for the one it is exported with")


class BoardSession(LinkSession):
    """A session whose events are not lost to whoever comes after the wait for the board."""

    _looking = False
    _looked: tuple[SessionEvent, ...] = ()

    def __init__(
        self, opener: Callable[[], Port], binding: Binding, watch: BoardWatch | None = None
    ) -> None:
        """`watch` hears everything as it came, with all the board's channels."""
        super().__init__(opener)
        self._binding, self._watch = binding, watch

    def poll(self, wait_s: float) -> list[SessionEvent]:
        """As a session's, frames in the plan's order; first what was looked at while waiting for the board.

        Raises:
            WrongDeviceError: the frames have not got all of the plan's channels.
        """
        if self._looked and not self._looking:
            looked, self._looked = list(self._looked), ()
            return self._heard(looked)
        events = super().poll(wait_s)
        if self._looking:
            self._looked += tuple(events)
            return events
        return self._heard(events)

    def _heard(self, events: list[SessionEvent]) -> list[SessionEvent]:
        if self._watch is not None:
            self._watch.take(events)
        return [self._bound(event) for event in events]

    def _bound(self, event: SessionEvent) -> SessionEvent:
        return self._binding.bound(event) if isinstance(event, Frame) else event

    def await_frame(self) -> Frame:
        """The board's first frame, which `poll` gives once more. Raises what `await_board` raises."""
        self._looking = True
        try:
            return await_board(self, MachineClock(), ANSWER_WITHIN_S)
        finally:
            self._looking = False


@contextmanager
def open_board(
    args: argparse.Namespace, tunings: Tunings, console: Console, watch: BoardWatch | None = None
) -> Iterator[BoardSession]:
    """A session with a board that answers and has this robot's channels; `watch` hears it too.

    Raises:
        LinkError: the port cannot be opened, is silent, or no fitting pulse reader answers there.
        MissingToolError: pyserial or cobs is not installed.
    """
    binding, baud = Binding(tunings.plan), args.baud or speed_of(tunings)
    session = BoardSession(lambda: open_serial(args.port, baud), binding, watch)
    try:
        with console.live() as show:
            show(f"{args.port} is open, waiting for the board ...")
            frame = session.await_frame()
        binding.bound(frame)
        if len(frame.widths) > len(tunings.plan.channels):
            console.notice(f"the board has {len(frame.widths)} channels; read are {binding.told()}")
        yield session
    finally:
        session.close()


def pulses_line(names: list[str], pulses_us: tuple[int, ...]) -> str:
    """The newest pulses by name, for a live line: ``throttle 1500  arm -  µs``."""
    known = pulses_us or (0,) * len(names)
    shown = (f"{name} {pulse or '-':>4}" for name, pulse in zip(names, known, strict=True))
    return "  ".join(shown) + "  µs"
