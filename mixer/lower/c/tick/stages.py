"""A tick in stages, each a function of its own: few numbers are then at hand at once.

A small board has few registers, fewer that point, and a stack that is slow to reach. A cut is made where
few locals cross it; those are handed over. Each stage takes only those of the three structs that it
speaks of.
"""

import re
from collections.abc import Sequence
from typing import NamedTuple

from mixer.lower.c.tick.stores import Line, Piece

_LEAST = 25
"""So many statements are worth a stage."""
_STRUCTS = {
    "in": "const struct mix_inputs *in",
    "state": "struct mix_state *state",
    "out": "struct mix_outputs *out",
}


class Function(NamedTuple):
    """A function of its own."""

    comment: str
    head: str
    lines: list[Line]


def in_stages(pieces: Sequence[Piece]) -> tuple[list[Function], list[Line]]:
    """The stages, where there are several, and the statements of the tick."""
    ends = _ends(pieces)
    if len(ends) < 2:
        return [], _lines(pieces)
    functions, calls = [], []
    for number, (start, end) in enumerate(zip([0, *ends], ends[:-1], strict=False), start=1):
        lines = _lines(pieces[start:end])
        structs = [name for name in _STRUCTS if _speak_of(lines, f"{name}->")]
        name = f"stage_{number}"
        head = f"static APART void {name}({', '.join(_STRUCTS[each] for each in structs)})"
        functions.append(Function(f"{name}: {number} of {len(ends)}.", head, lines))
        calls.append(Line(0, f"{name}({', '.join(structs)});"))
    return functions, [*calls, *_lines(pieces[ends[-2] :])]


def _ends(pieces: Sequence[Piece]) -> list[int]:
    """Behind which pieces a stage ends."""
    ends: list[int] = []
    for at in range(1, len(pieces) + 1):
        start = ends[-1] if ends else 0
        enough = len(_lines(pieces[start:at])) >= _LEAST and len(_lines(pieces[at:])) >= _LEAST
        if at == len(pieces) or (enough and not _crossing(pieces[start:at], pieces[at:])):
            ends.append(at)
    return ends


def _lines(pieces: Sequence[Piece]) -> list[Line]:
    return [line for piece in pieces for line in piece.lines]


def _speak_of(lines: Sequence[Line], what: str) -> bool:
    return any(re.search(rf"\b{what}", line.text) for line in lines)


def _crossing(before: Sequence[Piece], behind: Sequence[Piece]) -> bool:
    names = {name for piece in before for name in piece.names}
    said = " ".join(line.text for line in _lines(behind) if not line.text.startswith("/*"))
    return not names.isdisjoint(re.findall(r"(?<![\w>])\w+", said))
