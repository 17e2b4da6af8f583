"""The web server that answers only its own page. Imported on use: it is the one door to textual-serve.

A page of another site, open in the same browser, reaches this machine's addresses too. What keeps it from
the sticks: Host and Origin have to be this server's own (tui.browser.is_ours), so neither its scripts nor a
name that it lets point here get in; and no page may show the bench inside a frame, where clicks meant for
that page would land on the bench.
"""

import asyncio
import logging
from collections.abc import Awaitable, Callable

from aiohttp import web
from textual_serve.server import Server

from tui.browser import is_ours

TIME_TO_LEAVE_S = 5.0
"""How long the benches of open pages get to save and go when the server ends."""

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]


class GuardedServer(Server):
    """Every request and socket is checked first; leaving takes the benches of all open pages along."""

    _leaving = False

    async def _make_app(self) -> web.Application:
        app = await super()._make_app()
        app.middlewares.append(self._guard)
        app.on_response_prepare.append(self._shield)
        self._pages: set[asyncio.Task[object]] = set()
        return app

    @web.middleware
    async def _guard(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        origin = request.headers.get("Origin")
        if not is_ours(request.headers.get("Host", ""), origin, self.host, self.port):
            raise web.HTTPForbidden(text="This bench answers only to its own page on this machine.\n")
        return await handler(request)

    async def _shield(self, _request: web.Request, response: web.StreamResponse) -> None:
        socket = "ws" + self.public_url.removeprefix("http")
        response.headers["X-Frame-Options"] = "DENY"
        response.headers["Content-Security-Policy"] = (
            f"default-src 'self'; connect-src 'self' {socket}; img-src 'self' data:; "
            "style-src 'self' 'unsafe-inline'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
        )

    async def handle_websocket(self, request: web.Request) -> web.WebSocketResponse:
        """One page's socket, remembered so that its bench can be ended with the server."""
        page = asyncio.current_task()
        assert page is not None
        self._pages.add(page)
        try:
            return await super().handle_websocket(request)
        finally:
            self._pages.discard(page)

    async def on_shutdown(self, app: web.Application) -> None:  # noqa: ARG002
        """End every page's bench; left alone they would hold the server, and a port, for a minute."""
        pages = set(self._pages)
        for page in pages:
            page.cancel()
        if pages:
            await asyncio.wait(pages, timeout=TIME_TO_LEAVE_S)

    def request_exit(self) -> None:
        """Leave once: a second Ctrl-C must not cut off the benches while they save and go."""
        if not self._leaving:
            self._leaving = True
            super().request_exit()

    async def on_startup(self, app: web.Application) -> None:
        """Nothing: the command has said where the bench is."""

    def initialize_logging(self) -> None:
        """Only what went wrong, not every request."""
        logging.basicConfig(level=logging.WARNING, format="%(message)s")
