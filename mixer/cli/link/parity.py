"""Whether the mix on the board gave what the core gives, told in words and as data."""

from collections.abc import Sequence
from dataclasses import dataclass

from mixer.board.frames import Frame
from mixer.cli.shared.console import Console
from mixer.core.plan import Plan
from mixer.errors import WrongDeviceError
from mixer.link.parity import Mismatch, Parity
from mixer.link.session import SessionEvent

SHOWN = 10


class ParityWatch:
    """Fed with a recording's events; silent for a board on which no mix runs."""

    def __init__(self, plan: Plan) -> None:
        self._parity = Parity(plan)
        self._refused: WrongDeviceError | None = None
        self._first: list[Mismatch] = []
        self._mixes = False

    @property
    def failed(self) -> bool:
        """Whether the board's mix is another one than the profile's."""
        return self._refused is not None or self._parity.mismatched > 0

    def take(self, events: Sequence[SessionEvent]) -> None:
        """Compare what can be compared."""
        self._mixes = self._mixes or any(isinstance(event, Frame) and event.mix for event in events)
        if not self._mixes or self._refused:
            return
        try:
            found = self._parity.take(events)
        except WrongDeviceError as error:
            self._refused = error
            return
        self._first += found[: SHOWN - len(self._first)]

    def verdict(self) -> str:
        """One word or two."""
        if not self._mixes:
            return "no mix on the board"
        if self._refused:
            return "another mix"
        if self._parity.mismatched:
            return "differs"
        return "agrees" if self._parity.compared else "not compared"

    def show(self, console: Console) -> None:
        """The verdict with its first differences; nothing for a board without a mix."""
        parity = self._parity
        match self.verdict():
            case "another mix":
                console.say(f"the mix on the board is another robot's: {self._refused}")
            case "differs":
                total = f"{parity.mismatched} of {parity.compared} ticks"
                console.say(f"the mix on the board DIFFERS from this profile in {total}; the first:")
                for mismatch in self._first:
                    console.say(f"  {mismatch}")
                console.say("    remedy: export this profile and loadout again, and load it onto the board")
            case "agrees":
                passed = f", {parity.passed_over} could not be compared" if parity.passed_over else ""
                console.say(f"the mix on the board agrees in all {parity.compared} ticks compared{passed}")
            case "not compared":
                console.say(
                    "the mix on the board was not compared: that begins at the board's start. "
                    "Press its reset button while recording"
                )

    def result(self) -> "ParityResult":
        """The verdict as data."""
        parity, refused = self._parity, self._refused
        first = tuple(map(str, self._first))
        counts = parity.compared, parity.passed_over, parity.mismatched
        return ParityResult(self.verdict(), *counts, first, refused.said if refused else None)


@dataclass(frozen=True, slots=True)
class ParityResult:
    """What came of it, and in how many ticks."""

    verdict: str
    compared: int
    passed_over: int
    mismatched: int
    first: tuple[str, ...]
    refused: str | None
