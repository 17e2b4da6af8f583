"""Why a robot does not fit a board, in words, and what would help: only what was tried and found to fit."""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations, starmap

from mixer.board.kinds.kind import Board, Use
from mixer.board.kinds.known import BOARDS
from mixer.board.wiring.fit import SHORTEST_TICK_MS, Misfit, Wiring, fitted
from mixer.board.wiring.given import printed, spans
from mixer.board.wiring.search import Short, of_one_bridge, period_of
from mixer.board.wiring.wires import wires_of
from mixer.errors import ProfileError, listed
from mixer.profile.profile import Profile
from mixer.profile.read.complaint import Complaint
from mixer.profile.schema.root import Robot

_PLURALS: Mapping[Use, tuple[str, str]] = {
    Use.CHANNEL: ("receiver channel", "receiver channels"),
    Use.PULSE_SUM: ("pulse-sum wire", "pulse-sum wires"),
    Use.CONTACT: ("contact", "contacts"),
    Use.SERVO: ("servo pulse", "servo pulses"),
    Use.DUTY: ("duty", "duties"),
    Use.DIRECTION: ("direction", "directions"),
    Use.BATTERY: ("battery divider", "battery dividers"),
    Use.SERIAL_OUT: ("serial line", "serial lines"),
}
COMMON_TOP = 255
"""The count that every board's timers can have."""
GIVEN = "what the profile gives cannot be"
"""What there is to say where only that is in the way; its problems say more."""


def reason(misfit: Misfit) -> str:
    """Why, in one sentence; empty where the given pins are what is wrong."""
    if misfit.said or misfit.short is None:
        return misfit.said
    return _shortage(misfit.board, misfit.short)


def _shortage(board: Board, short: Short) -> str:
    several = len(short.wires) > 1
    wanted, wants = " and ".join(_kinds(short)), "want" if several else "wants"
    pins = spans([printed(pin) for pin in board.pins if pin in short.pins])
    if not short.pins:
        each, them = (" each", "them") if several else ("", "it")
        return f"{wanted} {wants} a pin{each}, and no free one can have {them}"
    if len(short.wires) > len(short.pins):
        return f"{wanted} {wants} a pin each, and there {_be(len(short.pins))} that can have them: {pins}"
    periods = sorted({period_of(wire) or 0 for wire in short.wires if period_of(wire) is not None})
    kinds = listed(["servo pulses" if period == 0 else f"duties of {period} counts" for period in periods])
    units = spans([unit.name for unit in board.units])
    bridges = any(starmap(of_one_bridge, combinations(short.wires, 2)))
    together = ": both inputs of a bridge go on the same" if bridges else ""
    return (
        f"{wanted} {wants} more timers than there are: {kinds} each need timers of their own, "
        f"of {units}, and a timer gives two{together}"
    )


def _kinds(short: Short) -> Iterator[str]:
    """How many wires of each kind, duties with the count that is theirs."""
    for use, count in Counter(wire.use for wire in short.wires).items():
        tops = {wire.top for wire in short.wires if wire.use == use}
        counts = f" of {max(tops)} counts" if use == Use.DUTY and len(tops) == 1 and not short.pins else ""
        yield f"{count} {_PLURALS[use][count > 1]}{counts}"


def _be(count: int) -> str:
    return f"is {count} pin" if count == 1 else f"are {count} pins"


@dataclass(frozen=True, slots=True)
class Remedy:
    """A change with which the robot was found to fit."""

    words: str
    """What to change in the profile besides pins; empty where none of it has to be."""
    wiring: Wiring
    other_pins: bool
    """Whether the pins that the profile gives are not those."""

    @property
    def change(self) -> str:
        """All that is to change, in a phrase behind the board's name."""
        return f"with {self.words}" if self.words else "with other pins" if self.other_pins else "as it is"


def refusal(profile: Profile, loadout: str | None, misfit: Misfit) -> ProfileError:
    """A misfit as an error: each given pin that cannot be, else what is short, with what would help."""
    board = misfit.board
    helps = [f"{each.wiring.board.name} {each.change}" for each in remedies(profile, loadout, board)]
    offered = f"it fits the {', or the '.join(helps)}; " if helps else ""
    remedy = f"{offered}`stickwright check {profile.where} --board {board.key}` says more"
    why = reason(misfit) or GIVEN
    complaint = Complaint(("robot", "board"), f"the robot does not fit the {board.name}: {why}", remedy)
    return ProfileError([*misfit.problems, profile.problem(complaint, loadout)])


def remedies(profile: Profile, loadout: str | None, board: Board) -> Iterator[Remedy]:
    """What makes it fit, each tried: on this board and each other the change that asks least."""
    robot = profile.robot(loadout)
    for each in (board, *(other for other in BOARDS.values() if other.key != board.key)):
        for words, change in _CHANGES:
            changed = change(robot)
            if words and changed == robot:
                continue
            found = _with_fewest_other_pins(profile, loadout, each, changed)
            if found is not None:
                yield Remedy(words, *found)
                break


def _with_fewest_other_pins(
    profile: Profile, loadout: str | None, board: Board, robot: Robot
) -> tuple[Wiring, bool] | None:
    """A wiring with the pins that the profile gives, else with none of them, and which of the two it is."""
    given = any(wire.given is not None for wire in wires_of(robot))
    for anew in (False, True):
        wiring = fitted(profile, loadout, board, {}, anew=anew, robot=robot)
        if isinstance(wiring, Wiring):
            return wiring, given and (anew or robot.robot.board not in (None, board.key))
    return None


def _as_it_is(robot: Robot) -> Robot:
    return robot


def _by_pulse_sum(robot: Robot) -> Robot:
    if robot.receiver.wire == "pulse-sum":
        return robot
    one_wire = robot.receiver.model_copy(update={"wire": "pulse-sum"})
    return robot.model_copy(update={"receiver": one_wire})


def _with_common_top(robot: Robot) -> Robot:
    outputs = {
        name: output.model_copy(update={"top": COMMON_TOP}) if output.wire == "duty" else output
        for name, output in robot.output.items()
    }
    return robot if outputs == robot.output else robot.model_copy(update={"output": outputs})


def _both(robot: Robot) -> Robot:
    changed = _with_common_top(robot)
    return robot if changed == robot or _by_pulse_sum(robot) == robot else _by_pulse_sum(changed)


def _with_a_longer_tick(robot: Robot) -> Robot:
    about = robot.robot
    if about.tick_ms >= SHORTEST_TICK_MS:
        return robot
    return robot.model_copy(update={"robot": about.model_copy(update={"tick_ms": SHORTEST_TICK_MS})})


_ONE_WIRE, _TOP = '[receiver] wire = "pulse-sum"', f"top = {COMMON_TOP} on every duty"
_CHANGES: tuple[tuple[str, Callable[[Robot], Robot]], ...] = (
    ("", _as_it_is),
    (_ONE_WIRE, _by_pulse_sum),
    (_TOP, _with_common_top),
    (f"tick_ms = {SHORTEST_TICK_MS}", _with_a_longer_tick),
    (f"{_ONE_WIRE} and {_TOP}", _both),
)
