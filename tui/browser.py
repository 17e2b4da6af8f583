"""The bench in a browser: the same program, served on this machine to its own pages only.

Every page starts a bench of its own. A request is answered only when it names this server as its host, and
when its origin, where a browser tells one, is this server's own page: another site that is open in the same
browser cannot move a stick. The page asks for nothing from anywhere else.
"""

import os
import shlex
import sys
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from typing import Any

from mixer.errors import MissingToolError

TEMPLATES = Path(__file__).parent / "serve"


def serve(words: Sequence[str], host: str, port: int) -> None:
    """Serve until interrupted; `words` are the arguments of `python -m tui`. Raises MissingToolError."""
    os.environ["COLORTERM"] = "truecolor"  # what draws the terminal in the page can show every colour
    server_for(words, host, port).serve()


def server_for(words: Sequence[str], host: str, port: int) -> Any:  # noqa: ANN401
    """The server, not yet running."""
    command = shlex.join([sys.executable, "-m", "tui", *words])
    return _server_class()(command, host=host, port=port, title="bench", templates_path=str(TEMPLATES))


def is_ours(host: str, origin: str | None, address: str, port: int) -> bool:
    """Whether a request's Host and Origin headers are this server's own.

    RFC 9110 (7.2) makes Host the server's name as the page's address has it; RFC 6454 makes Origin the
    page's scheme and authority. A missing Origin is a plain visit, not a script of another page.
    """
    names = (
        {address, "127.0.0.1", "localhost"} if address in ("127.0.0.1", "localhost", "::1") else {address}
    )
    hosts = {f"[{name}]:{port}" if ":" in name else f"{name}:{port}" for name in names}
    if port == 80:
        hosts |= names
    return host in hosts and (origin is None or origin in {f"http://{known}" for known in hosts})


def _server_class() -> type[Any]:
    try:
        serving, web = import_module("textual_serve.server"), import_module("aiohttp.web")
    except ImportError as error:
        raise MissingToolError(
            "the bench in a browser needs textual-serve", "install it: pip install 'stickwright[browser]'"
        ) from error

    @web.middleware
    async def guard(request: Any, handler: Any) -> Any:  # noqa: ANN401
        server = request.app["server"]
        origin = request.headers.get("Origin")
        if not is_ours(request.headers.get("Host", ""), origin, server.host, server.port):
            raise web.HTTPForbidden(text="This bench answers only to its own page on this machine.\n")
        return await handler(request)

    class GuardedServer(serving.Server):  # type: ignore[misc, name-defined]
        """Answers its own page only, and says what it serves in one line."""

        async def _make_app(self) -> Any:  # noqa: ANN401
            app = await super()._make_app()
            app["server"] = self
            app.middlewares.append(guard)
            return app

        async def on_startup(self, app: Any) -> None:  # noqa: ANN401
            """Nothing: the command has said where the bench is."""

    return GuardedServer
