"""Every panel, drawn from real drives at all kinds of sizes: exactly its cells, readable words."""

import random
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.lengths import cases
from tests.tui.drawing.colours import contrast
from tests.tui.panels.panels import PROFILES, ROBOTS, Set, drawn, large_robot, opened, pictures, set_of
from tui.bench.layout import DRAWERS, arrange, pages_of, size_of
from tui.drawing.rows import Row
from tui.styles.palette import Palette
from tui.styles.themes import INKS, themes

TERMINALS = ((80, 24), (109, 29), (110, 30), (159, 60), (160, 42), (240, 70))
LARGE = ("large_1", "large_2")


@pytest.fixture(params=cases(ROBOTS, LARGE))
def panels(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Set]:
    """All panels of an example robot, or of a random one with as many of everything as there can be."""
    path = PROFILES / f"{request.param}.toml"
    if request.param in LARGE:
        path = tmp_path / "large.toml"
        path.write_text(large_robot(int(request.param[-1])), encoding="utf-8")
    session = opened(path, tmp_path / "state")
    yield set_of(session, path)
    session.close()


def fills(rows: list[Row], width: int, height: int) -> bool:
    """Whether there are exactly width x height cells, and no character that would not take one."""
    return [sum(len(text) for text, _ in row) for row in rows] == [width] * height and all(
        text.isprintable() for row in rows for text, _ in row
    )


def sizes(dice: random.Random) -> list[tuple[int, int]]:
    """The smallest, some large, and some between."""
    some = [(dice.randint(1, 100), dice.randint(1, 40)) for _ in range(6)]
    return [(1, 1), (1, 40), (2, 2), (3, 9), (200, 1), (200, 60), *some]


def test_every_panel_fills_its_cells(panels: Set) -> None:
    """At any size, all through a drive, no panel draws a cell more or less, and every style is known."""
    dice = random.Random(4)
    every_theme = [Palette(theme.variables) for theme in themes()]
    states = set()
    for picture in pictures(panels.bench.session):
        panels.show(picture)
        states.add(picture.guard.state)
        for width, height in sizes(dice):
            for name, panel in panels.panels.items():
                rows = drawn(panel, width, height)
                assert fills(rows, width, height), (name, width, height)
                for style in {style for row in rows for _, style in row}:
                    assert [palette.style(style) for palette in every_theme]
    assert {"searching", "live", "stopped"} <= states


def test_panels_fill_their_places(panels: Set) -> None:
    """In the places they really have, with each output looked at, scrolled and lit, on every page."""
    *_, picture = pictures(panels.bench.session, 1.0)
    panels.show(picture)
    looking = panels.bench.looking
    for terminal in TERMINALS:
        for page in range(pages_of(size_of(*terminal))):
            for drawer in ("", *DRAWERS):
                places = arrange(*terminal, page, drawer, replaying=True)
                panels.stage.places = dict(places)
                looking.output = (looking.output + 5) % len(picture.outputs)
                looking.first, looking.lit, looking.jumping = looking.output, bool(page), bool(drawer)
                for name, place in places.items():
                    rows = drawn(panels.panels[name], place.width, place.height)
                    assert fills(rows, place.width, place.height), (name, terminal, page, drawer)


def test_words_are_drawn_in_inks_that_can_be_read(panels: Set) -> None:
    """Letters and digits on any panel have a contrast of 4.5 on their ground (WCAG 2.1, 1.4.3)."""
    used = set()
    for picture in pictures(panels.bench.session, 1.0):
        panels.show(picture)
        for panel in panels.panels.values():
            for row in drawn(panel, 70, 24):
                used |= {style.rstrip("!") for text, style in row if any(map(str.isalnum, text))}
    assert len(used) > 10
    for inks in INKS.values():
        for style in used:
            ink, _, ground = style.partition("/")
            assert contrast(inks[ink], inks[ground or "card"]) >= 4.5, style


@pytest.mark.parametrize("count", [1, 23, 24])
def test_all_outputs_can_be_brought_into_sight(tmp_path: Path, count: int) -> None:
    """However low the panel is, scrolling shows each output's name, in the same row in every stage."""
    path = tmp_path / "large.toml"
    path.write_text(large_robot(count, max(count, 8)), encoding="utf-8")
    session = opened(path, tmp_path / "state")
    panels = set_of(session, path)
    outputs = panels.bench.snapshot.outputs
    for number, output in enumerate(outputs):
        panels.bench.looking.first = number
        rows = panels.panels["mixed"].draw(70, 7)
        line = panels.panels["gate"].outputs(7).lines[number]  # type: ignore[attr-defined]
        assert output.name[:12] in "".join(text for text, _ in rows[line])
    session.close()
