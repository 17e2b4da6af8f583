"""Rows of styled text, and laying pieces of text into them.

Every character drawn on the bench is one cell wide; names from profiles are plain ASCII by their schema,
and what comes from elsewhere goes through `plain`.
"""

from collections.abc import Iterable, Sequence

Run = tuple[str, str]
"""Text and the name of its style."""
Row = tuple[Run, ...]
Piece = tuple[int, str, str]
"""Column, text, style name."""

GROUND = "text"
"""The style of what nothing is drawn on."""


def plain(text: str) -> str:
    """Text that takes exactly one cell a character: what could not is shown as ``?``."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(letter if letter.isprintable() and ord(letter) < 0x3000 else "?" for letter in text)


def fit(text: str, width: int) -> str:
    """Text cut to a width, with an ellipsis where something is missing."""
    if len(text) <= width:
        return text
    return text[: width - 1] + "…" if width > 0 else ""


def apart(texts: Sequence[str], width: int) -> list[str]:
    """Texts cut in their middle to a width, so that different ones still read differently.

    ``motor_number_07`` and ``motor_number_08`` in eleven columns are ``motor_nu…07`` and ``motor_nu…08``.
    What no end tells apart is numbered; only where not even a number fits two may read the same.
    """
    cut = _with_ends(texts, width)
    taken: dict[str, str] = {}
    for at in sorted(range(len(texts)), key=lambda at: cut[at] != texts[at]):  # what is whole stays whole
        number, whole = 0, texts[at]
        while taken.setdefault(cut[at], whole) != whole and len(f"…{number + 1}") <= width:
            number += 1
            cut[at] = f"{whole[: width - len(f'…{number}')]}…{number}"
    return cut


def _with_ends(texts: Sequence[str], width: int) -> list[str]:
    """Those that would read the same go on, after a beginning, from where they differ."""
    cut = [_cut(text, width) for text in texts]
    alike: dict[str, list[int]] = {}
    for number, text in enumerate(cut):
        alike.setdefault(text, []).append(number)
    for numbers in alike.values():
        whole = [texts[number] for number in numbers]
        if len(set(whole)) > 1 and width > 3:
            ends = [text[_shared(whole) :] for text in whole]
            tails = _with_ends(ends, width - 1 - min(width // 3, 16))
            for number, tail in zip(numbers, tails, strict=True):
                cut[number] = f"{texts[number][: width - 1 - len(tail)]}…{tail}"
    return cut


def _cut(text: str, width: int) -> str:
    """A name keeps its end as well as its beginning; words are cut at theirs."""
    if len(text) <= width or " " in text or width < 6:
        return fit(text, width)
    tail = text[-(width // 3) :].lstrip("_")
    return f"{text[: width - 1 - len(tail)]}…{tail}"


def _shared(texts: Sequence[str]) -> int:
    """How many letters the texts begin with alike, up to a place where a word may begin."""
    least, most = min(texts), max(texts)
    same = next((at for at, letter in enumerate(least) if letter != most[at]), len(least))
    start = max(least.rfind(" ", 0, same), least.rfind("_", 0, same)) + 1
    return start or same


def row_of(width: int, pieces: Iterable[Piece], ground: str = GROUND) -> Row:
    """Lay pieces into one row, left to right; a piece that overlaps an earlier one is cut at its left."""
    runs: list[Run] = []
    at = 0
    for column, text, style in pieces:
        if column > at:
            if column >= width:
                break
            runs.append((" " * (column - at), ground))
            at = column
        elif column < at:
            text = text[at - column :]  # noqa: PLW2901  what is left of it
        shown = text[: width - at]
        if shown:
            runs.append((shown, style))
            at += len(shown)
    if at < width:
        runs.append((" " * (width - at), ground))
    return tuple(runs)


def row_with(width: int, pieces: Iterable[Piece], strip: tuple[int, Sequence[Run]]) -> Row:
    """Like `row_of`, with a ready-made strip of runs (a bar, say) laid in at a column."""
    column, runs = strip
    inner: list[Piece] = []
    at = column
    for text, style in runs:
        inner.append((at, text, style))
        at += len(text)
    return row_of(width, sorted([*pieces, *inner], key=lambda piece: piece[0]))


def blank(width: int) -> Row:
    """An empty row."""
    return ((" " * width, GROUND),) if width else ()


def beside(*blocks: Sequence[Row]) -> list[Row]:
    """Blocks of equal height set side by side."""
    return [tuple(run for part in parts for run in part) for parts in zip(*blocks, strict=True)]


def sized(rows: Sequence[Row], width: int, height: int) -> list[Row]:
    """Exactly `height` rows: cut, or filled up with empty ones."""
    return [*rows[:height], *(blank(width) for _ in range(height - len(rows)))]


def wrapped(text: str, width: int) -> list[str]:
    """Words broken into lines of at most a width; longer words are cut, per cents keep their sign."""
    lines = [""]
    for whole in text.replace(" %", "\0%").split():
        word = fit(whole.replace("\0", " "), width)
        if lines[-1] and len(lines[-1]) + 1 + len(word) > width:
            lines.append(word)
        else:
            lines[-1] = f"{lines[-1]} {word}".strip()
    return lines
