"""A few pictures of the bench, as text, committed beside this file.

After an intended change: `STICKWRIGHT_SNAPSHOTS=write pytest tests/tui/test_snapshots.py`, then look at the
difference. The state behind the pictures is asserted in `test_bench.py`.
"""

import asyncio
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from mixer.live.views.status import BoardView, LinkView
from tests.tui.driving import bench
from tests.tui.panels.panels import PROFILES, changed, drawn, opened, set_of, words_of

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
    check_with_committed(name, asyncio.run(picture(tmp_path, *STORIES[name])))


def check_with_committed(name: str, shown: str) -> None:
    """Hold a picture against the one that is kept, or keep it."""
    path = PICTURES / f"{name}.txt"
    if os.environ.get("STICKWRIGHT_SNAPSHOTS") == "write":
        path.parent.mkdir(exist_ok=True)
        path.write_text(shown, encoding="utf-8")

    assert path.read_text(encoding="utf-8") == shown


PORT = "/dev/ttyACM0"
OWN = BoardView(
    "ATmega328P", "it started because power came", "this", "it runs 7f099dfe2faf, the tuning in use here",
    wires="this", wires_told="it is built for wiring 3da13a33f4b7, the one in use here",
)  # fmt: skip
OLDER = changed(
    OWN,
    runs="older",
    told="it runs 7f099dfe2faf, exported 2026-11-20 18:04:11; in use is 0123456789ab; since then: "
    "shape.crawl.expo: 0.3 -> 0.4; output.left.gain: not set -> 0.9",
    remedy="export this tuning and flash it",
    compared=12_345,
)
FIRST = "3.020 s, frame 150: output.left.wire is 12 on the board, 11 here"
BOARDS = {
    "no link": LinkView("none", "no board is connected"),
    "open": LinkView("waiting", f"{PORT} is open, no frame yet", PORT),
    "no mix": LinkView("connected", f"{PORT} sends frames", PORT, 512, board=BoardView("ATmega328P")),
    "met in the middle": LinkView("connected", f"{PORT} sends frames", PORT, 512, board=changed(
        OWN, passed_over=512, waits="comparing begins at its next start, or once the arm switch has been "
        "off for a moment and tray_left has been driven to an end stop",
    )),
    "all is well": LinkView("connected", f"{PORT} sends frames", PORT, 12_345, board=changed(
        OWN, compared=12_345,
    )),
    "older": LinkView("connected", f"{PORT} sends frames", PORT, 12_345, board=OLDER),
    "wired otherwise": LinkView("connected", f"{PORT} sends frames", PORT, 12_345, board=changed(
        OWN, compared=12_345, wires="other", remedy="export this tuning and flash it",
        wires_told="its wires are those of another export, wiring 0123456789ab, exported 2026-11-20 "
        "18:04:11; in use is 3da13a33f4b7; since then: pin of left: D9 -> D10",
    )),
    "older firmware": LinkView("connected", f"{PORT} sends frames", PORT, 12_345, board=changed(
        OWN, compared=12_345, wires="untold", remedy="export this tuning and flash it",
        wires_told="its firmware is older and does not say for which wires it is built",
    )),
    "differs": LinkView("connected", f"{PORT} sends frames", PORT, 12_345, 2, 1, board=changed(
        OWN, compared=12_345, differing=1, first=FIRST, passed_over=2,
        started="it started because its watchdog had waited in vain, a tick has come late since",
    )),
    "unplugged": LinkView(
        "lost", f"{PORT} has gone away; it is tried again until it is back", PORT, 9, 0, 0, 1, board=OWN
    ),
}  # fmt: skip
"""Links and boards by what they are in."""


def board_pictures(folder: Path) -> Iterator[str]:
    """Each state in the masthead at 80 and 140 columns, and as the panel says it in 60."""
    path = PROFILES / "sample_carrier.toml"
    session = opened(path, folder / "state")
    panels = set_of(session, path)
    for name, link in BOARDS.items():
        panels.show(changed(session.snapshot(), link=link))
        yield f"== {name}"
        for width in (80, 140):
            yield from words_of(drawn(panels.panels["masthead"], width, 1)).splitlines()
        yield from words_of(drawn(panels.panels["board"], 60, 14)).rstrip().splitlines()
    session.close()


def test_boards_are_shown_as_committed(tmp_path: Path) -> None:
    """Every state of link, board, tuning and comparison, in words."""
    check_with_committed("board", "\n".join(line.rstrip() for line in board_pictures(tmp_path)) + "\n")
