"""The boards there are."""

from collections.abc import Mapping

from mixer.board.kinds.atmega328p import ATMEGA328P
from mixer.board.kinds.kind import Board
from mixer.board.kinds.rp2040 import RP2040
from mixer.errors import OptionError, offer

BOARDS: Mapping[str, Board] = {board.key: board for board in (ATMEGA328P, RP2040)}


def board_named(key: str) -> Board:
    """The board of that key. Raises OptionError that lists the boards there are."""
    if key not in BOARDS:
        raise OptionError(f"there is no board {key!r}", offer(key, BOARDS, "boards"))
    return BOARDS[key]


def board_called(name: str) -> Board | None:
    """The board that people and its own firmware call so; None for one that is not known here."""
    return next((board for board in BOARDS.values() if board.name == name), None)
