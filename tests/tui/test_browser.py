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
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import aiohttp
import pytest

from mixer.errors import MissingToolError, OptionError
from tui.browser import is_ours, serve, server_for

CHROMIUM = [
    "chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--window-size=1600,900",
]  # fmt: skip


SLACK = 4.0
"""Times a promised time that a machine with other work may take."""
DRAWN = "document.body && document.body.classList.contains('-first-byte')"
FETCHED = "performance.getEntriesByType('resource').map(entry => entry.name)"


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a bench served on a free port of this machine."""
    folder = tmp_path_factory.mktemp("served")
    with running(folder / "tank.toml") as (_, address):
        yield address


@contextmanager
def running(path: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """A serving command for a copy of a profile at `path`, and its address; ended afterwards."""
    shutil.copy("profiles/tank_pair.toml", path)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "mixer.cli", "bench", str(path), "--browser", "--web-port", str(port)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as process:
        try:
            assert process.stdout is not None
            address = process.stdout.readline().split()[4]
            for _ in range(200):
                if status(address):
                    break
                time.sleep(0.05)
            yield process, address
        finally:
            process.terminate()
            process.wait(20)


def status(address: str, **headers: str) -> int:
    """The status of the page, with these headers."""
    request = urllib.request.Request(address, headers=headers)
    try:
        with urllib.request.urlopen(request, timeout=5) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as error:
        return int(error.code)
    except OSError:
        return 0


def root(address: str) -> str:
    """The server's own address, without the secret."""
    return address.rsplit("/", 2)[0]


def test_only_its_own_page_is_answered(served: str) -> None:
    """Another host name or the script of another site gets 403; the own page gets in."""
    port = root(served).rpartition(":")[2]
    assert status(served) == 200
    assert status(served, Origin=root(served)) == 200
    assert status(served, Origin="http://evil.example") == 403
    assert status(served, Host="evil.example") == 403
    assert status(served, Host=f"evil.example:{port}") == 403


def test_without_the_secret_nothing_is_served(served: str) -> None:
    """Another account on this machine knows the port and not the address: no page, no socket."""
    guess = served[:-3] + ("aa/" if served[-3:] != "aa/" else "bb/")
    assert len(served.rsplit("/", 2)[1]) >= 20
    assert status(root(served) + "/") == 404
    assert status(guess) == 403
    assert asyncio.run(opened(guess + "ws", root(served))) == 403
    assert asyncio.run(opened(root(served) + "/ws", root(served))) == 404


async def opened(address: str, origin: str | None) -> int:
    """What opening a socket there is answered with."""
    async with aiohttp.ClientSession() as client:
        try:
            async with client.ws_connect(address, origin=origin):
                return 101
        except aiohttp.WSServerHandshakeError as error:
            return error.status


def test_the_socket_is_guarded_too(served: str) -> None:
    """A foreign page cannot open the socket that moves the sticks, nor can what tells no origin."""
    assert asyncio.run(opened(served + "ws", "http://evil.example")) == 403
    assert asyncio.run(opened(served + "ws", None)) == 403
    assert asyncio.run(opened(served + "ws", root(served).replace("127.0.0.1", "localhost"))) == 101


def test_no_page_may_frame_the_bench(served: str) -> None:
    """A foreign page cannot lay the bench under its own clicks, nor can the page fetch from elsewhere."""
    with urllib.request.urlopen(served, timeout=5) as answer:
        assert answer.headers["X-Frame-Options"] == "DENY"
        assert answer.headers["Referrer-Policy"] == "no-referrer"
        policy = answer.headers["Content-Security-Policy"]
    assert "frame-ancestors 'none'" in policy
    assert set(re.findall(r"(?:https?|wss?)://[^ ;]+", policy)) == {root(served).replace("http", "ws")}


def benches_of(path: Path) -> int:
    """How many processes run a bench of this profile, whatever shell stands around them."""
    listed = subprocess.run(["ps", "-eo", "args"], capture_output=True, text=True, check=True).stdout
    return sum("-m tui" in line and str(path) in line for line in listed.splitlines())


def until_gone(path: Path, within_s: float) -> None:
    """Wait until no bench of this profile runs."""
    deadline = time.monotonic() + within_s
    while count := benches_of(path):
        assert time.monotonic() < deadline, f"{count} still run"
        time.sleep(0.05)


async def drawn(address: str, bytes_: int, act: Callable[[], object]) -> int:
    """Open a page's socket, read so much of what it draws, act, and read on until it closes."""
    seen = 0
    async with (
        aiohttp.ClientSession() as client,
        client.ws_connect(address + "ws", origin=root(address)) as page,
    ):
        async for message in page:
            before, seen = seen, seen + len(message.data)
            if before <= bytes_ < seen and act() is False:
                break
    return seen


@pytest.mark.long
def test_a_bench_ends_with_its_page_and_with_its_server(tmp_path: Path) -> None:
    """Closing the page ends its bench within 3 s; Ctrl-C, once or often, ends server and benches in 2 s.

    The profile's name is one that a shell would act on, were there one in between.
    """
    path = tmp_path / "it's a $(touch made_by_a_shell).toml"
    with running(path) as (process, address):
        assert asyncio.run(asyncio.wait_for(drawn(address, 4000, lambda: False), 20)) > 4000
        until_gone(path, 3 * SLACK)

        def interrupt() -> None:
            process.send_signal(signal.SIGINT)
            process.send_signal(signal.SIGINT)

        assert asyncio.run(asyncio.wait_for(drawn(address, 4000, interrupt), 20)) > 4000
        assert process.wait(2 * SLACK) == 128 + signal.SIGINT
        until_gone(path, 1)
    assert [found.name for found in tmp_path.glob("*made_by*.toml")] == [path.name]
    assert not Path("made_by_a_shell").exists()


def test_pages_that_are_closed_before_their_bench_is_up_leave_nothing(tmp_path: Path) -> None:
    """Reloaded ten times as fast as it goes, no bench stays behind."""
    path = tmp_path / "tank.toml"

    async def reload(address: str) -> None:
        for _ in range(10):
            assert await opened(address + "ws", root(address)) == 101

    with running(path) as (_, address):
        asyncio.run(asyncio.wait_for(reload(address), 30))
        until_gone(path, 3 * SLACK)


@pytest.mark.long
def test_no_more_than_eight_benches(tmp_path: Path) -> None:
    """The ninth page is refused and told why; when one has been closed there is room again."""
    path = tmp_path / "tank.toml"

    async def nine(address: str) -> None:
        async with aiohttp.ClientSession() as client:
            pages = [await client.ws_connect(address + "ws", origin=root(address)) for _ in range(8)]
            assert await opened(address + "ws", root(address)) == 503
            assert await asyncio.to_thread(status, address) == 503
            await pages.pop().close()
            while await asyncio.to_thread(status, address) != 200:
                await asyncio.sleep(0.1)
            for page in pages:
                await page.close()

    with running(path) as (_, address):
        asyncio.run(asyncio.wait_for(nine(address), 60))
        until_gone(path, 3 * SLACK)


@pytest.mark.parametrize(
    "message",
    ["x" * 20_000, "[" * 9000, "{}", "[]", '["stdin"]', '["stdin", 1]', '["resize", {"width": "a"}]', "1"],
)
def test_a_message_no_page_sends_closes_the_socket(served: str, message: str) -> None:
    """Too long, no JSON, or of no known shape: the socket is closed, and its bench with it."""

    async def sent() -> int | None:
        async with (
            aiohttp.ClientSession() as client,
            client.ws_connect(served + "ws", origin=root(served), max_msg_size=0) as page,
        ):
            await page.send_str(message)
            async for _ in page:
                pass
            return page.close_code

    assert asyncio.run(asyncio.wait_for(sent(), 20)) in (1008, 1009)


@pytest.mark.long
def test_a_size_is_kept_within_reason(served: str) -> None:
    """A page of a million columns gets a bench of four hundred: no message makes it take gigabytes."""

    async def sizes() -> int:
        address = f"{served}ws?width=999999999&height=99999"
        async with (
            aiohttp.ClientSession() as client,
            client.ws_connect(address, origin=root(served), max_msg_size=0) as page,
        ):
            await page.send_json(["resize", {"width": 10**9, "height": 10**9}])
            most = 0
            async for message in page:
                most += len(message.data)
                if most > 200_000:
                    break
            columns = re.findall(rb"\x1b\[(\d+);(\d+)H", bytes(message.data))
            return max((int(column) for _, column in columns), default=0)

    assert asyncio.run(asyncio.wait_for(sizes(), 30)) <= 401


def test_without_the_package_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without textual-serve there is a remedy instead of a traceback."""
    monkeypatch.setitem(sys.modules, "textual_serve", None)
    with pytest.raises(MissingToolError, match=r"pip install textual-serve"):
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
    text = Path("tui/serve/app_index.html").read_text(encoding="utf-8")
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


async def look(page: str, folder: Path, profile: Path) -> tuple[list[str], bytes]:
    """What the page in a real browser fetched, and its picture; two keys are typed at once, no click."""
    user = folder / "user"
    words = [*CHROMIUM, "--remote-debugging-port=0", f"--user-data-dir={user}", page]
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
                await ask.key("t", "KeyT", "t")  # the very first keys, each once
                await ask.key("ArrowRight", "ArrowRight", "")
                while not list(profile.parent.glob(f".{profile.name}.*.unsaved")):
                    await asyncio.sleep(0.1)
                await asyncio.sleep(0.5)
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

    async def key(self, key: str, code: str, text: str) -> None:
        """Press a key and let go of it."""
        numbers = {"KeyT": 84, "ArrowRight": 39}
        same = {"key": key, "code": code, "windowsVirtualKeyCode": numbers[code]}
        await self("Input.dispatchKeyEvent", type="keyDown", text=text, **same)
        await self("Input.dispatchKeyEvent", type="keyUp", **same)

    async def value(self, expression: str) -> Any:  # noqa: ANN401
        """The value of an expression in the page."""
        result = await self("Runtime.evaluate", expression=expression, returnByValue=True)
        return result["result"].get("value")


@pytest.mark.needs_tool("chromium")
def test_a_real_browser_shows_the_bench(tmp_path: Path) -> None:
    """In headless Chromium the bench is drawn, hears the first key, and fetches only from this server."""
    path = tmp_path / "tank.toml"
    with running(path) as (_, address):
        fetched, picture = asyncio.run(asyncio.wait_for(look(address, tmp_path, path), 60))
        (tmp_path / "bench.png").write_bytes(picture)
        assert fetched
        assert [url for url in fetched if not url.startswith(f"{root(address)}/")] == []
        assert len(picture) > 40_000
        until_gone(path, 3 * SLACK)
