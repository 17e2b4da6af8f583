"""`stickwright bench`: every channel live on the screen. Whatever is wrong is told before it opens."""

import argparse
from importlib import import_module

from mixer.board.engine.flashed import flash
from mixer.cli.link.board import add_port, require_port
from mixer.cli.shared.arguments import add_loadout, add_mapping, add_path, add_without, profile_of
from mixer.cli.shared.console import Console
from mixer.cli.shared.on_board import add_image, asks_board
from mixer.cli.shared.playing import drive_log
from mixer.errors import OptionError

SCREEN, BROWSER = "tui.__main__", "tui.browser"
"""The screen stands above the commands, so it is started by name and never imported by them."""

LATEST_S = 86400.0
"""A day: longer than any log."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What to open, and where it is shown."""
    add_path(parser, "profile", nargs="?", help="the robot's profile; default: an example")
    add_path(parser, "--log", help="a recorded log to replay")
    add_mapping(parser)
    parser.add_argument(
        "--from", type=float, default=0.0, metavar="SECONDS", dest="at_s", help="where in that log to begin"
    )
    add_port(parser)
    add_image(parser)
    add_loadout(parser)
    add_without(parser)
    parser.add_argument(
        "--browser", action="store_true", help="serve the same bench to a browser on this machine"
    )
    parser.add_argument(
        "--web-port", type=int, default=8765, metavar="N", help="with --browser; default 8765"
    )
    parser.add_argument(
        "--host", default="127.0.0.1", metavar="ADDRESS", help="with --browser: another address"
    )
    parser.add_argument(
        "--yes-open-to-the-network",
        action="store_true",
        help="needed with --host: whoever reaches that address can use the bench",
    )


def run(args: argparse.Namespace, console: Console) -> int:
    """Check the input, then hand over to the screen or to the server."""
    if args.port is not None or args.baud is not None:
        require_port(args)
    if asks_board(args):
        _check_board(args)
    if args.profile is not None:
        _check(args)
    elif args.loadout or args.log:
        raise OptionError("--loadout and --log belong to a profile", "name the profile first")
    if not 0 <= args.at_s <= LATEST_S or (args.at_s and args.log is None):
        said = f"--from {args.at_s:g} is no time of a log"
        raise OptionError(said, f"give the seconds to begin at, up to {LATEST_S:g}, and the log with --log")
    if args.browser:
        _check_address(args)
    words = _handed_on(args)
    if not args.browser:
        code: int = import_module(SCREEN).main(words)
        return code
    if not _is_loopback(args):
        console.ask(
            "careful",
            f"the bench is open to whoever reaches {args.host}: anybody there can move its sticks",
        )
    number: int = import_module(BROWSER).serve(
        words, args.host, args.web_port, lambda url: console.say(f"the bench is at {url} (ctrl+c ends it)")
    )
    return 128 + number


def _handed_on(args: argparse.Namespace) -> list[str]:
    """The screen's own command line."""
    words = [str(args.profile)] if args.profile else []
    for name in ("log", "port", "baud", "loadout", "engine", "board"):
        value = getattr(args, name)
        words += [f"--{name}", str(value)] if value is not None else []
    words += ["--from", str(args.at_s)] if args.at_s else []
    words += [f"--map={given}" for given in args.map]
    words += [f"--without={name}" for name in args.without]
    return words


def _check(args: argparse.Namespace) -> None:
    """Everything a screen would stumble over, as one message."""
    profile = profile_of(args)
    profile.plan(args.loadout)
    if args.log is not None:
        drive_log(args, profile, args.loadout)


def _check_board(args: argparse.Namespace) -> None:
    """Build the image before the screen opens, and refuse what no chip can."""
    if args.port is not None:
        said = "--port is a board of its own, and --engine board a simulated one"
        raise OptionError(said, "leave one of them away")
    if args.at_s:
        said = f"--from {args.at_s:g} begins in the middle, and a chip at power-up alone"
        raise OptionError(said, "leave --from or --engine board away")
    if args.profile is not None:
        flash(profile_of(args), args.loadout, args.board)


def _is_loopback(args: argparse.Namespace) -> bool:
    return args.host in ("127.0.0.1", "localhost", "::1")


def _check_address(args: argparse.Namespace) -> None:
    """Only this machine unless said twice, and always an address that a page can name."""
    if not 0 < args.web_port < 65536:
        raise OptionError(f"--web-port {args.web_port} is no port", "give a number from 1 to 65535")
    if args.host in ("", "0.0.0.0", "::"):  # noqa: S104 - refused, not bound
        # The server answers only to its own name, and "every address" is none.
        said = f"--host {args.host} stands for every address at once"
        raise OptionError(said, "name the one address of this machine that the other one will visit")
    if not _is_loopback(args) and not args.yes_open_to_the_network:
        said = f"--host {args.host} lets everybody who reaches that address use the bench"
        raise OptionError(said, "add --yes-open-to-the-network if that is meant, or leave --host away")
