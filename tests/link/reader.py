"""The firmware's pulse reader on this machine, as tests feed it edges."""

import ctypes as c

from tests.link.firmware import build_host


class Reader:
    """A `reader_t`, watched often enough, in unwrapped half microseconds."""

    def __init__(self, channels: int, *, pulse_sum: bool = False, levels: int = 0) -> None:
        self._lib = build_host(channels, pulse_sum=pulse_sum)
        self._it = c.create_string_buffer(1024)
        self._channels = channels
        self.now = 0
        self._lib.reader_init(self._it, c.c_uint16(levels))

    def edge(self, time: int, levels: int) -> None:
        """Wires change at a time not before the last one."""
        self.watch(time)
        self._lib.reader_edge(self._it, c.c_uint16(time), c.c_uint16(levels))

    def watch(self, time: int) -> None:
        """Let time pass, a look every 20 ms."""
        while self.now < time:
            self.now = min(self.now + 40_000, time)
            self._lib.reader_watch(self._it, c.c_uint16(self.now))

    def take(self) -> list[int]:
        """The newest widths."""
        widths = (c.c_uint16 * 16)()
        self._lib.reader_take(self._it, widths)
        return list(widths[: self._channels])
