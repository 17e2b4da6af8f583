"""The wiring on the board that a profile names for itself."""

from mixer.board.kinds.known import board_named
from mixer.board.wiring.fit import Wiring, fit
from mixer.profile.profile import Profile


def own_wiring(profile: Profile, loadout: str | None) -> Wiring | None:
    """Where every wire goes; None where the profile names no board, or one that it does not fit."""
    key = profile.robot(loadout).robot.board
    made = None if key is None else fit(profile, loadout, board_named(key))
    return made if isinstance(made, Wiring) else None
