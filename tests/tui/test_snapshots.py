"""A few pictures of the bench, as text, committed beside this file.

After an intended change: `STICKWRIGHT_SNAPSHOTS=write pytest tests/tui/test_snapshots.py`, then look at the
difference. The state behind the pictures is asserted in `test_bench.py`.
"""

import asyncio
import os
from pathlib import Path

import pytest

from tests.tui.driving import bench

PICTURES = Path(__file__).parent / "snapshots"
STORIES = {
    "small": ((80, 24), ("w", "w", "w", "d")),
    "tune": ((120, 36), ("w", "w", "w", "t", "down", "down", "right")),
    "wide": ((200, 50), ("w", "w", "w", "w", "a", "i", "i", "e")),
    "broken": ((160, 45), ("w", "w", "w", "T", "b", "enter")),
}
"""Size, and keys pressed on a live robot."""


async def picture(folder: Path, size: tuple[int, int], keys: tuple[str, ...]) -> str:
    """Every cell of the screen after these keys, and the styles that are in it."""
    async with bench(folder, size=size) as driven:
        await driven.go_live()
        for key in keys:
            await driven.press(key)
        driven.run(1.0)
        driven.screen.paint_all()  # panels paint in turn; here all show the same moment
        rows = [[" "] * size[0] for _ in range(size[1])]
        styles: set[str] = set()
        for name, place in driven.screen.places.items():
            for line, row in enumerate(driven.screen.panels[name]._drawn):
                text = "".join(run for run, _ in row)
                rows[place.y + line][place.x : place.x + place.width] = text
                styles.update(style for _, style in row)
    lines = ["".join(row).rstrip() for row in rows]
    return "\n".join([*lines, "", f"styles: {' '.join(sorted(styles))}", ""])


@pytest.mark.parametrize("name", STORIES)
def test_picture_is_as_committed(name: str, tmp_path: Path) -> None:
    """The same keys at the same times draw the same picture."""
    drawn = asyncio.run(picture(tmp_path, *STORIES[name]))
    path = PICTURES / f"{name}.txt"
    if os.environ.get("STICKWRIGHT_SNAPSHOTS") == "write":
        path.parent.mkdir(exist_ok=True)
        path.write_text(drawn, encoding="utf-8")

    assert path.read_text(encoding="utf-8") == drawn
