"""A changed tuning beside the one in use, ready to be driven against it."""

from collections.abc import Sequence

from mixer.live.tuning.tuning import Tuning
from mixer.profile.edit.differences import Change
from mixer.profile.edit.document import Editor
from mixer.profile.edit.places import place_of


def try_out(tuning: Tuning, moves: Sequence[Change]) -> str:
    """A becomes the tuning in use, B the same with keys turned, and B drives. Empty, or what did not fit.

    One step to undo on each side, so that what was on them before is not lost.
    """
    tables = Editor(tuning.profile.text).tables
    turned = [
        Change(".".join(place_of(tables, tuple(move.key.split(".")), tuning.loadout)), move.was, move.now)
        for move in moves
    ]
    now = tuning.edits()
    left = tuning.lay_over({"A": now, "B": [*now, *turned]}, "B", "tried out")
    return "; ".join(map(str, left))
