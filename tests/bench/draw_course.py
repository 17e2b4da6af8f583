"""Draws the README's picture of the course: `PYTHONPATH=. python tests/bench/draw_course.py`.

The simulated driver drives through a gate and back with the carrier; needs what `draw_bench.py` needs.
"""

import asyncio
import os
import sys
import tempfile
from pathlib import Path

from PIL import Image

from tests.bench.draw_bench import picture_of

PICTURE = Path(__file__).parents[2] / "tui" / "pictures" / "course.png"
ROBOT, TASK, SIZE, RUNS = "sample_carrier", "gate", (112, 32), 4
SHAKY = 0.08


async def drawn(folder: Path) -> Image.Image:
    """The course after the last run."""
    from tests.course.driven import feeling, text_of  # noqa: PLC0415  colours are chosen on import
    from tests.course.driver import Driver  # noqa: PLC0415
    from tests.tui.driving import bench  # noqa: PLC0415

    async with bench(folder, ROBOT, size=SIZE) as driven:
        await driven.press("C")
        desk = driven.app.bench.desk
        assert desk is not None
        while not desk.tasks:
            await asyncio.sleep(0.1)
        desk.shelf.name_driver("Ada")
        desk.choose(TASK)
        for seed in range(RUNS):
            await driven.press("enter")
            assert desk.task is not None
            knows = feeling(text_of(ROBOT))
            driven.session._source = Driver(driven.session.robot, desk.task, knows, seed, SHAKY)
            while desk.running:
                driven.run(0.2)
        driven.screen.paint_all()
        await driven.pilot.pause()
        return picture_of(driven.app, SIZE)


def main() -> None:
    """Write the picture."""
    os.environ["COLORTERM"] = "truecolor"
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_DATA_HOME"] = folder
        asyncio.run(drawn(Path(folder))).save(PICTURE, optimize=True)
    sys.stdout.write(f"{PICTURE}: {PICTURE.stat().st_size / 1000:.0f} kB\n")


if __name__ == "__main__":
    main()
