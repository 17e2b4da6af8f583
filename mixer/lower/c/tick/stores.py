"""Members of the state are written once they are known and their old value was read for the last time.

What is said of such a number afterwards is read from the member: a board with few registers then keeps
nothing on its stack, and the text says where the number lives.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple


class Line(NamedTuple):
    """A line of C, and how deep it stands."""

    depth: int
    text: str


@dataclass
class Piece:
    """What belongs together at the outermost level: a local with its comment, an `if`, an assignment."""

    lines: list[Line]
    names: tuple[str, ...] = ()
    """The locals that it declares."""
    is_store: bool = False


class Store(NamedTuple):
    """A last assignment: `place = text`."""

    place: str
    text: str
    name: str
    """The local that is assigned, where it is one; else empty."""


def with_stores(pieces: Sequence[Piece], stores: Iterable[Store]) -> list[Piece]:
    """The pieces with every store in its place."""
    done, left = list(pieces), list(stores)
    makers = {name: piece for piece in done for name in piece.names}
    moved: dict[str, str] = {}
    for store in list(left):
        if store.name not in moved and _written_in_place(done, store):
            moved[store.name] = store.place
            left.remove(store)
    for store in sorted(left, key=lambda store: store.place.startswith("out->")):
        text = _replaced(store.text, store.name, moved[store.name]) if store.name in moved else store.text
        spot = _first_spot(done, store, makers.get(store.name))
        if store.place.startswith("out->"):
            told = store.name in moved  # what a member holds can wait: no register keeps it until then
            spot = max(
                [spot, *(at + 1 for at, piece in enumerate(done) if told or _speaks_of(piece, "in"))]
            )
        done.insert(spot, Piece([Line(0, f"{store.place} = {text};")], is_store=True))
    return done


def _speaks_of(piece: Piece, word: str) -> bool:
    return any(_has(line.text, word) for line in piece.lines)


def _has(text: str, word: str) -> bool:
    return re.search(rf"(?<![\w>]){re.escape(word)}\b", text) is not None


def _first_spot(pieces: Sequence[Piece], store: Store, maker: Piece | None) -> int:
    """Behind the piece that makes the number, and the last one that reads the old value."""
    last = -1
    for at, piece in enumerate(pieces):
        if piece is maker or _speaks_of(piece, store.place):
            last = at
    last += 1
    while last < len(pieces) and pieces[last].is_store:
        last += 1
    return last


def _written_in_place(pieces: list[Piece], store: Store) -> bool:
    """Have the member take the local's place, where nothing asks for the old value later."""
    made = next((at for at, piece in enumerate(pieces) if store.name and store.name in piece.names), None)
    if made is None or not store.place.startswith("state->"):
        return False
    own, behind = pieces[made], pieces[made + 1 :]
    said = [at for at, line in enumerate(own.lines) if _has(line.text, store.name)]
    reads = [at for at, line in enumerate(own.lines) if _has(line.text, store.place)]
    late = any(at not in said and len(said) > 1 and at > said[1] for at in reads)
    if late or any(_speaks_of(piece, store.place) for piece in behind):
        return False
    for piece in pieces[made:]:
        piece.lines = [
            Line(line.depth, _replaced(line.text, store.name, store.place)) for line in piece.lines
        ]
    _undeclare(own, store, said)
    own.lines = [line for line in own.lines if line.text != f"{store.place} = {store.place};"]
    return True


def _undeclare(piece: Piece, store: Store, said: Sequence[int]) -> None:
    """Take the local's declaration away; what explains it moves to where the member is first written."""
    lines, declared = piece.lines, said[0]
    text = re.sub(rf"^(const )?\w+ (?={re.escape(store.place)})", "", lines[declared].text)
    lines[declared] = Line(0, text)
    piece.names = tuple(name for name in piece.names if name != store.name)
    if text != f"{store.place};":
        return
    explained = declared > 0 and lines[declared - 1].text.startswith("/*")
    if explained and not lines[said[1] - 1].text.startswith("/*"):
        lines.insert(said[1], Line(lines[said[1]].depth, lines[declared - 1].text))
    del lines[declared - explained : declared + 1]


def _replaced(text: str, name: str, place: str) -> str:
    if text.startswith("/*"):
        return text
    return re.sub(rf"(?<![\w>]){re.escape(name)}\b", place, text)
