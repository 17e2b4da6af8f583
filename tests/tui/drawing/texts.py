"""What a drawing says without its colours."""

from collections.abc import Iterable

from tui.drawing.rows import Row


def text_of(rows: Iterable[Row]) -> list[str]:
    """The bare characters of every row."""
    return ["".join(text for text, _ in row) for row in rows]
