"""Draws the README's picture of the bench: `python tests/bench/draw_bench.py`.

A hand clock drives the session, so the same code draws the same picture. Fonts from elsewhere are taken
out: the picture asks nobody for anything.
"""

import asyncio
import os
import re
import tempfile
from pathlib import Path

PICTURE = Path(__file__).parents[2] / "tui" / "pictures" / "bench.svg"
SIZE = (160, 44)


async def drawn() -> str:
    """The bench of the sample carrier in a left turn, as SVG."""
    from tests.tui.driving import bench  # noqa: PLC0415  the terminal's colours are chosen on import

    with tempfile.TemporaryDirectory() as folder:
        async with bench(Path(folder), size=SIZE) as driven:
            await driven.go_live()
            await driven.press("2", "2", *("w" * 7), *("a" * 3), "i", "i", "i")
            driven.run(3.0)
            return driven.app.export_screenshot()


def main() -> None:
    """Write the picture."""
    os.environ["COLORTERM"] = "truecolor"
    svg = asyncio.run(drawn())
    svg = re.sub(r"@font-face \{.*?\}\s*", "", svg, flags=re.DOTALL)
    svg = re.sub(r"<!--.*?-->", "", svg, flags=re.DOTALL)
    PICTURE.write_text(svg, encoding="utf-8")


if __name__ == "__main__":
    main()
