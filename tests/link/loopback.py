"""A cable without a cable: a port whose far end a test holds."""

import threading
from typing import final

from mixer.link.ports import Port, gone


class _Pipe:
    """One direction of a loopback."""

    def __init__(self) -> None:
        self.changed = threading.Condition()
        self.waiting = bytearray()
        self.ended = False


@final
class LoopbackPort(Port):
    """One end of a pair: what is written to one is read from the other. Threads may hold an end each."""

    def __init__(self, name: str, incoming: _Pipe, outgoing: _Pipe) -> None:
        super().__init__(name)
        self._incoming = incoming
        self._outgoing = outgoing

    def _read_some(self, wait_s: float) -> bytes:
        pipe = self._incoming
        with pipe.changed:
            pipe.changed.wait_for(lambda: pipe.waiting or pipe.ended, wait_s)
            data = bytes(pipe.waiting)
            pipe.waiting.clear()
            if not data and pipe.ended:
                raise gone(self.name)
        return data

    def _write_all(self, data: bytes) -> None:
        with self._outgoing.changed:
            if self._outgoing.ended:
                raise gone(self.name)
            self._outgoing.waiting += data
            self._outgoing.changed.notify_all()

    def _close(self) -> None:
        for pipe in (self._incoming, self._outgoing):
            with pipe.changed:
                pipe.ended = True
                pipe.changed.notify_all()


def loopback_pair(name: str = "loopback") -> tuple[LoopbackPort, LoopbackPort]:
    """Two ends of a cable without a cable. Closing one end is pulling the other's plug."""
    one, other = _Pipe(), _Pipe()
    return LoopbackPort(name, one, other), LoopbackPort(f"{name} (far end)", other, one)
