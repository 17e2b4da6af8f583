"""Which board is at the other end, its tuning and wires, and whether it gives what that tuning gives.

One account for `record`, `pit` and the bench. A board is compared with the tuning whose fingerprint it has
told: an edit here makes it the older one and no wrong one. Where that tuning's values are known nowhere,
nothing is compared; a board that runs a mix and does not say which is taken to run the tuning in use.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

from mixer.board.frames import FLOODED, LATE, BeganAnew, Frame, Identity, Restarted
from mixer.board.wiring.aboard import Wires, WiresAboard, wires_aboard
from mixer.core.plan import Plan
from mixer.errors import WrongDeviceError
from mixer.link.binding import Binding
from mixer.link.parity import Mismatch, Parity
from mixer.link.session import SessionEvent
from mixer.live.views.status import BoardView
from mixer.profile.aboard import Aboard, Runs, Tunings, aboard

KEPT = 10
"""Differences that are kept to be told."""
BEFORE = "the tuning in use here before it was edited"
CAME_LATE = "a tick came late on the board: outputs went to rest and its mix began anew, a hand has to arm"
FLOODS = "noise on a channel's wire made more edges than the board has room for: it dropped pulses"


class News(NamedTuple):
    """Something worth a line, once."""

    words: str
    level: str
    """``note``, ``warn`` or ``bad``."""


class BoardWatch:
    """Fed with a link's events as they came, frames with all the board's channels."""

    def __init__(self, tunings: Tunings) -> None:
        self.identity: Identity | None = None
        """What the board has said of itself last."""
        self.aboard: Aboard | None = None
        """What is known of the mix it says it runs."""
        self.wires: WiresAboard | None = None
        """What is known of the wiring it says it is built for; None for a board that runs no mix."""
        self.refused: WrongDeviceError | None = None
        """Why its mix cannot be compared at all, where it cannot."""
        self.first: list[Mismatch] = []
        """The first differences."""
        self.mixes = False
        """Whether a mix runs there."""
        self.parity: Parity | None = None
        """The comparison; None where the tuning on the board is known by its fingerprint alone."""
        self._tunings = self._studied = tunings
        self._known = tunings
        """The tunings as they were when the board last ran the one in use."""
        self._news: list[News] = []
        self._compares = False
        self._plan: Plan | None = None
        """What the comparison is with."""
        self._compare_with(tunings.plan)

    @property
    def runs_another(self) -> bool:
        """Whether the board says that it runs another tuning than the one in use."""
        return self.aboard is not None and self.aboard.runs is not Runs.THIS

    @property
    def remedy(self) -> str:
        """What to do about its mix or its wires; empty where neither is known to be wrong."""
        known = (self.aboard, self.wires)
        return next(filter(None, (each.remedy() for each in known if each is not None)), "")

    @property
    def is_wired_otherwise(self) -> bool:
        """Whether the board says that it is built for other wires than those of the tuning in use."""
        return self._wires_are is Wires.OTHER

    def follow(self, tunings: Tunings) -> None:
        """Another tuning is in use here; `study` takes it up. May be called from another thread."""
        self._tunings = tunings

    def study(self) -> None:
        """Say anew what the board runs, if something has changed here since."""
        if self._studied is self._tunings:
            return
        self._studied, before, wires_were = self._tunings, self.aboard, self._wires_are
        if before is None or self.identity is None:
            return
        self.aboard = self._known_of(before.fingerprint)
        self.wires = wires_aboard(self._studied, self.identity)
        if (self.aboard.runs, self._wires_are) != (before.runs, wires_were):
            self._tell(f"the board: {self._words('')}", "warn" if self.remedy else "note")

    def take(self, events: Sequence[SessionEvent]) -> None:
        """All that the link says, in its order."""
        for event in events:
            match event:
                case Identity():
                    self._introduce(event)
                case Frame():
                    if event.mix is not None:
                        self.mixes = True
                        self._compare(event)
                case _:
                    self._happened(event)

    def news(self) -> Sequence[News]:
        """What is to be told since the last call."""
        told, self._news = self._news, []
        return told

    def view(self) -> BoardView:
        """How it stands."""
        board, parity = self.identity, self.parity
        view = BoardView() if board is None else BoardView(name=board.board, started=board.story)
        if self.aboard is not None:
            view = replace(view, runs=str(self.aboard.runs), told=self.aboard.words(), remedy=self.remedy)
        if self.wires is not None:
            view = replace(view, wires=str(self.wires.wires), wires_told=self.wires.words())
        if not self.mixes:
            return view
        if self.refused is not None or parity is None:
            return replace(view, waits=self._why_not())
        return replace(
            view,
            compared=parity.compared,
            differing=parity.mismatched,
            passed_over=parity.passed_over,
            first=str(self.first[0]) if self.first else "",
            waits="" if parity.in_step else f"comparing begins {waits_for(parity.unsettled)}",
        )

    def _why_not(self) -> str:
        if self.refused is not None:
            return f"not compared: {self.refused.said}"
        return "not compared: the values of the tuning it runs are not known here"

    def _introduce(self, board: Identity) -> None:
        before, self.identity = self.identity, board
        if before is not None and _as_started(board) == _as_started(before):
            if board.flooded and not before.flooded:
                self._tell(FLOODS, "bad")
            return
        self.aboard = self._known_of(board.fingerprint) if board.fingerprint else None
        self.wires = wires_aboard(self._studied, board)
        plan = self._studied.plan if self.aboard is None else self.aboard.plan
        if plan is None:
            self.parity, self._plan = None, None
        elif plan != self._plan:
            self._compare_with(plan)
        why = board.story
        self._tell(f"the board is {board.board}: {self._words(why)}", "warn" if self.remedy else "note")

    @property
    def _wires_are(self) -> Wires | None:
        return None if self.wires is None else self.wires.wires

    def _known_of(self, fingerprint: str) -> Aboard:
        tunings = self._studied
        if self._known is not tunings:
            tunings = replace(tunings, others=(*tunings.others, (BEFORE, self._known.profile)))
        known = aboard(tunings, fingerprint)
        if known.runs is Runs.THIS:
            self._known = self._studied
        return known

    def _words(self, why: str) -> str:
        """What runs there, for which wires, why it started, what to do."""
        runs, remedy = "it runs no mix" if self.aboard is None else self.aboard.words(), self.remedy
        wires = "" if self.wires is None else self.wires.words()
        said = "; ".join(filter(None, (runs, wires, why)))
        return f"{said}. {remedy[0].upper()}{remedy[1:]}" if remedy else said

    def _compare_with(self, plan: Plan) -> None:
        self._plan = plan
        self._binding = Binding(plan)
        self.parity, self.first, self.refused = Parity(plan), [], None
        self._compares = False

    def _compare(self, frame: Frame) -> None:
        if self.parity is None or self.refused is not None:
            return
        try:
            found = self.parity.take([self._binding.bound(frame)])
        except WrongDeviceError as error:
            self.refused = error
            self._tell(f"the mix on the board is another robot's: {error.said}", "bad")
            return
        if self.parity.in_step and not self._compares:
            self._compares = True
            self._tell("from here on every tick of the board is compared with the core's", "note")
        if found and not self.first:
            self._tell(f"the board DIFFERS from {self._whose()}: {found[0]}", "bad")
        self.first += found[: KEPT - len(self.first)]

    def _whose(self) -> str:
        if self.aboard is None or not self.runs_another:
            return "the tuning in use"
        return f"the tuning it says it runs, {self.aboard.fingerprint}"

    def _happened(self, event: SessionEvent) -> None:
        if self.parity is not None:
            self.parity.take([event])
        if isinstance(event, BeganAnew):
            self._tell(CAME_LATE, "bad")
        elif isinstance(event, Restarted):
            why = "" if self.identity is None else f": {self.identity.story}".removesuffix(": ")
            self._tell(f"the board has started anew{why}; how long it was away is not known", "warn")

    def _tell(self, words: str, level: str) -> None:
        self._news.append(News(words, level))


def waits_for(unsettled: Sequence[str]) -> str:
    """When a board's state will be known, for one that was not heard from its start without a gap."""
    return "at its next start" + "".join(f", or once {words}" for words in _settles(unsettled))


def _settles(unsettled: Sequence[str]) -> Iterator[str]:
    """What people can do to settle it, if anything does."""
    if any(name.startswith("flip.") for name in unsettled):
        return
    way = ".driven"
    parts = [
        f"{name.split('.')[1]} has been driven to an end stop"
        for name in unsettled
        if name.startswith("actuator.") and name.endswith(way)
    ]
    if not parts or len(parts) < len(unsettled):
        parts.insert(0, "the arm switch has been off for a moment")
    yield " and ".join(parts)


def _as_started(board: Identity) -> Identity:
    """Without what has happened since, which is told where it happens."""
    return replace(board, started=board.started & ~(LATE | FLOODED))
