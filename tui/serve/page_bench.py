"""The bench behind one page: a process of its own, fed with keys and read for what it draws.

The toolkit speaks packets over the process's standard streams: a letter (D what is typed or drawn, M a
message about it), four bytes of length, the bytes. Before the first packet stands a line that says so.
"""

import asyncio
import json
import os
from collections.abc import AsyncIterator, Mapping, Sequence

DRIVER = "textual.drivers.web_driver:WebDriver"
PRELUDE = b"__GANGLION__\n"
"""What the toolkit writes before its first packet."""
TIME_TO_LEAVE_S = 1.0
"""How long a bench gets to keep its edits and go, before it is ended."""
COLUMNS, ROWS = (20, 400), (5, 150)
"""The least and most of a page's terminal: a page may ask for anything."""
MOST_PACKET = 8_000_000


class PageBench:
    """One bench process."""

    def __init__(self, command: Sequence[str], width: int, height: int) -> None:
        self._command = tuple(command)
        self._size = _within(width, COLUMNS), _within(height, ROWS)
        self._process: asyncio.subprocess.Process | None = None

    async def start(self) -> None:
        """Begin. No shell stands in between, so that the process that ends is the bench."""
        self._process = await asyncio.create_subprocess_exec(
            *self._command,
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
            stderr=None,
            env=_environment(*self._size),
        )

    async def pictures(self) -> AsyncIterator[bytes]:
        """What it draws, piece by piece, from when it is up until it ends."""
        try:
            while await self._out.readuntil(b"\n") != PRELUDE:
                pass
            while True:
                kind = await self._out.readexactly(1)
                length = int.from_bytes(await self._out.readexactly(4), "big")
                packet = await self._out.readexactly(min(length, MOST_PACKET))
                if kind == b"D":
                    yield packet
                elif kind == b"M" and json.loads(packet).get("type") == "exit":
                    return
        except (asyncio.IncompleteReadError, asyncio.LimitOverrunError, ValueError):
            return

    async def type(self, keys: str) -> None:
        """Keys and mouse, as a terminal sends them."""
        await self._send(b"D", keys.encode(errors="replace"))

    async def resize(self, width: int, height: int) -> None:
        """The page's terminal has another size."""
        await self._tell(type="resize", width=_within(width, COLUMNS), height=_within(height, ROWS))

    async def look(self, *, there: bool) -> None:
        """Whether somebody looks at the page."""
        await self._tell(type="focus" if there else "blur")

    async def end(self) -> None:
        """End it, whatever it is doing; it keeps its edits as it goes. Harmless when it has ended."""
        process = self._process
        if process is None or process.returncode is not None:
            return
        for stop in (process.terminate, process.kill):
            try:
                stop()
                await asyncio.wait_for(process.wait(), TIME_TO_LEAVE_S)
            except ProcessLookupError:
                return
            except TimeoutError:
                continue
            return

    @property
    def _out(self) -> asyncio.StreamReader:
        assert self._process is not None
        assert self._process.stdout is not None
        return self._process.stdout

    async def _tell(self, **message: str | int) -> None:
        await self._send(b"M", json.dumps(message).encode())

    async def _send(self, kind: bytes, payload: bytes) -> None:
        assert self._process is not None
        assert self._process.stdin is not None
        try:
            self._process.stdin.write(kind + len(payload).to_bytes(4, "big") + payload)
            await self._process.stdin.drain()
        except (ConnectionError, RuntimeError):
            return  # it has ended; `pictures` says so


def _environment(width: int, height: int) -> Mapping[str, str]:
    return dict(os.environ) | {
        "TEXTUAL_DRIVER": DRIVER,
        "TEXTUAL_COLOR_SYSTEM": "truecolor",
        "COLORTERM": "truecolor",  # what draws the terminal in the page can show every colour
        "COLUMNS": str(width),
        "ROWS": str(height),
    }


def _within(value: int, ends: tuple[int, int]) -> int:
    return min(max(value, ends[0]), ends[1])
