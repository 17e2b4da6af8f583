"""The parts a page is put together from. Each knows its height at a width, and its HTML.

Every table and every text block is a section with a heading of its own. Heights follow `style.py`: change
both together; the browser test holds them to each other.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from mixer.markup import NOTHING, Content, Markup, element, foreign, join
from mixer.sheet.typography import Type

HEAD = 1.06
"""Size of a section's heading as a multiple of the text's."""
HEAD_MM = 0.65
"""Air under a heading and its rule."""
CELL_MM = 1.6
"""Air to the right of a cell."""
RULE_MM = 0.265
"""The hairline under a row: a browser makes it one pixel, 25.4 mm / 96."""


class Block(Protocol):
    """One section of the page."""

    def height_mm(self, width_mm: float, type_: Type) -> float:
        """How high it becomes at that width."""
        ...

    def html(self) -> Markup:
        """The section."""
        ...


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table."""

    title: str
    width_mm: float
    """0 for the one that takes what is left."""
    number: bool = False


@dataclass(frozen=True, slots=True)
class Bad:
    """A cell that must not be overlooked: in a box and bold, so that it does not hang on colour."""

    text: str


Cell = str | Bad
Row = Sequence[Cell]


@dataclass(frozen=True, slots=True)
class Table:
    """A heading, column heads, rows, and what is to be said below."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    notes: tuple[str, ...] = ()

    def height_mm(self, width_mm: float, type_: Type) -> float:
        """Heading, column heads, every row at its highest cell, notes."""
        widths = self._widths(width_mm)
        heads = [
            type_.lines(c.title, w - CELL_MM, bold=True) for c, w in zip(self.columns, widths, strict=True)
        ]
        high = heading_mm(type_) + _row_mm(max(heads), type_)
        for row in self.rows:
            lines = [
                type_.lines(_words(cell), w - CELL_MM, bold=isinstance(cell, Bad))
                for cell, w in zip(row, widths, strict=True)
            ]
            high += _row_mm(max(lines), type_)
        return high + notes_mm(self.notes, width_mm, type_)

    def html(self) -> Markup:
        """The table in its section."""
        cols = join(*(_col(column) for column in self.columns))
        heads = join(*(element("th", c.title, scope="col", **_kind(c)) for c in self.columns))
        body = join(*(self._row(row) for row in self.rows))
        table = element(
            "table",
            element("caption", element("h2", self.title)),
            element("colgroup", cols),
            element("thead", element("tr", heads)),
            element("tbody", body),
        )
        return element("section", table, notes_html(self.notes))

    def _row(self, row: Row) -> Markup:
        first = element("th", _inside(row[0]), scope="row", **_kind(self.columns[0]))
        rest = (
            element("td", _inside(cell), **_kind(column))
            for cell, column in zip(row[1:], self.columns[1:], strict=True)
        )
        return element("tr", first, *rest)

    def _widths(self, width_mm: float) -> list[float]:
        left = width_mm - sum(column.width_mm for column in self.columns)
        return [column.width_mm or left for column in self.columns]


@dataclass(frozen=True, slots=True)
class Text:
    """A heading and sentences, each with its own bold lead."""

    title: str
    items: tuple[tuple[str, str], ...]

    def height_mm(self, width_mm: float, type_: Type) -> float:
        """Heading and items."""
        lines = sum(
            type_.lines(f"{lead}{'m' * (1 + len(lead) // 10)} {words}", width_mm)
            for lead, words in self.items
        )
        return heading_mm(type_) + lines * type_.line_mm + len(self.items) * 2 * type_.pad_mm

    def html(self) -> Markup:
        """A list in its section."""
        items = (
            element("li", *((element("b", foreign(lead)), " ") if lead else ()), foreign(words))
            for lead, words in self.items
        )
        return element("section", element("h2", self.title), element("ul", *items))


def heading_mm(type_: Type) -> float:
    """A section's heading."""
    return HEAD * type_.line_mm + HEAD_MM


def notes_mm(notes: tuple[str, ...], width_mm: float, type_: Type) -> float:
    """Sentences under a block."""
    return sum(type_.lines(note, width_mm) * type_.line_mm + type_.pad_mm for note in notes)


def notes_html(notes: tuple[str, ...]) -> Markup:
    """Sentences under a block."""
    return join(*(element("p", foreign(note), class_="note") for note in notes))


def _row_mm(lines: int, type_: Type) -> float:
    return lines * type_.line_mm + 2 * type_.pad_mm + RULE_MM


def _words(cell: Cell) -> str:
    return f"{cell.text}mm" if isinstance(cell, Bad) else cell


def _inside(cell: Cell) -> Content:
    if isinstance(cell, Bad):
        return element("strong", foreign(cell.text))
    return foreign(cell) if cell else NOTHING


def _col(column: Column) -> Markup:
    if column.width_mm:
        return element("col", style=f"width:{column.width_mm:g}mm")
    return element("col")


def _kind(column: Column) -> dict[str, str]:
    return {"class_": "n"} if column.number else {}
