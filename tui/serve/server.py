"""The web server that answers only its own page. Imported on use: it is the one door to aiohttp.

A page of another site, open in the same browser, reaches this machine's addresses too, and so do other
people's programs on it. What keeps them from the sticks: every address holds a secret that only the person
who started the server has seen; Host and Origin have to be this server's own (tui.browser.is_ours), a
socket without an Origin is refused; no page may show the bench inside a frame, where clicks meant for that
page would land on the bench. Everything a page can ask for has a bound.
"""

import asyncio
import json
import secrets
import signal
from collections.abc import Awaitable, Callable, Sequence
from contextlib import suppress
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from aiohttp import WSCloseCode, WSMsgType, web

from mixer.system import stop_signals
from tui.browser import address_of, is_ours
from tui.serve.page_bench import PageBench

PAGE = Path(__file__).parent / "app_index.html"
MOST_BENCHES = 8
MOST_MESSAGE = 16_384
"""Bytes of one message of a page: keys, a paste of a few pages of text."""
GONE = "The bench of this address is not here: open the address that the command printed.\n"
FULL = f"{MOST_BENCHES} benches are open already, one a page: close a page, then load this one again.\n"

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]


class BenchServer:
    """Serves a bench to every page; leaving takes all of them along."""

    def __init__(self, command: Sequence[str], host: str, port: int) -> None:
        self._command = tuple(command)
        self._host, self._port = host, port
        self._secret = secrets.token_urlsafe(18)
        self._benches: set[PageBench] = set()
        self._pages: set[asyncio.Task[Any]] = set()

    @property
    def address(self) -> str:
        """The page's address, secret and all."""
        return f"http://{address_of(self._host, self._port)}/{self._secret}/"

    def serve(self) -> int:
        """Serve until a signal says to stop; the signal's number."""
        return asyncio.run(self._serve())

    async def _serve(self) -> int:
        told: asyncio.Future[int] = asyncio.get_running_loop().create_future()

        def tell(number: int) -> None:
            if not told.done():  # a second Ctrl-C must not cut off the benches while they keep and go
                told.set_result(number)

        loop = asyncio.get_running_loop()
        for number in stop_signals():
            try:
                loop.add_signal_handler(number, tell, number)
            except NotImplementedError:  # Windows: a signal wakes the loop by itself
                signal.signal(number, lambda code, _frame: loop.call_soon_threadsafe(tell, code))
        runner = web.AppRunner(self._app(), access_log=None, shutdown_timeout=0.5)
        await runner.setup()
        await web.TCPSite(runner, self._host, self._port).start()
        try:
            return await told
        finally:
            await asyncio.gather(*(bench.end() for bench in self._benches), return_exceptions=True)
            for page in self._pages:
                page.cancel()
            await runner.cleanup()

    def _app(self) -> web.Application:
        app = web.Application(middlewares=[self._guard], client_max_size=MOST_MESSAGE)
        app.router.add_get("/{secret}/", self._page)
        app.router.add_get("/{secret}/ws", self._socket)
        found = find_spec("textual_serve")
        assert found is not None
        assert found.origin is not None
        app.router.add_static("/static", Path(found.origin).parent / "static")
        return app

    @web.middleware
    async def _guard(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        origin = request.headers.get("Origin")
        if not is_ours(request.headers.get("Host", ""), origin, self._host, self._port):
            raise web.HTTPForbidden(text="This bench answers only to its own page on this machine.\n")
        secret = request.match_info.get("secret")
        if secret is not None and not secrets.compare_digest(secret.encode(), self._secret.encode()):
            raise web.HTTPForbidden(text=GONE)
        response = await handler(request)
        response.headers["X-Content-Type-Options"] = "nosniff"
        return response

    async def _page(self, _request: web.Request) -> web.Response:
        if len(self._benches) >= MOST_BENCHES:
            raise web.HTTPServiceUnavailable(text=FULL)
        nonce, socket = secrets.token_urlsafe(12), f"ws{self.address.removeprefix('http')}ws"
        text = PAGE.read_text(encoding="utf-8")
        text = text.replace("{{ socket }}", socket).replace("{{ nonce }}", nonce)
        own = f"ws://{address_of(self._host, self._port)}"
        policy = (
            f"default-src 'self'; script-src 'self' 'nonce-{nonce}'; connect-src 'self' {own}; "
            "img-src 'self' data:; style-src 'self' 'unsafe-inline'; "
            "frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
        )
        headers = {
            "Content-Security-Policy": policy,
            "X-Frame-Options": "DENY",
            "Referrer-Policy": "no-referrer",  # the address is the secret
            "Cache-Control": "no-store",
        }
        return web.Response(text=text, content_type="text/html", headers=headers)

    async def _socket(self, request: web.Request) -> web.WebSocketResponse:
        """One page's socket and the bench behind it; the bench ends with the socket, at whatever moment."""
        if request.headers.get("Origin") is None:
            raise web.HTTPForbidden(text="A socket has to come from the bench's own page.\n")
        if len(self._benches) >= MOST_BENCHES:
            raise web.HTTPServiceUnavailable(text=FULL)
        bench = PageBench(self._command, _number(request, "width", 80), _number(request, "height", 24))
        page = asyncio.current_task()
        assert page is not None
        self._benches.add(bench)
        self._pages.add(page)
        socket = web.WebSocketResponse(heartbeat=5, max_msg_size=MOST_MESSAGE)
        drawing: asyncio.Task[None] | None = None
        try:
            await socket.prepare(request)
            await bench.start()
            drawing = asyncio.create_task(_draw(bench, socket))
            await _listen(bench, socket)
        finally:
            if drawing is not None:
                drawing.cancel()
            await asyncio.shield(bench.end())
            self._benches.discard(bench)
            self._pages.discard(page)
        return socket


async def _draw(bench: PageBench, socket: web.WebSocketResponse) -> None:
    """Hand on what the bench draws; with its end the page is told."""
    with suppress(ConnectionError, RuntimeError):
        async for picture in bench.pictures():
            await socket.send_bytes(picture)
        await socket.close()


async def _listen(bench: PageBench, socket: web.WebSocketResponse) -> None:
    """Hand on what the page sends, until it goes or says something that no page of ours says."""
    async for message in socket:
        said = None
        if message.type is WSMsgType.TEXT:
            with suppress(ValueError, RecursionError):
                said = json.loads(message.data)
        if not await _obey(bench, socket, said):
            await socket.close(code=WSCloseCode.POLICY_VIOLATION)
            return


async def _obey(bench: PageBench, socket: web.WebSocketResponse, said: Any) -> bool:  # noqa: ANN401
    """Do one message, [what] or [what, about it]; False for one that is none."""
    match said:
        case ["stdin", str(keys)]:
            await bench.type(keys)
        case ["resize", {"width": int(width), "height": int(height)}]:
            await bench.resize(width, height)
        case ["ping", str() | int() | float() as data]:
            await socket.send_json(["pong", data])
        case ["focus" | "blur" as what, *_]:
            await bench.look(there=what == "focus")
        case _:
            return False
    return True


def _number(request: web.Request, name: str, otherwise: int) -> int:
    said = request.query.get(name, "")
    return int(said) if said.isdecimal() and said.isascii() and len(said) < 6 else otherwise
