"""Whether a robot fits a board: its wires on pins, or what is wrong with those given, or what is short."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from mixer.board.incoming import LONGEST_PULSE_US, MISSING_US
from mixer.board.kinds.kind import Board, Pin, Use
from mixer.board.wiring.given import complaints_of_given
from mixer.board.wiring.line import BITS_A_BYTE, baud_for, frame_bytes
from mixer.board.wiring.search import GaveUpError, Places, Search, Short
from mixer.board.wiring.wires import Wire, channels_of, wires_of
from mixer.errors import Problem
from mixer.profile.profile import Profile
from mixer.profile.read.complaint import Complaint
from mixer.profile.schema.root import Robot

MOST_OUTPUTS = 16
SHORTEST_TICK_MS = 2
"""What the firmware's `config.h` allows on every board."""


@dataclass(frozen=True)
class Wiring:
    """Every wire of a robot with its pin."""

    board: Board
    robot: Robot
    places: Mapping[Wire, Pin]
    """In the order of `wires_of`."""
    left_out: tuple[Wire, ...]
    """What would be nice to have and found no pin."""
    assigned: frozenset[Wire]
    """Those whose pin was assigned here: the profile gives none, or gives one of another board."""
    channels: int
    """How many receiver channels a frame has: up to the highest used, or a whole pulse-sum train."""
    baud: int
    """Speed of the serial line."""

    @property
    def contacts(self) -> int:
        """How many inputs for contacts the board has: up to the highest that is used."""
        return max((wire.number for wire in self.places if wire.use == Use.CONTACT), default=0)

    @property
    def line_share(self) -> float:
        """Share of a tick for which the serial line is busy with its frame."""
        bits = BITS_A_BYTE * frame_bytes(self.channels, len(self.robot.output))
        return bits * 1000 / self.baud / self.robot.robot.tick_ms


@dataclass(frozen=True)
class Misfit:
    """Why a robot has no wiring on a board. One of `problems`, `short` and `said` says it."""

    board: Board
    problems: tuple[Problem, ...] = ()
    """What the profile gives and cannot be: pins, or pulses that no train carries."""
    short: Short | None = None
    """Wires that have too few pins, with the given pins as they are."""
    said: str = ""
    """Anything else."""


def fit(profile: Profile, loadout: str | None, board: Board, *, anew: bool = False) -> Wiring | Misfit:
    """The wiring of one loadout on a board.

    What the profile says of pins holds where it is meant for this board, or for none by name; `anew` passes
    over it. A pin that no loadout gives is the same in every loadout, as far as it can be.
    """
    base = fitted(profile, None, board, {}, anew=anew)
    if loadout is None:
        return base
    liked = {wire.key: pin for wire, pin in base.places.items()} if isinstance(base, Wiring) else {}
    return fitted(profile, loadout, board, liked, anew=anew)


def fitted(
    profile: Profile,
    loadout: str | None,
    board: Board,
    liked: Mapping[tuple[str | int, ...], Pin],
    *,
    anew: bool,
    robot: Robot | None = None,
) -> Wiring | Misfit:
    """`fit` with the pins that are liked, by key. `robot` is put in the loadout's place to try a change."""
    robot = robot or profile.robot(loadout)
    named = profile.robot(None).contact
    wires = wires_of(robot, named)
    anew = anew or robot.robot.board not in (None, board.key)
    given = {} if anew else {wire: wire.given for wire in wires if wire.given is not None}
    complaints = [*complaints_of_given(board, given), *_no_slots(robot)]
    if complaints:
        return Misfit(board, tuple(profile.problem(complaint, loadout) for complaint in complaints))
    too_many = next(_beyond(robot, wires, board), None)
    if too_many is not None:
        return Misfit(board, said=too_many)
    fixed = {wire: pin for wire, word in given.items() if (pin := board.pin(word)) is not None}
    wanted = {wire: liked[wire.key] for wire in wires if wire.key in liked}
    try:
        places = _most(board, wires, tuple(fixed.items()), tuple(wanted.items()))
    except GaveUpError:
        return Misfit(board, said="the search for pins took too long: give the pins of the outputs")
    if isinstance(places, Short):
        return Misfit(board, short=places)
    return _wiring(board, robot, wires, places, frozenset(given))


def _wiring(
    board: Board,
    robot: Robot,
    wires: Sequence[Wire],
    places: Places,
    given: frozenset[Wire],
) -> Wiring | Misfit:
    ordered = {wire: places[wire] for wire in wires if wire in places}
    left_out = tuple(wire for wire in wires if wire not in places)
    channels = channels_of(robot)
    baud = baud_for(board, channels, len(robot.output), robot.robot.tick_ms)
    if baud is None:
        said = f"a frame takes more than a tick of {robot.robot.tick_ms} ms even at {board.bauds[-1]} baud"
        return Misfit(board, said=said)
    return Wiring(board, robot, ordered, left_out, frozenset(ordered) - given, channels, baud)


def _no_slots(robot: Robot) -> Iterator[Complaint]:
    """Pulses that a train's reader takes for something else."""
    shortest, longest = robot.receiver.valid_us
    if robot.receiver.wire == "channels" or MISSING_US < shortest <= longest <= LONGEST_PULSE_US:
        return
    said = f"[{shortest}, {longest}] has pulses that are none on a pulse-sum wire"
    remedy = f"stay above {MISSING_US} µs, a missing channel's slot, and at {LONGEST_PULSE_US} µs or less"
    yield Complaint(("receiver", "valid_us"), said, remedy)


def _beyond(robot: Robot, wires: Sequence[Wire], board: Board) -> Iterator[str]:
    """What the firmware cannot count."""
    if len(robot.output) > MOST_OUTPUTS:
        yield f"it has {len(robot.output)} outputs, and the firmware {MOST_OUTPUTS} at most"
    if robot.robot.tick_ms < SHORTEST_TICK_MS:
        yield f"its tick is {robot.robot.tick_ms} ms, and the firmware's {SHORTEST_TICK_MS} ms at least"
    for use, what, most in (
        (Use.CHANNEL, "receiver channel", board.most_channels),
        (Use.CONTACT, "contact", board.most_contacts),
    ):
        highest = max((wire.number for wire in wires if wire.use == use), default=0)
        if highest > most:
            yield f"it reads {what} {highest}, and the firmware has wires for {what}s 1 to {most}"


@lru_cache(maxsize=512)
def _most(board: Board, wires: tuple[Wire, ...], *fixed: tuple[tuple[Wire, Pin], ...]) -> Places | Short:
    """Places for all wires, or else for all that must be and as many as can be of those that are wanted.

    `fixed` are the pins that are given and those that are liked. Most loadouts ask the same.
    """
    given, liked = map(dict, fixed)
    places = Search(board, wires, given, liked).places()
    if not isinstance(places, Short):
        return places
    kept = [wire for wire in wires if not wire.wanted]
    found = Search(board, kept, given, liked).places()
    for wire in (wire for wire in wires if wire.wanted and not isinstance(found, Short)):
        more = Search(board, [*kept, wire], given, liked).places()
        if not isinstance(more, Short):
            kept, found = [*kept, wire], more
    return found
