"""The bench in a browser: the same program, served on this machine to its own pages only.

Every page starts a bench of its own. A request is answered only when it names this server as its host, and
when its origin, where a browser tells one, is this server's own page: another site that is open in the same
browser cannot move a stick. The page asks for nothing from anywhere else.
"""

import os
import socket
import sys
from collections.abc import Callable, Sequence
from importlib import import_module
from typing import Any

from mixer.errors import MissingToolError, OptionError

LOOPBACK = ("127.0.0.1", "localhost", "::1")


def serve(words: Sequence[str], host: str, port: int, opened: Callable[[str], None]) -> int:
    """Serve until a signal ends it, whose number is given; `words` are the arguments of `python -m tui`.

    `opened` is told the page's address once nothing stands in the way any more. Raises MissingToolError
    without textual-serve, OptionError when host and port cannot be served at.
    """
    server = server_for(words, host, port)
    _try_address(host, port)
    opened(server.address)
    number: int = server.serve()
    return number


def server_for(words: Sequence[str], host: str, port: int) -> Any:  # noqa: ANN401
    """The server, not yet running. Raises MissingToolError."""
    try:
        server = import_module("tui.serve.server")
        import_module("textual_serve")
    except ImportError as error:
        raise MissingToolError(
            "the bench in a browser needs textual-serve", "install it: pip install textual-serve"
        ) from error
    return server.BenchServer([sys.executable, "-m", "tui", *words], host, port)


def is_ours(host: str, origin: str | None, address: str, port: int) -> bool:
    """Whether a request's Host and Origin headers are this server's own.

    RFC 9110 (7.2) makes Host the server's name as the page's address has it; RFC 6454 makes Origin the
    page's scheme and authority. A missing Origin is a plain visit, not a script of another page.
    """
    names = {address, "127.0.0.1", "localhost"} if address in LOOPBACK else {address}
    hosts = {address_of(name, port) for name in names}
    if port == 80:
        hosts |= {authority.removesuffix(":80") for authority in hosts}
    return host in hosts and (origin is None or origin in {f"http://{known}" for known in hosts})


def address_of(name: str, port: int) -> str:
    """Host and port as they stand in an address."""
    return f"[{name}]:{port}" if ":" in name else f"{name}:{port}"


def _try_address(host: str, port: int) -> None:
    """Bind once and let go, so that what is in the way is told in a line, before anything is served."""
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        with socket.socket(family, kind, protocol) as probe:
            if os.name == "posix":  # as the server itself binds; elsewhere the option means something else
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(address)
    except OSError as error:
        raise OptionError(
            f"the bench cannot be served at {address_of(host, port)}: {error.strerror}",
            "choose another --web-port, or for --host an address of this machine",
        ) from error
