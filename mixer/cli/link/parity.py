"""Which board it is and whether its mix gave what the core gives, told in words and as data."""

from dataclasses import dataclass

from mixer.cli.shared.console import Console
from mixer.link.watch import BoardWatch, waits_for

SHOWN = 10


@dataclass(frozen=True, slots=True)
class ParityResult:
    """What came of it, and in how many ticks."""

    verdict: str
    compared: int
    passed_over: int
    mismatched: int
    first: tuple[str, ...]
    refused: str | None


@dataclass(frozen=True, slots=True)
class AboardResult:
    """Which tuning the board runs, as far as that is known here."""

    fingerprint: str
    in_use: str
    runs: str
    """``this``, ``other``, ``older`` or ``unknown``."""
    what: str
    changes: tuple[str, ...]
    """What the mix goes by and has changed since."""
    noted: tuple[str, ...]
    """What the journal says was done since, where no values are kept."""


@dataclass(frozen=True, slots=True)
class WiresResult:
    """For which wires the board is built, as far as that is known here."""

    fingerprint: str
    in_use: str
    wires: str
    """``this``, ``other``, ``untold`` (older firmware), ``none`` (a bare reader) or ``unknown``."""
    words: str
    changes: tuple[str, ...]
    """What differs from the wiring in use, where that is known."""


def is_wrong(watch: BoardWatch) -> bool:
    """Whether mix or wires of the board are not the profile's, or its mix differs from the one it tells."""
    differs = watch.parity is not None and watch.parity.mismatched > 0
    return watch.runs_another or watch.is_wired_otherwise or watch.refused is not None or differs


def verdict(watch: BoardWatch) -> str:
    """One word or two on what was compared."""
    if not watch.mixes:
        return "no mix on the board"
    if watch.refused is not None or watch.parity is None:
        return "another mix"
    if watch.parity.mismatched:
        return "differs"
    return "agrees" if watch.parity.compared else "not compared"


def show(watch: BoardWatch, console: Console) -> None:
    """The verdict with its first differences, and what to do; nothing for a board without a mix."""
    _show_parity(watch, console)
    known, wires = watch.aboard, watch.wires
    if known is not None and known.remedy():
        console.say(f"the mix on the board is not this profile's: {known.words()}")
    if wires is not None and wires.remedy():
        console.say(f"the wires of the board: {wires.words()}")
    if watch.remedy:
        console.say(f"  remedy: {watch.remedy}")


def _show_parity(watch: BoardWatch, console: Console) -> None:
    parity = watch.parity
    if not watch.mixes or parity is None:
        return
    if watch.refused is not None:
        console.say(f"the mix on the board is another robot's: {watch.refused}")
        return
    whose = "the tuning it says it runs" if watch.runs_another else "this profile"
    if parity.mismatched:
        total = f"{parity.mismatched} of {parity.compared} ticks"
        console.say(f"the mix on the board DIFFERS from {whose} in {total}; the first:")
        for mismatch in watch.first[:SHOWN]:
            console.say(f"  {mismatch}")
        console.say("  remedy: export this profile and loadout again, and load it onto the board")
    elif parity.compared:
        passed = f", {parity.passed_over} could not be compared" if parity.passed_over else ""
        own = f" with {whose}" if watch.runs_another else ""
        console.say(f"the mix on the board agrees{own} in all {parity.compared} ticks compared{passed}")
    else:
        console.say(
            f"the mix on the board was not compared: that begins {waits_for(parity.unsettled)}. "
            "Press its reset button while recording"
        )


def parity_result(watch: BoardWatch) -> ParityResult:
    """What was compared, as data."""
    parity, refused = watch.parity, watch.refused
    counts = (0, 0, 0) if parity is None else (parity.compared, parity.passed_over, parity.mismatched)
    first = tuple(map(str, watch.first[:SHOWN]))
    return ParityResult(verdict(watch), *counts, first, refused.said if refused else None)


def aboard_result(watch: BoardWatch) -> AboardResult | None:
    """Which tuning runs there, as data; None for a board that tells none."""
    known = watch.aboard
    if known is None:
        return None
    changes = tuple(map(str, known.changes))
    return AboardResult(known.fingerprint, known.here, str(known.runs), known.what, changes, known.noted)


def wires_result(watch: BoardWatch) -> WiresResult | None:
    """For which wires it is built, as data; None for a board that tells no mix."""
    known = watch.wires
    if known is None:
        return None
    changes = tuple(map(str, known.changes))
    return WiresResult(known.told, known.here, str(known.wires), known.words(), changes)
