"""The wiring on the board that a profile names for itself, or on one that somebody names."""

from mixer.board.kinds.known import board_named
from mixer.board.wiring.fit import Misfit, Wiring, fit
from mixer.board.wiring.reasons import refusal
from mixer.profile.profile import Profile


def own_wiring(profile: Profile, loadout: str | None) -> Wiring | None:
    """Where every wire goes; None where the profile names no board, or one that it does not fit."""
    key = profile.robot(loadout).robot.board
    made = None if key is None else fit(profile, loadout, board_named(key))
    return made if isinstance(made, Wiring) else None


def wiring_on(profile: Profile, loadout: str | None, board: str) -> Wiring:
    """The same on a board by its key. Raises OptionError for an unknown one, ProfileError for a misfit."""
    made = fit(profile, loadout, board_named(board))
    if isinstance(made, Misfit):
        raise refusal(profile, loadout, made)
    return made
