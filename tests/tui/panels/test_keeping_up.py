"""What is painted when: nothing that shows the same as before, and everything that does not."""

import asyncio
from pathlib import Path

from tests.tui.driving import Driven, bench
from tui.panels.base import MOST_SKIPPED

ALWAYS = {"masthead", "keys", "body", "diary"}
"""Cheap, or with a clock in them: drawn whenever it is their turn."""


def painted(driven: Driven, pictures: int) -> dict[str, int]:
    """How often each panel is painted in so many pictures."""
    counts: dict[str, int] = {}

    def counting(name: str) -> None:
        panel = driven.screen.panels[name]
        paint = panel.paint

        def count() -> None:
            counts[name] = counts.get(name, 0) + 1
            paint()

        panel.paint = count  # type: ignore[method-assign]

    for name in driven.screen.places:
        counting(name)
    driven.run(pictures / 30)
    return counts


def test_a_robot_at_rest_costs_no_painting(tmp_path: Path) -> None:
    """Armed and still, only what has a clock in it is drawn; with a stick moved, all that moves."""

    async def story() -> None:
        async with bench(tmp_path) as driven:
            await driven.go_live()
            driven.run(1.0)
            still = painted(driven, MOST_SKIPPED - 2)
            assert sum(count for name, count in still.items() if name not in ALWAYS) <= len(still)

            driven.session.sticks.set("throttle", 0.5)
            moving = painted(driven, MOST_SKIPPED)
            assert moving["weave"] > MOST_SKIPPED / 4
            assert all(moving[name] >= 1 for name in ("receiver", "mixed", "motors", "floor", "curve"))

    asyncio.run(story())


def test_what_was_painted_in_between_is_painted_back(tmp_path: Path) -> None:
    """A panel that was made to show something else shows the old again, though the old was seen before."""

    async def story() -> None:
        async with bench(tmp_path) as driven:
            driven.run(0.5)
            panel = driven.screen.panels["hands"]
            before = list(panel._drawn)
            values, driven.session.sticks.value = driven.session.sticks.value, lambda _: 1.0
            panel.paint()
            assert panel._drawn != before

            driven.session.sticks.value = values
            panel.keep_up()
            assert panel._drawn == before

    asyncio.run(story())
