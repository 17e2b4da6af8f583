"""Pins that a profile gives and that this board cannot have so."""

from collections.abc import Iterator, Mapping, Sequence

from mixer.board.kinds.kind import Board, Pin, Use
from mixer.board.wiring.search import can_carry, of_one_bridge, period_of
from mixer.board.wiring.wires import Wire
from mixer.errors import listed, nearest
from mixer.profile.read.complaint import Complaint

ARTICLES: Mapping[Use, str] = {
    Use.CHANNEL: "a receiver channel",
    Use.PULSE_SUM: "a pulse-sum wire",
    Use.CONTACT: "a contact",
    Use.SERVO: "a servo pulse",
    Use.DUTY: "a duty",
    Use.DIRECTION: "a direction",
    Use.BATTERY: "the battery's divider",
    Use.SERIAL_OUT: "the serial line",
    Use.TICK: "the tick",
}


def printed(pin: Pin) -> str:
    """What a person looks for on the board: ``D9``, ``GP16``."""
    return pin.label or pin.name


def spans(names: Sequence[str]) -> str:
    """Names with commas, those that count on together: ``GP0 to GP22, GP26``."""
    runs: list[list[str]] = []
    for name in names:
        if runs and _next(runs[-1][-1]) == name:
            runs[-1].append(name)
        else:
            runs.append([name])
    return listed([f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(run) for run in runs])


def _next(name: str) -> str:
    letters = name.rstrip("0123456789")
    number = name.removeprefix(letters)
    return f"{letters}{int(number) + 1}" if number else ""


def carriers(board: Board, wire: Wire) -> list[str]:
    """The pins that could have a wire, as printed."""
    return [printed(pin) for pin in board.pins if can_carry(board, pin, wire)]


def complaints_of_given(board: Board, given: Mapping[Wire, int | str]) -> Iterator[Complaint]:
    """What is wrong with each given pin alone, and between two of them."""
    before: list[tuple[Wire, Pin]] = []
    for wire, word in given.items():
        pin = board.pin(word)
        if pin is None:
            yield _unknown(board, wire, word)
        elif not can_carry(board, pin, wire):
            yield _unable(board, wire, pin)
        else:
            yield from _against(board, wire, pin, before)
            before.append((wire, pin))


def _unknown(board: Board, wire: Wire, word: int | str) -> Complaint:
    names = carriers(board, wire)
    near = nearest(str(word).upper(), [printed(pin) for pin in board.pins])
    hint = f"did you mean {near!r}? " if near else ""
    return Complaint(
        wire.key,
        f"the {board.name} has no pin {word!r}",
        f"{hint}those that can have {ARTICLES[wire.use]}: {spans(names)}",
    )


def _unable(board: Board, wire: Wire, pin: Pin) -> Complaint:
    names = carriers(board, wire)
    what = f"{ARTICLES[wire.use]} of {wire.top} counts" if wire.use == Use.DUTY else ARTICLES[wire.use]
    said = f"pin {printed(pin)} of the {board.name} cannot have {what}"
    if names:
        return Complaint(wire.key, said, f"those that can: {spans(names)}")
    tops = sorted({" to ".join(map(str, dict.fromkeys(unit.tops))) for unit in board.units if unit.tops})
    counts = f"full may be {listed(tops)} counts: write top to suit, such as top = 255"
    return Complaint(wire.key, said, counts)


def _against(board: Board, wire: Wire, pin: Pin, before: Sequence[tuple[Wire, Pin]]) -> Iterator[Complaint]:
    """Against each wire that stands earlier in the profile."""
    for other, taken in before:
        if of_one_bridge(wire, other) and pin.unit != taken.unit:
            yield _apart(board, wire, pin, taken)
        elif taken == pin:
            said = f"pin {printed(pin)} is already taken by {other.spelled}, under another name"
            yield Complaint(wire.key, said, "give each wire a pin of its own")
        elif period_of(wire) is None or period_of(other) is None or pin.unit != taken.unit:
            continue
        elif pin.side == taken.side:
            said = f"pin {printed(pin)} gives the same signal as {printed(taken)}, which is {other.spelled}"
            yield Complaint(wire.key, said, f"take a pin that is not {pin.unit}'s output {pin.side}")
        elif period_of(wire) != period_of(other):
            said = f"pin {printed(pin)} shares {pin.unit} and its period with {other.spelled}"
            remedy = "servo pulses, and duties of another top, need another timer's pins, or make top equal"
            yield Complaint(wire.key, said, remedy)


def _apart(board: Board, wire: Wire, pin: Pin, taken: Pin) -> Complaint:
    """The second input of a bridge on another timer than the first."""
    beside = [printed(each) for each in board.pins if each.unit == taken.unit and each.side != taken.side]
    other = f"its bridge's other input, {printed(taken)}, on {taken.unit}"
    kind = taken.unit.split()[0]
    remedy = f"both inputs change at the same moment on one {kind} only: take {spans(beside)}"
    return Complaint(wire.key, f"pin {printed(pin)} is on {pin.unit}, and {other}", remedy)
