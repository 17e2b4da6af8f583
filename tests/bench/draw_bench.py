"""Draws pictures of the bench: `PYTHONPATH=. python tests/bench/draw_bench.py [NAME SIZE [KEYS...]]`.

Without arguments, the README's. With them, one PNG in the present folder: `tank_pair 80x24 w w b enter T`
opens that example, arms it, presses the keys and lets three seconds pass. A hand clock drives the session,
so the same keys draw the same picture. Needs Pillow and a monospace font file; bars, boxes and braille are
drawn by rule, since fonts differ in them.
"""

import asyncio
import os
import sys
import tempfile
from pathlib import Path
from typing import Any

PICTURE = Path(__file__).parents[2] / "tui" / "pictures" / "bench.png"
FONT = "/usr/share/fonts/truetype/dejavu/DejaVuSansMono{}.ttf"
CELL = WIDE, HIGH = 8, 16
README = ("sample_carrier", (164, 46), ("2", "2", *("w" * 7), *("a" * 3), "i", "i", "i"))
LINES = {"─": "lr", "━": "LR", "╸": "L", "│": "ud", "╎": "ud", "┤": "lud", "┬": "lrd"}
"""Box lines by the sides they reach: l r u d thin, capitals thick."""


class Pen:
    """Cells drawn on an image."""

    def __init__(self, size: tuple[int, int]) -> None:
        from PIL import Image, ImageDraw, ImageFont  # noqa: PLC0415  only this needs it

        self.image = Image.new("RGB", (size[0] * WIDE, size[1] * HIGH))
        self._draw = ImageDraw.Draw(self.image)
        self._fonts = [ImageFont.truetype(FONT.format(weight), 13) for weight in ("", "-Bold")]

    def cell(self, x: int, y: int, letter: str, ink: str, ground: str, *, bold: bool) -> None:
        """One character in its cell."""
        left, top = x * WIDE, y * HIGH
        self._draw.rectangle((left, top, left + WIDE - 1, top + HIGH - 1), fill=ground)
        code = ord(letter)
        if 0x2800 <= code <= 0x28FF:
            self._braille(left, top, code - 0x2800, ink)
        elif 0x2588 <= code <= 0x258F:
            self._block(left, top, left + 0x2590 - code - 1, top + HIGH - 1, ink)
        elif letter in "▁▔":
            y = top + (HIGH - 2 if letter == "▁" else 0)
            self._block(left, y, left + WIDE - 1, y + 1, ink)
        elif letter in LINES:
            self._line(left, top, LINES[letter], ink)
        elif letter != " ":
            self._draw.text((left, top), letter, ink, self._fonts[bold])

    def _block(self, left: int, top: int, right: int, low: int, ink: str) -> None:
        self._draw.rectangle((left, top, right, low), fill=ink)

    def _braille(self, left: int, top: int, bits: int, ink: str) -> None:
        for place, (across, down) in enumerate(
            [(0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2), (0, 3), (1, 3)]
        ):
            if bits >> place & 1:
                x, y = left + 1 + across * 4, top + 1 + down * 4
                self._block(x, y, x + 1, y + 1, ink)

    def _line(self, left: int, top: int, sides: str, ink: str) -> None:
        thick = sides.isupper()
        x, y = left + WIDE // 2 - 1, top + HIGH // 2 - 1
        for side in sides.lower():
            ends = {"l": (left, y, x, y), "r": (x, y, left + WIDE - 1, y), "u": (x, top, x, y)}
            start_x, start_y, end_x, end_y = ends.get(side, (x, y, x, top + HIGH - 1))
            self._block(start_x, start_y, end_x, end_y + thick, ink)


def picture_of(app: Any, size: tuple[int, int]) -> Any:  # noqa: ANN401
    """What the screen shows, dialogs and all."""
    pen = Pen(size)
    for y, strip in enumerate(app.screen._compositor.render_strips()):
        x = 0
        for text, style, _ in strip:
            ink = style.color.get_truecolor().hex if style and style.color else "#ffffff"
            ground = style.bgcolor.get_truecolor().hex if style and style.bgcolor else "#000000"
            for letter in text:
                pen.cell(x, y, letter, ink, ground, bold=bool(style and style.bold))
                x += 1
    return pen.image.quantize(160, dither=0)


async def drawn(name: str, size: tuple[int, int], keys: tuple[str, ...]) -> Any:  # noqa: ANN401
    """The bench of an example, armed, after these keys."""
    from tests.tui.driving import bench  # noqa: PLC0415  the terminal's colours are chosen on import

    with tempfile.TemporaryDirectory() as folder:
        async with bench(Path(folder), name, size=size) as driven:
            await driven.go_live()
            for key in keys:
                await driven.press(key)
            driven.run(3.0)
            driven.screen.paint_all()
            await driven.pilot.pause()
            return picture_of(driven.app, size)


def main() -> None:
    """Write the picture."""
    os.environ["COLORTERM"] = "truecolor"
    path = PICTURE
    name, size, keys = README
    if len(sys.argv) > 2:
        name, width, high = sys.argv[1], *map(int, sys.argv[2].split("x"))
        size, keys = (width, high), tuple(sys.argv[3:])
        path = Path("-".join(sys.argv[1:]).replace("/", "slash") + ".png")
    asyncio.run(drawn(name, size, keys)).save(path, optimize=True)
    sys.stdout.write(f"{path}: {path.stat().st_size / 1000:.0f} kB\n")


if __name__ == "__main__":
    main()
