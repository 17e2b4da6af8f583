"""What the bench's panels share: the session, its newest picture, and what the person is looking at.

Panels read it and draw; commands change it. It knows no widget.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from mixer.core.ops import ONE
from mixer.errors import StickwrightError
from mixer.live.bench.demonstration import Demonstration
from mixer.live.views.snapshot import OutputView, Snapshot, SourceView

if TYPE_CHECKING:
    from mixer.course.desk.desk import Desk
    from mixer.link.rehearse.listening import Rehearsing
    from mixer.live.bench.session import Session
    from mixer.live.tuning.windows import Window

SIDEWAYS = ("steer", "turn", "yaw", "rotat", "spin", "strafe", "side", "slide", "sway", "pan")
"""Parts of names of sticks that a hand expects to move left and right."""
SAY_FOR_S = 6.0
SOURCES: Mapping[str, str] = {
    "hand": "hands", "link": "link", "pad": "controller", "replay": "log", "demo": "demonstration",
}  # fmt: skip
"""Who can move the sticks, in the order in which the one key for it goes round the first four."""


@dataclass
class Looking:
    """Where the person looks."""

    output: int = 0
    stick: str = ""
    page: int = 0
    drawer: str = ""
    """``tune``, ``faults``, ``explain`` or empty."""
    first: int = 0
    """First output shown where not all fit."""
    jumping: bool = False
    """The next key chooses a panel."""
    lit: bool = False
    """Whether the way to the chosen output is lit."""


@dataclass
class Bench:
    """One bench. Not shared between screens of different sessions."""

    session: "Session"
    snapshot: Snapshot
    clock: Callable[[], float]
    where: Path
    """The profile's file."""
    looking: Looking = field(default_factory=Looking)
    springs: bool = True
    """Whether a stick that is let go of springs back."""
    keys_hold: bool = False
    """Whether a held key runs a stick and springs it back, instead of moving it by a step."""
    rehearsing: "Rehearsing | None" = None
    """The guided receiver test, while it runs."""
    desk: "Desk | None" = None
    """The course, once it has been opened."""
    demonstration: Demonstration | None = None
    """While it runs, `session` is its own, and the one it was asked of stands still."""
    message: tuple[str, str, float] = ("", "note", 0.0)
    """Words, level, and until when (clock) they are shown."""
    others: "tuple[Window, ...]" = ()
    """Other windows that have this profile open."""
    focus: str = ""
    _own: "Session | None" = None
    _weights: tuple[int, dict[tuple[str, str], float]] = (-1, {})

    @property
    def blind(self) -> bool:
        """Whether two tunings are being compared: nothing may show which one drives."""
        return self.desk is not None and self.desk.blind is not None

    @property
    def output(self) -> OutputView | None:
        """The output looked at."""
        outputs = self.snapshot.outputs
        return outputs[min(self.looking.output, len(outputs) - 1)] if outputs else None

    @property
    def sticks(self) -> tuple[SourceView, ...]:
        """The sticks, in the plan's order."""
        return tuple(source for source in self.snapshot.sources if source.kind == "stick")

    @property
    def stick(self) -> str:
        """Name of the stick looked at; empty on a robot without any."""
        names = [stick.name for stick in self.sticks]
        if self.looking.stick in names:
            return self.looking.stick
        return names[0] if names else ""

    def say(self, words: str, level: str = "note") -> None:
        """Tell the person something, for a few seconds."""
        self.message = words, level, self.clock() + SAY_FOR_S

    def tell(self, words: str, level: str = "note") -> None:
        """Tell the person something that the diary keeps too."""
        self.say(words, level)
        self.session.events.add(self.snapshot.time_s, "session", words, level)

    def said(self) -> tuple[str, str] | None:
        """What is being told now."""
        words, level, until = self.message
        return (words, level) if words and self.clock() < until else None

    @property
    def own_session(self) -> "Session":
        """The person's own, whatever a demonstration shows meanwhile."""
        return self._own or self.session

    def demonstrate(self) -> None:
        """Begin a demonstration, in the place of this bench's own session."""
        self.demonstration = Demonstration(self.session, self.clock())
        self._own, self.session = self.session, self.demonstration.session

    def back_to_work(self) -> None:
        """End the demonstration, if one runs: everything is as it was."""
        if self._own is not None:
            self.session, self._own, self.demonstration = self._own, None, None
            self.session.begin(self.clock())

    def attempt(self, work: Callable[[], object]) -> object:
        """Do something that may be refused; a refusal is told, never raised."""
        try:
            return work()
        except StickwrightError as error:
            words = f"{error.said}: {error.remedy}" if error.remedy else error.said
            self.say(words.replace(str(self.where), self.where.name), "bad")
            return None

    def look_at(self, output: int) -> None:
        """Choose an output, within those there are."""
        self.looking.output = min(max(output, 0), max(len(self.snapshot.outputs) - 1, 0))

    def weight(self, output: str, source: str) -> float:
        """A weight of the mix; 0 where nothing is mixed."""
        revision, known = self._weights
        if revision != self.snapshot.plan_revision:
            known = {}
            for knob in self.session.tuning.knobs:
                parts = knob.key.split(".")
                if len(parts) == 4 and parts[0] == "output" and parts[2] == "mix":
                    value = self.session.tuning.value(knob.key)
                    known[parts[1], parts[3]] = float(value) if value is not None else 0.0
            self._weights = self.snapshot.plan_revision, known
        return known.get((output, source), 0.0)

    def pads(self) -> list[tuple[str, str]]:
        """Sticks in pairs (sideways, up and down) for the pads; empty names where one is missing."""
        names = [stick.name for stick in self.sticks]
        across = [name for name in names if any(part in name for part in SIDEWAYS)]
        upright = [name for name in names if name not in across]
        while len(across) > len(upright) + 1 or (len(across) > 1 and not upright):
            upright.append(across.pop())
        while len(upright) > len(across) + 2:
            across.append(upright.pop())
        count = max(len(across), len(upright))
        across += [""] * (count - len(across))
        upright += [""] * (count - len(upright))
        return list(zip(across, upright, strict=True))


def share(value: int) -> float:
    """A Q14 number as a share of full."""
    return value / ONE


def percent(value: int) -> str:
    """A Q14 number in whole per cent with a sign, four wide or more: `` +45``."""
    return f"{round(value * 100 / ONE):+4d}"
