"""Ports move bytes and nothing else: the interface, and what every port promises.

A port is open from the moment it exists until `close`. It raises only the children of
`mixer.errors.LinkError`; `mixer.testing.port.check_port` shows whether an implementation keeps the
promises written at the methods. The serial port is in `serial_port`, the one module that knows pyserial.
"""

from abc import ABC, abstractmethod
from types import TracebackType
from typing import Self, final

from mixer.errors import PortClosedError, PortGoneError


class Port(ABC):
    """One open way to a board. Implementations fill in the three hooks; policy is here."""

    def __init__(self, name: str) -> None:
        self.name = name
        """What people call it: ``/dev/ttyUSB0``."""
        self._open = True

    @final
    def read(self, wait_s: float) -> bytes:
        """What has come, waiting at most `wait_s` for the first byte; empty when nothing came.

        Raises:
            PortGoneError: the other side is gone and everything it sent has been read.
            PortClosedError: this side was closed.
        """
        self._require_open()
        return self._read_some(wait_s)

    @final
    def write(self, data: bytes) -> None:
        """Send all the bytes.

        Raises:
            PortGoneError: the other side is gone.
            PortStuckError: the other side has taken nothing for a second.
            PortClosedError: this side was closed.
        """
        self._require_open()
        self._write_all(data)

    @final
    def close(self) -> None:
        """Give the port back. Closing twice is harmless; nothing is raised even if the port is gone."""
        if self._open:
            self._open = False
            self._close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _require_open(self) -> None:
        if not self._open:
            raise PortClosedError(f"{self.name} is closed", "open it again first")

    @abstractmethod
    def _read_some(self, wait_s: float) -> bytes: ...

    @abstractmethod
    def _write_all(self, data: bytes) -> None: ...

    @abstractmethod
    def _close(self) -> None: ...


def gone(name: str) -> PortGoneError:
    """The one wording for a pulled plug."""
    return PortGoneError(f"{name} has gone away", "plug the board in again; the link comes back by itself")
