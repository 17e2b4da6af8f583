"""`--engine board` and `--board`: the image on a simulated chip beside the core, and what is said of it."""

import argparse
from pathlib import Path
from typing import Any

from mixer.board.engine.flashed import Flashed, flash
from mixer.board.engine.parity import Account
from mixer.board.kinds.known import BOARDS
from mixer.cli.shared.console import Console, Exit, as_data
from mixer.errors import OptionError
from mixer.live.inputs.log_on_chip import LogOnChip
from mixer.live.robot.damage import Unharmed
from mixer.live.robot.robot import LiveRobot
from mixer.profile.profile import Profile
from mixer.runs.play.drive_log import DriveLog
from mixer.runs.play.on_board import BoardPlay
from mixer.runs.play.start_state import start_state_path

BOARD = "board"
"""The engine that is no form of the core but the board's image."""
BOARD_TOO = ", or board: the image for a board on a simulated chip, compared with the core"
OWN = (
    "wires and guard are read off the board's own image on a simulated chip, which is no measurement on "
    "silicon; every other number is the core's on what that board read"
)

BODY = (
    "; the robot moves as its pins say, what it presses and its volts reach the pins before its next tick"
)


def add_board(parser: argparse.ArgumentParser) -> None:
    """Which board's image `--engine board` runs."""
    parser.add_argument(
        "--board",
        metavar="NAME",
        help=f"with --engine board: the board, {' or '.join(BOARDS)}; default: the profile's, else the "
        "smallest on which the robot fits",
    )


def add_image(parser: argparse.ArgumentParser) -> None:
    """The image as the only other engine there is."""
    words = "board: what moves the sticks moves the pins of the robot's image on a simulated chip"
    parser.add_argument("--engine", choices=[BOARD], help=words)
    add_board(parser)


def asks_board(args: argparse.Namespace) -> bool:
    """Whether the image is to run. Raises OptionError for a board that no engine would run."""
    if args.board and args.engine != BOARD:
        raise OptionError(f"--board {args.board} is for the image alone", f"add --engine {BOARD}")
    return bool(args.engine == BOARD)


def flashed_for(
    args: argparse.Namespace, profile: Profile, loadout: str | None, console: Console, more: str = ""
) -> Flashed:
    """The command line's image of one robot; told of. Raises as `flash` does."""
    flashed = flash(profile, loadout, args.board)
    console.notice(f"engine: the image for the {flashed.board.name}; {OWN}{more}")
    return flashed


def board_play(
    args: argparse.Namespace, profile: Profile, loadout: str | None, log: DriveLog, console: Console
) -> BoardPlay | None:
    """The image beside the core where it is asked for, powered up; the log alone moves its pins.

    Raises OptionError for a log that begins in the middle: the state of a chip cannot be set.
    """
    if not asks_board(args):
        return None
    require_start(log)
    return BoardPlay(flashed_for(args, profile, loadout, console))


def board_drive(
    args: argparse.Namespace, profile: Profile, robot: LiveRobot, log: DriveLog, console: Console
) -> BoardPlay | LogOnChip | None:
    """The same under a robot, whose body and faults reach the pins as well where it has any."""
    if not asks_board(args) or (type(robot.faults) is Unharmed and robot.bodiless):
        return board_play(args, profile, args.loadout, log, console)
    require_start(log)
    body = "" if robot.bodiless else BODY
    return LogOnChip(flashed_for(args, profile, args.loadout, console, body), robot)


def require_start(log: DriveLog) -> None:
    """Raises OptionError for a log that begins in the middle."""
    if log.start_state is not None:
        name = start_state_path(Path(log.path)).name
        raise OptionError(
            f"{log.path} begins in the state of {name}, and a chip begins at power-up alone",
            "take a log from power-up on, or leave --engine board away",
        )


def tell_account(account: Account, flashed: Flashed, console: Console, who: str = "") -> Exit:
    """Every difference, or what the verdict rests on."""
    name = f"{who}on the {flashed.board.name} ({flashed.fingerprint})"
    for difference in account.differences:
        console.say(f"{name}, {difference.words}")
    if account.not_played:
        console.notice(
            f"pulses that no wire carries, and that were left out or shortened: {account.not_played}"
        )
    if account.equal:
        number = len(flashed.plan.outputs)
        outputs = f"{number} outputs" if number > 1 else "one output"
        console.say(
            f"{name}: no difference. {account.pulses_read} pulses read within 1 µs; commands and guard the "
            f"core's in all {account.ticks} ticks; {account.pulses_shown} pulses and duties seen on "
            f"the pins of {outputs} within 1 µs or one count"
        )
        return Exit.FINE
    if not account.differences:
        console.say(f"{name}: nothing was compared")
    return Exit.FAILED


def account_data(account: Account, flashed: Flashed) -> dict[str, Any]:
    """The same for JSON."""
    said = {"board": flashed.board.key, "fingerprint": flashed.fingerprint, "equal": account.equal}
    return {**said, **as_data(account)}
