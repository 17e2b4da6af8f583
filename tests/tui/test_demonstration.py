"""The demonstration on the screen: a key starts it, any key or click ends it, and all is as it was."""

import asyncio
from dataclasses import replace
from pathlib import Path

import pytest

from tests.tui.driving import bench


@pytest.mark.parametrize("ended_by", ["w", "q", "click", "itself"])
def test_whatever_ends_it_does_nothing_else(tmp_path: Path, ended_by: str) -> None:
    """What ends it moves no stick, leaves no bench and pauses nothing; all stands where it stood."""

    async def story() -> None:
        async with bench(tmp_path, "tank_pair", size=(80, 24)) as driven:
            session = driven.session
            await driven.press("w", "w", "v")
            driven.run(0.2)
            before = session.snapshot()
            places = driven.screen.places
            await driven.press("p")
            assert "caption" in driven.screen.places
            assert "floor" in driven.screen.places
            driven.run(0.5)
            assert driven.snapshot.transport.mode == "demo"
            assert "SWITCHED ON" in driven.text()
            if ended_by == "click":
                await driven.pilot.click("#floor")
            elif ended_by == "itself":
                driven.clock.now += 11.0
                driven.session.step(6000)
                driven.run(0.04)
            else:
                await driven.press(ended_by)
            assert driven.session is session
            assert driven.screen.places == places
            after = replace(session.snapshot(), revision=before.revision, cost=before.cost)
            assert after == before
            assert driven.app.is_running
            assert len(driven.app.screen_stack) == 2

    asyncio.run(story())


@pytest.mark.parametrize("size", [(80, 24), (120, 36), (200, 50)])
def test_it_fits_every_size(tmp_path: Path, size: tuple[int, int]) -> None:
    """No two panels overlap, none reaches out, and the caption is the last of them."""

    async def story() -> None:
        async with bench(tmp_path, "tank_pair", size=size) as driven:
            await driven.press("p")
            cells: set[tuple[int, int]] = set()
            for place in driven.screen.places.values():
                own = {(place.x + x, place.y + y) for x in range(place.width) for y in range(place.height)}
                assert not own & cells
                cells |= own
            assert max(x for x, _ in cells) < size[0]
            assert max(y for _, y in cells) == size[1] - 1

    asyncio.run(story())
