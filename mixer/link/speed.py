"""How fast a robot's board sends: as its firmware is exported, where the profile names the board."""

from mixer.board.kinds.known import board_named
from mixer.board.wiring.line import baud_for
from mixer.board.wiring.wires import channels_of
from mixer.link.serial_port import BAUD
from mixer.profile.aboard import Tunings


def speed_of(tunings: Tunings) -> int:
    """In baud; a bare reader's where the profile names no board. Raises OptionError for one unknown."""
    robot = tunings.profile.robot(tunings.loadout)
    if robot.robot.board is None:
        return BAUD
    board = board_named(robot.robot.board)
    return baud_for(board, channels_of(robot), len(robot.output), robot.robot.tick_ms) or BAUD
