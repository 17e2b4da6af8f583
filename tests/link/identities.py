"""What a board says of itself that runs a robot's export."""

from mixer.board.frames import Identity
from mixer.board.kinds.known import BOARDS
from mixer.board.wiring.fit import Wiring, fit
from mixer.board.wiring.settings import fingerprint_of
from mixer.profile.profile import Profile


def identity_of(
    profile: Profile, loadout: str | None = None, *, started: int = 1, board: str = "atmega328p"
) -> Identity:
    """With the fingerprints of this robot's mix and of its wiring on that board."""
    kind = BOARDS[board]
    wiring = fit(profile, loadout, kind)
    assert isinstance(wiring, Wiring)
    return Identity(kind.name, profile.fingerprint(loadout), started, fingerprint_of(wiring))
