"""`python -m tui [PROFILE] [--log LOG] [--port PORT] [--loadout NAME]`: the bench in this terminal."""

import argparse
import contextlib
import os
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from mixer.board.engine.flashed import flash
from mixer.errors import StickwrightError
from mixer.link.source import open_source
from mixer.link.speed import speed_of
from mixer.live.bench.session import Session, open_session
from mixer.profile.aboard import Tunings
from mixer.runs.log.mapping import parse_mapping
from tui.app import BenchApp
from tui.ends import is_served, need_terminal
from tui.example.copy import example_profile
from tui.pad import pad_source

CRASHED = 70
"""Our own mistake ended the bench (sysexits.h, EX_SOFTWARE)."""


def main(arguments: Sequence[str]) -> int:
    """Open the session, then the screen; bad input ends before the screen opens, with code 2."""
    parser = argparse.ArgumentParser(prog="python -m tui", description="The bench in this terminal.")
    parser.add_argument("profile", type=Path, nargs="?", help="the robot's profile; default: an example")
    parser.add_argument("--log", type=Path, help="a recorded log to replay")
    parser.add_argument(
        "--map", action="append", default=[], help="a column of that log: NAME=COLUMN[:SCALE]"
    )
    parser.add_argument(
        "--from", type=float, default=0.0, dest="at_s", help="seconds of that log to begin at"
    )
    parser.add_argument("--port", help="the serial port of a pulse reader")
    parser.add_argument("--baud", type=int, help="as the board was built")
    parser.add_argument("--engine", choices=["board"], help="run the robot's image on a simulated chip")
    parser.add_argument("--board", help="with --engine board: which board")
    parser.add_argument("--loadout", help="a loadout of the profile")
    parser.add_argument("--without", action="append", default=[], help="what is taken as dead")
    args = parser.parse_args(arguments)
    try:
        need_terminal()
        where = args.profile or example_profile()
        session = _opened(where, args)
    except StickwrightError as error:
        sys.stderr.write(f"error: {error}\n")
        return 2
    app = BenchApp(session, where, example=args.profile is None)
    app.ends.listen()
    if is_served():
        app.ends.follow_parent()
    app.run()
    app.ends.left()
    return app.ends.code or (CRASHED if app.return_code else 0)


def window_name() -> str:
    """What other windows call this one."""
    place = "a page in the browser" if is_served() else "a window"
    with contextlib.suppress(OSError, AttributeError):  # no terminal, or a system that does not name them
        place = f"the window in {os.ttyname(0).removeprefix('/dev/')}"
    return f"{place} (process {os.getpid()})"


def _opened(where: Path, args: argparse.Namespace) -> Session:
    now = time.monotonic()
    session = open_session(
        where,
        now_s=now,
        loadout=args.loadout,
        without=args.without,
        stopwatch=time.perf_counter,
        window=window_name(),
    )
    session.pad = pad_source(session.sticks)
    if args.log is not None:
        session.open_log(args.log, parse_mapping(args.map), args.at_s)
    if args.engine is not None:
        flashed = flash(session.tuning.profile, session.tuning.loadout, args.board)
        session.image.mount(flashed)
        session.power_up()
    if args.port is not None:
        tunings = Tunings(session.tuning.profile, session.tuning.loadout)
        session.connect(open_source(args.port, tunings, baud=args.baud or speed_of(tunings)))
    return session


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
