"""Draws README's picture of the bench anew: `PYTHONPATH=. python tests/tui/draw_picture.py`.

A text for each run of letters in one ink, a path for each ground, so that the file stays small.
"""

import asyncio
import os
import tempfile
from collections.abc import Iterator, Sequence
from html import escape
from pathlib import Path

from rich.segment import Segment

from tests.tui.driving import bench

PICTURE = Path(__file__).parents[2] / "tui" / "pictures" / "bench.svg"
SIZE = (160, 46)
KEYS = ("2", "2", *"wwwwwwd", *"iii")
CELL_WIDTH, CELL_HEIGHT, BASELINE = 8.4, 17, 13
FONTS = "DejaVu Sans Mono,Menlo,Consolas,monospace"
Look = tuple[str, str, bool]
"""Ink, ground, bold."""


async def screen_rows() -> list[list[tuple[str, Look]]]:
    """What stands on the screen of a carrier that has been driven for a few seconds."""
    os.environ["COLORTERM"] = "truecolor"
    with tempfile.TemporaryDirectory() as folder:
        async with bench(Path(folder), size=SIZE) as driven:
            await driven.go_live()
            await driven.press(*KEYS)
            driven.run(2.5)
            driven.app.bench.message = ("", "note", 0.0)
            driven.screen.paint_all()
            await driven.pilot.pause()
            strips = driven.screen._compositor.render_strips()
            return [[(segment.text, look_of(segment)) for segment in strip] for strip in strips]


def look_of(segment: Segment) -> Look:
    """Colours of a piece of the screen."""
    style = segment.style
    assert style is not None
    colours = [
        color.triplet.hex if color and color.triplet else "" for color in (style.color, style.bgcolor)
    ]
    return colours[0], colours[1], bool(style.bold)


def texts(
    rows: Sequence[Sequence[tuple[str, Look]]], classes: dict[tuple[str, bool], str]
) -> Iterator[str]:
    """A text for each run that is not blank; `classes` gathers the inks."""
    for line, row in enumerate(rows):
        column = 0
        for text, (ink, _, bold) in row:
            said = text.strip()
            if said:
                at = (column + len(text) - len(text.lstrip())) * CELL_WIDTH
                name = classes.setdefault((ink, bold), f"i{len(classes)}")
                place = f'x="{at:g}" y="{line * CELL_HEIGHT + BASELINE}" class="{name}"'
                wide = f'textLength="{len(said) * CELL_WIDTH:g}"'
                yield f"<text {place} {wide}>{escape(said, quote=False)}</text>"
            column += len(text)


def grounds(rows: Sequence[Sequence[tuple[str, Look]]]) -> Iterator[str]:
    """A path for each stretch of a row in one ground."""
    for line, row in enumerate(rows):
        start = column = 0
        for number, (text, (_, ground, _)) in enumerate(row):
            column += len(text)
            if number + 1 == len(row) or row[number + 1][1][1] != ground:
                wide = f"{(column - start) * CELL_WIDTH:g}"
                corner = f"M{start * CELL_WIDTH:g} {line * CELL_HEIGHT}"
                yield f'<path fill="{ground}" d="{corner}h{wide}v{CELL_HEIGHT}h-{wide}"/>'
                start = column


def main() -> None:
    """Write the picture."""
    rows = asyncio.run(screen_rows())
    classes: dict[tuple[str, bool], str] = {}
    body = [*grounds(rows), *texts(rows, classes)]
    inks = [f".{name}{{fill:{ink}{';font-weight:700' * bold}}}" for (ink, bold), name in classes.items()]
    box = f"0 0 {SIZE[0] * CELL_WIDTH:g} {SIZE[1] * CELL_HEIGHT}"
    head = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" font-family="{FONTS}" font-size="14"'
    lines = [
        f'{head} xml:space="preserve">',
        f"<style>path{{shape-rendering:crispEdges}}{''.join(inks)}</style>",
        *body,
        "</svg>",
        "",
    ]
    PICTURE.write_text("\n".join(lines), encoding="utf-8")


if __name__ == "__main__":
    main()
