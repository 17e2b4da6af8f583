"""A log played through a robot, as `replay`, `compare` and `size` do it."""

import argparse
from collections.abc import Iterator

from mixer.cli.shared.console import Console
from mixer.cli.shared.on_board import BOARD
from mixer.live.inputs.log_on_chip import LogOnChip
from mixer.live.robot.firmware import PlainBoard
from mixer.live.robot.robot import LiveRobot, build_of, with_physics
from mixer.profile.profile import Profile
from mixer.runs.log.mapping import parse_mapping
from mixer.runs.play.drive_log import DriveLog
from mixer.runs.play.engines import DEFAULT_ENGINE
from mixer.runs.play.on_board import BoardPlay
from mixer.runs.play.start_state import start_state_path


def drive_log(args: argparse.Namespace, profile: Profile, loadout: str | None) -> DriveLog:
    """The command line's log for one loadout of a profile."""
    unused = profile.unused(loadout)
    return DriveLog(profile.plan(loadout), args.log, mapping=parse_mapping(args.map), unused=unused)


def robot_for(
    args: argparse.Namespace, profile: Profile, loadout: str | None, *, physics: bool = False
) -> LiveRobot:
    """The robot that plays it, with physics or firmware alone.

    The engine is what the command line names; else the quickest there is, which with physics, tick by tick,
    is generated Python.
    """
    build = build_of(profile, loadout)
    named = getattr(args, "engine", None) or ""
    core = "" if named == BOARD and hasattr(args, "board") else named
    board = PlainBoard(build.plan, core or (DEFAULT_ENGINE if physics else ""))
    return LiveRobot(with_physics(build) if physics else build, board, bodiless=not physics)


def play(
    log: DriveLog, robot: LiveRobot, console: Console, what: str, board: BoardPlay | LogOnChip | None = None
) -> None:
    """The whole log, with a progress bar and then the log's notices; the robot's sinks are told.

    Begins at power-up, or in the state that stands beside the log. With a board its image reads the log,
    and the robot runs on what that has read.
    """
    begin(log, robot, console, board)
    with console.progress(what, 1.0) as meter:
        for _ in _played(log, robot, board):
            meter.at(log.progress)
    tell_notices(log, console)


def _played(log: DriveLog, robot: LiveRobot, board: BoardPlay | LogOnChip | None) -> Iterator[None]:
    """The whole log, a stretch at a time."""
    if isinstance(board, LogOnChip):
        yield from board.play(log.chunks())
        return
    if board is not None:
        robot.add(board)
    for chunk in log.chunks() if board is None else board.chunks(log.chunks()):
        robot.take(chunk.inputs)
        yield


def begin(
    log: DriveLog, robot: LiveRobot, console: Console, board: BoardPlay | LogOnChip | None = None
) -> None:
    """Power up, in the state that stands beside the log where one does; which engine runs is told.

    Where a board's image runs, that is the engine, and has been told.
    """
    if log.start_state is not None:
        console.notice(f"begins in the state of {start_state_path(log.path).name}")
    if board is None and isinstance(robot.board, PlainBoard):
        why = f", since {robot.board.why}" if robot.board.why else ""
        console.notice(f"engine: {robot.board.engine}{why}")
    robot.power_up(log.start_state)


def engine_of(robot: LiveRobot) -> str:
    """Which engine runs, by name."""
    return robot.board.engine if isinstance(robot.board, PlainBoard) else "judged"


def tell_notices(log: DriveLog, console: Console) -> None:
    """What was put right in the log."""
    console.notices(log.notices)
