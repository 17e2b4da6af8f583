"""The bench in a browser: served to its own page only, with no request to anywhere else."""

import asyncio
import base64
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import aiohttp
import pytest

from mixer.errors import MissingToolError, OptionError
from tui.browser import TEMPLATES, is_ours, serve, server_for

CHROMIUM = [
    "chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--window-size=1600,900",
]  # fmt: skip


DRAWN = "document.body && document.body.classList.contains('-first-byte')"
FETCHED = "performance.getEntriesByType('resource').map(entry => entry.name)"


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    """A bench served on a free port of this machine."""
    folder = tmp_path_factory.mktemp("served")
    with running(folder / "tank.toml") as (_, port):
        yield port


@contextmanager
def running(path: Path) -> Iterator[tuple[subprocess.Popen[bytes], int]]:
    """A serving command for a copy of a profile at `path`, and its port; ended afterwards."""
    shutil.copy("profiles/tank_pair.toml", path)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "mixer.cli", "bench", str(path), "--browser", "--web-port", str(port)]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as process:
        try:
            for _ in range(200):
                if status(port) == 200:
                    break
                time.sleep(0.05)
            yield process, port
        finally:
            process.terminate()
            process.wait(20)


def status(port: int, **headers: str) -> int:
    """The status of the page, with these headers."""
    request = urllib.request.Request(f"http://127.0.0.1:{port}/", headers=headers)
    try:
        with urllib.request.urlopen(request, timeout=5) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as error:
        return int(error.code)
    except OSError:
        return 0


def test_only_its_own_page_is_answered(served: int) -> None:
    """Another host name or the script of another site gets 403; the own page gets in."""
    assert status(served) == 200
    assert status(served, Origin=f"http://127.0.0.1:{served}") == 200
    assert status(served, Origin="http://evil.example") == 403
    assert status(served, Host="evil.example") == 403
    assert status(served, Host=f"evil.example:{served}") == 403


def test_the_socket_is_guarded_too(served: int) -> None:
    """A foreign page cannot open the socket that moves the sticks."""

    async def opened(origin: str) -> int:
        async with aiohttp.ClientSession() as client:
            try:
                async with client.ws_connect(f"http://127.0.0.1:{served}/ws", origin=origin):
                    return 101
            except aiohttp.WSServerHandshakeError as error:
                return error.status

    assert asyncio.run(opened("http://evil.example")) == 403
    assert asyncio.run(opened(f"http://localhost:{served}")) == 101


def test_no_page_may_frame_the_bench(served: int) -> None:
    """A foreign page cannot lay the bench under its own clicks, nor can the page fetch from elsewhere."""
    with urllib.request.urlopen(f"http://127.0.0.1:{served}/", timeout=5) as answer:
        assert answer.headers["X-Frame-Options"] == "DENY"
        policy = answer.headers["Content-Security-Policy"]
    assert "frame-ancestors 'none'" in policy
    assert set(re.findall(r"(?:https?|wss?)://[^ ;]+", policy)) == {f"ws://127.0.0.1:{served}"}


def benches_of(path: Path) -> int:
    """How many processes run a bench of this profile, whatever shell stands around them."""
    listed = subprocess.run(["ps", "-eo", "args"], capture_output=True, text=True, check=True).stdout
    return sum("-m tui" in line and str(path) in line for line in listed.splitlines())


def until_gone(path: Path) -> None:
    """Wait until no bench of this profile runs."""
    deadline = time.monotonic() + 20
    while count := benches_of(path):
        assert time.monotonic() < deadline, f"{count} still run"
        time.sleep(0.05)


def test_a_bench_ends_with_its_page_and_with_its_server(tmp_path: Path) -> None:
    """Closing the page ends its bench, and so does Ctrl-C, once or often, under an open page.

    The profile's name is one that a shell would act on, were it not quoted.
    """
    path = tmp_path / "it's a $(touch made_by_a_shell).toml"

    async def opened(port: int, *, closing: bool) -> int:
        address = f"http://127.0.0.1:{port}/ws"
        async with aiohttp.ClientSession() as client, client.ws_connect(address) as page:
            seen = 0
            async for message in page:
                seen += len(message.data)
                if seen > 4000:
                    if closing:
                        break
                    process.send_signal(signal.SIGINT)
            return seen

    with running(path) as (process, port):
        assert asyncio.run(asyncio.wait_for(opened(port, closing=True), 20)) > 4000
        until_gone(path)
        assert asyncio.run(asyncio.wait_for(opened(port, closing=False), 20)) > 4000
        assert process.wait(20) == 0
        until_gone(path)
    assert [found.name for found in tmp_path.glob("*made_by*")] == [path.name]
    assert not Path("made_by_a_shell").exists()


def test_without_the_package_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without textual-serve there is a remedy instead of a traceback."""
    monkeypatch.setitem(sys.modules, "textual_serve.server", None)
    monkeypatch.delitem(sys.modules, "tui.serve.guarded", raising=False)
    with pytest.raises(MissingToolError, match=r"pip install 'stickwright\[browser\]'"):
        server_for([], "127.0.0.1", 8765)


def test_a_taken_port_is_told_before_anything_is_served() -> None:
    """A port that another program has, and an address that is not this machine's, end in one message."""
    told: list[str] = []
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(OptionError, match="--web-port"):
            serve([], "127.0.0.1", taken.getsockname()[1], told.append)
    with pytest.raises(OptionError, match="an address of this machine"):
        serve([], "192.0.2.99", 8765, told.append)  # RFC 5737: never anybody's
    assert told == []


def test_the_page_asks_nobody_else() -> None:
    """The page's own text names no other host."""
    text = (TEMPLATES / "app_index.html").read_text()
    assert re.findall(r"https?://|//[a-z]", text) == []


@pytest.mark.parametrize(
    ("host", "origin", "address", "fine"),
    [
        ("127.0.0.1:8765", None, "127.0.0.1", True),
        ("localhost:8765", "http://localhost:8765", "127.0.0.1", True),
        ("127.0.0.1:8766", None, "127.0.0.1", False),
        ("127.0.0.1:8765", "https://127.0.0.1:8765", "127.0.0.1", False),
        ("127.0.0.1:8765", "null", "127.0.0.1", False),
        ("robot.lan:8765", None, "127.0.0.1", False),
        ("10.0.0.5:8765", "http://10.0.0.5:8765", "10.0.0.5", True),
        ("localhost:8765", None, "10.0.0.5", False),
        ("[::1]:8765", "http://[::1]:8765", "::1", True),
        ("127.0.0.1", "http://127.0.0.1", "127.0.0.1", False),
    ],
)
def test_hosts_and_origins(host: str, origin: str | None, address: str, fine: bool) -> None:
    """Host and Origin have to be exactly the server's (RFC 9110 7.2, RFC 6454)."""
    assert is_ours(host, origin, address, 8765) is fine


async def look(port: int, folder: Path) -> tuple[list[str], bytes]:
    """What the page in a real browser fetched, and its picture once the bench has drawn itself."""
    user = folder / "user"
    words = [*CHROMIUM, "--remote-debugging-port=0", f"--user-data-dir={user}", f"http://127.0.0.1:{port}/"]
    browser = await asyncio.create_subprocess_exec(
        *words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        active = user / "DevToolsActivePort"
        while not active.exists() or not active.read_text().strip():
            await asyncio.sleep(0.05)
        tools = active.read_text().split()[0]
        async with aiohttp.ClientSession() as client:
            address = ""
            while not address:
                async with client.get(f"http://127.0.0.1:{tools}/json") as answer:
                    pages = [page for page in await answer.json() if page["type"] == "page"]
                address = pages[0]["webSocketDebuggerUrl"] if pages else ""
            async with client.ws_connect(address, max_msg_size=0) as socket_:
                ask = Asking(socket_)
                while not await ask.value(DRAWN):
                    await asyncio.sleep(0.1)
                await asyncio.sleep(1.5)
                fetched = await ask.value(FETCHED)
                shot = await ask("Page.captureScreenshot")
        return fetched, base64.b64decode(shot["data"])
    finally:
        browser.terminate()
        await browser.wait()


class Asking:
    """Questions to the browser, one at a time."""

    def __init__(self, socket_: aiohttp.ClientWebSocketResponse) -> None:
        self._socket = socket_
        self._number = 0

    async def __call__(self, method: str, **params: object) -> Any:  # noqa: ANN401
        """Call a method of the browser; its result."""
        self._number += 1
        await self._socket.send_json({"id": self._number, "method": method, "params": params})
        while True:
            answer = await self._socket.receive_json()
            if answer.get("id") == self._number:
                return answer["result"]

    async def value(self, expression: str) -> Any:  # noqa: ANN401
        """The value of an expression in the page."""
        result = await self("Runtime.evaluate", expression=expression, returnByValue=True)
        return result["result"].get("value")


@pytest.mark.needs_tool("chromium")
def test_a_real_browser_shows_the_bench(served: int, tmp_path: Path) -> None:
    """In headless Chromium the terminal draws the bench, and the page fetches only from this server."""
    fetched, picture = asyncio.run(asyncio.wait_for(look(served, tmp_path), 60))
    (tmp_path / "bench.png").write_bytes(picture)
    assert fetched
    assert [url for url in fetched if not url.startswith(f"http://127.0.0.1:{served}/")] == []
    assert len(picture) > 40_000
