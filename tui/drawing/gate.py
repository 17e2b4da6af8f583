"""The guard as a gate in the stream: open, every output's flow goes through; shut, it ends at a wall."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from tui.drawing.bars import level
from tui.drawing.rows import Piece, Row, row_of, row_with, wrapped

FACES: Mapping[str, tuple[str, str]] = {
    "searching": ("○", "dim!"),
    "resting": ("◐", "warn!"),
    "live": ("●", "ok!"),
    "stopped": ("■", "bad!"),
    "faulted": ("✕", "bad!"),
}
"""Glyph and style of each state."""


@dataclass(frozen=True, slots=True)
class Flow:
    """What comes to the gate for one output, and its row."""

    line: int
    before: float
    after: float


def gate(
    state: str,
    why: Sequence[str],
    arming: float,
    flows: Sequence[Flow],
    width: int,
    height: int,
    phase: int = 0,
) -> list[Row]:
    """The gate with its plate near the middle, where it covers the fewest streams."""
    is_open = state == "live"
    by_line = {flow.line: flow for flow in flows}
    middle = width // 2
    rows = [_line(by_line.get(line), is_open, middle, width, phase) for line in range(height)]
    plate = _plate(state, why, arming, width, most=max(height - 2, 3))
    top = _clear_place(set(by_line), len(plate), height)
    rows[top : top + len(plate)] = plate[: height - top]
    return rows


def _clear_place(lines: set[int], tall: int, height: int) -> int:
    """The first row of a plate that hides as few streams as can be, the nearest to the middle of those."""
    middle = max(height - tall, 0) / 2

    def cost(top: int) -> tuple[int, float]:
        return len(lines.intersection(range(top, top + tall))), abs(top - middle)

    return min(range(max(height - tall, 0) + 1), key=cost)


def _line(flow: Flow | None, is_open: bool, middle: int, width: int, phase: int) -> Row:
    left, right = middle, width - middle - 1
    wall = ("╎", "line") if is_open else ("█", "wall")
    pieces: list[Piece] = []
    if flow is not None:
        pieces.append((0, *_stream(flow.before, left, phase)))
    pieces.append((middle, *wall))
    if flow is not None and abs(flow.after) >= 0.005:
        pieces.append((middle + 1, *_stream(flow.after, right, phase - middle - 1, tip=True)))
    elif flow is not None:
        pieces.append((middle + 1, "·" * right, "faint"))
    return row_of(width, pieces)


def _stream(value: float, length: int, phase: int, *, tip: bool = False) -> tuple[str, str]:
    """A line that carries something: the gaps move with it."""
    if abs(value) < 0.005:
        return "─" * length, "faint"
    line = "".join("╸" if (place - phase) % 6 == 0 else "━" for place in range(length))
    if tip and length:
        line = line[:-1] + "▶"
    return line, "plus" if value > 0 else "minus"


def _plate(state: str, why: Sequence[str], arming: float, width: int, most: int) -> list[Row]:
    glyph, style = FACES.get(state, ("?", "warn!"))
    inner = width
    name = f"{glyph} {state.upper()}" if width > 9 else f"{glyph}{state.upper()}"
    rows = [
        row_of(inner, [(0, "▁" * inner, "line")]),
        row_of(inner, [(0, name[:inner].center(inner), f"{style.rstrip('!')}/plate!")]),
    ]
    if state == "resting" and arming > 0:
        rows.append(row_with(inner, [], (0, level(arming, inner, "warn"))))
    for reason in why[:3]:
        for number, part in enumerate(wrapped(reason, inner - 2)):
            rows.append(
                row_of(inner, [(0, f"{' ' if number else '·'} {part}", "text/plate")], "text/plate")
            )
    rows = rows[: most - 1]
    rows.append(row_of(inner, [(0, "▔" * inner, "line")]))
    return rows
