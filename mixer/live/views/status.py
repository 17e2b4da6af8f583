"""The parts of a snapshot that are about the bench and not about the robot."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RuleView:
    """A rule that is broken, or was a short while ago."""

    key: str
    words: str
    now: bool
    """In this very tick; else it was within the last two seconds."""
    count: int
    """Ticks in which it has been broken since the session began."""


@dataclass(frozen=True, slots=True)
class BoardView:
    """What the board at the other end of a link says of itself, and how its mix compares with the core."""

    name: str = ""
    """As it calls itself; empty until it has."""
    started: str = ""
    """Why it started last, and whether a tick has come late since; empty where it cannot tell."""
    runs: str = ""
    """``this`` for the tuning in use, ``other``, ``older`` or ``unknown``; empty while none is known of."""
    told: str = ""
    """Which tuning that is and what has changed since, in words."""
    wires: str = ""
    """``this`` for the wiring in use, ``other``, ``untold`` (older firmware), ``none`` (a bare reader) or
    ``unknown``; empty while the board has told no mix."""
    wires_told: str = ""
    """For which wires it is built and what has changed since, in words."""
    remedy: str = ""
    """What to do about its mix or its wires."""
    compared: int = 0
    """Ticks compared in full, with the tuning that the board runs."""
    differing: int = 0
    """Those in which a wire or the guard differed."""
    passed_over: int = 0
    first: str = ""
    """The first difference: when, which number, both values."""
    waits: str = ""
    """What has to happen before the next tick can be compared; empty while all are."""

    @property
    def agreeing(self) -> str:
        """``100.00 % of 12,345 ticks``, never rounded up; empty before the first."""
        if not self.compared:
            return ""
        hundredths = (self.compared - self.differing) * 10_000 // self.compared
        return f"{hundredths / 100:.2f} % of {self.compared:,} ticks"


NO_BOARD = BoardView()


@dataclass(frozen=True, slots=True)
class LinkView:
    """The serial link."""

    state: str
    """``none``, ``waiting`` (open, no frame yet), ``connected``, ``quiet``, ``low`` (the wire is held low),
    ``lost``, ``unreadable``, ``unfit`` (frames without this robot's channels)."""
    words: str
    port: str = ""
    frames: int = 0
    dropped: int = 0
    bad: int = 0
    unplugged: int = 0
    board: BoardView = NO_BOARD


NO_LINK = LinkView("none", "no board is connected")


@dataclass(frozen=True, slots=True)
class TransportView:
    """Where inputs come from, and where in a log we are."""

    mode: str
    """``hand``, ``replay``, ``link``, ``pad``, or ``demo`` in a demonstration."""
    playing: bool
    speed: float
    position_s: float
    length_s: float
    """0 unless replaying."""
    log: str
    """File name of the log; empty without one."""
    ended: bool
    recording: str
    """File that is being recorded to; empty when none is."""


@dataclass(frozen=True, slots=True)
class TuningView:
    """The state of the tuning."""

    side: str
    """``A`` or ``B``; ``?`` while nobody is to know."""
    changed: int
    """How many values of this side differ from the file, in all loadouts; then of the other side."""
    elsewhere: int
    undo: int
    redo: int
    refused: str
    """Why the last edit was refused, in words; empty when it was taken."""
    saved: bool
    """Nothing of either side differs from what the file said when it was read or written last."""
    file: str
    """``changed`` or ``gone`` when another program had to do with the file since; else empty."""


@dataclass(frozen=True, slots=True)
class CostView:
    """What it takes to run."""

    ticks: int
    """Ticks run by the last `advance`."""
    tick_us: float
    """Mean cost of one of them; 0 unless a stopwatch was handed in."""
    skipped_s: float
    """Time left out after stalls, since the session began."""
    skipped_now_s: float
    """Time left out by the last `advance`."""


@dataclass(frozen=True, slots=True)
class EventView:
    """One line of the event log."""

    number: int
    """Counts from 0; never reused, so a screen can ask for what is new."""
    time_s: float
    kind: str
    """``guard``, ``signal``, ``veto``, ``fault``, ``rule``, ``link``, ``edit``, ``session``."""
    level: str
    """``note``, ``warn`` or ``bad``."""
    words: str
