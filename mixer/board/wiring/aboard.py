"""For which wiring a board is built, by the fingerprint it tells, and what has changed here since.

The mix has a fingerprint of its own (`mixer.profile.aboard`); pins, bridges, divider and speed are in this
one. What a board does not say, or nobody here knows, is said to be unknown, and never to be right.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from mixer.board.frames import Identity
from mixer.board.kinds.kind import Board
from mixer.board.kinds.known import board_called
from mixer.board.wiring.fit import Misfit, Wiring, fit
from mixer.board.wiring.reasons import GIVEN, reason
from mixer.board.wiring.settings import fingerprint_of, said_of
from mixer.errors import StickwrightError
from mixer.profile.aboard import FLASH, Tunings, first_few
from mixer.profile.edit.differences import Change, differences
from mixer.profile.exported import Exported, Wired, export_wired, export_with, profile_of
from mixer.profile.profile import Profile


class Wires(StrEnum):
    """What a board's wiring is to that of the tuning in use."""

    THIS = "this"
    OTHER = "other"
    UNTOLD = "untold"
    """Its firmware is too old to say."""
    NONE = "none"
    """It was built without a wiring.h."""
    UNKNOWN = "unknown"
    """It is no board of which Stickwright knows the pins."""


@dataclass(frozen=True, slots=True)
class WiresAboard:
    """What is known of the wiring on a board."""

    wires: Wires
    told: str = ""
    """The fingerprint that the board tells; empty where it tells none."""
    here: str = ""
    """That of the tuning in use; empty where it has none on this board."""
    what: str = ""
    """Where another wiring comes from, or why none can be here."""
    changes: tuple[Change, ...] = ()
    """What differs now, where that is known."""

    def words(self) -> str:
        """One sentence for people."""
        match self.wires:
            case Wires.THIS:
                return f"it is built for wiring {self.told}, the one in use here"
            case Wires.OTHER:
                return f"its wires are those of another export{self._which()}{self._since()}"
            case Wires.UNTOLD:
                return f"its firmware is older and does not say for which wires it is built{self._since()}"
            case Wires.NONE:
                return "it is built without a wiring.h, as a bare reader that drives nothing"
            case _:
                return f"whether its wires are right is not known: {self.what}"

    def remedy(self) -> str:
        """What to do; empty where nothing is known to be wrong."""
        return FLASH if self.wires in (Wires.OTHER, Wires.UNTOLD) else ""

    def _which(self) -> str:
        told = f", wiring {self.told}" if self.told else ""
        return f"{told}{self.what}; in use is {self.here or 'none'}"

    def _since(self) -> str:
        if self.changes:
            return f"; since then: {first_few(self.changes)}"
        return "; what differs is not known here" if self.wires is Wires.OTHER and self.here else ""


def wired_as(wiring: Wiring) -> Wired:
    """A wiring as it is kept with an export."""
    return Wired(wiring.board.key, fingerprint_of(wiring), said_of(wiring))


def wires_aboard(tunings: Tunings, said: Identity) -> WiresAboard | None:
    """What is known of the wires of a board that has said this; None for one that runs no mix."""
    if not said.fingerprint:
        return None
    board = board_called(said.board)
    if said.wiring == "":
        return WiresAboard(Wires.NONE)
    if board is None:
        return WiresAboard(Wires.UNKNOWN, said.wiring or "", what=f"no board {said.board} is known here")
    here = fit(tunings.profile, tunings.loadout, board)
    if isinstance(here, Misfit):
        why = reason(here) or GIVEN
        return WiresAboard(Wires.OTHER, said.wiring or "", what=f", and this robot does not fit it: {why}")
    return _compared(tunings, said, here)


def _compared(tunings: Tunings, said: Identity, here: Wiring) -> WiresAboard:
    if said.wiring is None:
        return WiresAboard(Wires.UNTOLD, changes=_since_export(tunings, said.fingerprint, here))
    prints = fingerprint_of(here)
    if said.wiring == prints:
        return WiresAboard(Wires.THIS, prints, prints)
    return _another(tunings, said.wiring, here, prints)


def _another(tunings: Tunings, told: str, here: Wiring, prints: str) -> WiresAboard:
    """Which other one it is: that of the same profile in another state, or of an export that is kept."""
    for name, profile in tunings.others:
        made = _wiring_of(profile, tunings.loadout, here.board)
        if made is not None and fingerprint_of(made) == told:
            return WiresAboard(Wires.OTHER, told, prints, f", {name}", _changes(said_of(made), here))
    export = None if tunings.file is None else export_wired(tunings.file, told)
    if export is None or export.wired is None:
        return WiresAboard(Wires.OTHER, told, prints)
    changes = _changes(export.wired.settings, here)
    return WiresAboard(Wires.OTHER, told, prints, f", exported {export.at}", changes)


def _since_export(tunings: Tunings, mix: str, here: Wiring) -> tuple[Change, ...]:
    """What differs from the newest export with this mix."""
    export = None if tunings.file is None else export_with(tunings.file, mix)
    return () if export is None else _changes(_settings_then(export, here.board), here)


def _settings_then(export: Exported, board: Board) -> Mapping[str, str]:
    """As they were kept; of an export that kept none, as its profile gives them."""
    if export.wired is not None:
        return export.wired.settings
    profile = profile_of(export)
    made = None if profile is None else _wiring_of(profile, export.loadout, board)
    return {} if made is None else said_of(made)


def _wiring_of(profile: Profile, loadout: str | None, board: Board) -> Wiring | None:
    try:
        made = fit(profile, loadout, board)
    except StickwrightError:
        return None
    return made if isinstance(made, Wiring) else None


def _changes(then: Mapping[str, str], here: Wiring) -> tuple[Change, ...]:
    return differences(dict(then), said_of(here)) if then else ()
