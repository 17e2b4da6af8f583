"""A pseudo-terminal as the far end of a serial cable."""

import os
import pty
import select
import tty
from types import TracebackType
from typing import Self


class PtyFarEnd:
    """The board's side of a pty pair; `path` is what the port under test opens."""

    def __init__(self) -> None:
        self._master, self._slave = pty.openpty()
        tty.setraw(self._slave)
        self.path = os.ttyname(self._slave)

    def read(self, wait_s: float) -> bytes:
        """What has come, waiting at most so long."""
        ready, _, _ = select.select([self._master], [], [], wait_s)
        return os.read(self._master, 4096) if ready else b""

    def write(self, data: bytes) -> None:
        """Send all the bytes."""
        os.write(self._master, data)

    def close(self) -> None:
        """Pull the plug. Twice is harmless."""
        if self._master >= 0:
            os.close(self._slave)
            os.close(self._master)
            self._master = -1

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
