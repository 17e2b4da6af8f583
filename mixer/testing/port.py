"""What every port must do, as a check that anyone who writes one can run.

`check_port(maker)` takes a function that gives a fresh open port and its far end, anything with
``read(wait_s)``, ``write(data)`` and ``close()`` where closing pulls the port's plug.
"""

from collections.abc import Callable
from typing import Protocol

from mixer.errors import LinkError, PortClosedError, PortGoneError
from mixer.link.ports import Port

EVERY_BYTE = bytes(range(256))
PATIENCE_S = 0.5


class FarEnd(Protocol):
    """The other side of the cable."""

    def read(self, wait_s: float) -> bytes:
        """What has come, waiting at most so long for the first byte."""
        ...

    def write(self, data: bytes) -> None:
        """Send all the bytes."""
        ...

    def close(self) -> None:
        """Pull the plug."""
        ...


def check_port(maker: Callable[[], tuple[Port, FarEnd]]) -> None:
    """Raise AssertionError naming the first promise of `mixer.link.ports.Port` that is broken."""
    _carries_every_byte(maker)
    _waits_no_longer_than_asked(maker)
    _closing_is_final_and_harmless(maker)
    _tells_a_pulled_plug(maker)


def _carries_every_byte(maker: Callable[[], tuple[Port, FarEnd]]) -> None:
    port, far = maker()
    with port:
        far.write(EVERY_BYTE)
        got = _read_all(port, 256)
        assert got == EVERY_BYTE, f"reading changed the bytes: {got!r}"
        port.write(EVERY_BYTE[::-1])
        got = _read_all(far, 256)
        assert got == EVERY_BYTE[::-1], f"writing changed the bytes: {got!r}"
    far.close()


def _read_all(end: FarEnd, size: int) -> bytes:
    data = b""
    while len(data) < size:
        more = end.read(PATIENCE_S)
        assert more, f"only {len(data)} of {size} bytes came"
        data += more
    return data


def _waits_no_longer_than_asked(maker: Callable[[], tuple[Port, FarEnd]]) -> None:
    port, far = maker()
    with port:
        assert port.read(0) == b"", "something came from nowhere"
        assert port.read(0.01) == b"", "something came from nowhere"
        far.write(b"later")
        assert _read_all(port, 5) == b"later", "a read that came too early swallowed bytes"
    far.close()


def _closing_is_final_and_harmless(maker: Callable[[], tuple[Port, FarEnd]]) -> None:
    port, far = maker()
    port.close()
    port.close()
    for use in (lambda: port.read(0), lambda: port.write(b"x")):
        error = _error_of(use)
        assert isinstance(error, PortClosedError), f"use after closing gave {error!r}"
    far.close()


def _tells_a_pulled_plug(maker: Callable[[], tuple[Port, FarEnd]]) -> None:
    port, far = maker()
    far.close()
    errors = [_error_of(lambda: port.read(0.1)) for _ in range(3)]
    assert isinstance(errors[-1], PortGoneError), f"reading with the plug pulled gave {errors[-1]!r}"
    port.close()
    assert str(errors[-1]).count("remedy:") == 1, "the message does not say what to do"


def _error_of(use: Callable[[], object]) -> LinkError | None:
    try:
        use()
    except LinkError as error:
        return error
    return None
