"""The legend: every sign that a panel draws is explained in that panel's own list."""

from pathlib import Path

import pytest

from tests.tui.panels.panels import PROFILES, Set, changed, drawn, opened, pictures, set_of
from tui.panels.base import Panel

LETTERS = "µ°…±×◣◥"
"""Not signs: units, arithmetic, what stands for cut letters, and the mark before the name."""
FRAME = "━─▔▁ "
"""Rails, rules and plates that only divide."""


def kind(glyph: str) -> str:
    """Dots and part blocks are drawn in all their forms: one form stands for all."""
    if "⠀" <= glyph <= "⣿":
        return "dots"
    return "blocks" if glyph in "▏▎▍▌▋▊▉█▐" else glyph


def signs_of(panel: Panel) -> set[str]:
    """Every sign in the panel's legend."""
    return {kind(glyph) for sign, _ in panel.signs for glyph in sign}


def signs_in(panel: Panel, sizes: list[tuple[int, int]]) -> set[str]:
    """Every sign it draws now, its title left out."""
    found = set()
    for width, height in sizes:
        for row in drawn(panel, width, height)[1 if panel.headed else 0 :]:
            found |= {kind(glyph) for text, _ in row for glyph in text if not glyph.isascii()}
    return {glyph for glyph in found if glyph not in LETTERS + FRAME}


def crowded(panels: Set) -> None:
    """A picture in which much is wrong at once."""
    view = panels.bench.snapshot
    panels.show(
        changed(
            view,
            flipped=True,
            faults=tuple(panels.bench.session.faults.active),
            transport=changed(view.transport, playing=False, recording="x.csv"),
            tuning=changed(view.tuning, saved=False, changed=2, elsewhere=1, file="changed"),
            actuators=tuple(
                changed(each, fault=number == 0, blocked_in=True, in_closed=False)
                for number, each in enumerate(view.actuators)
            ),
        )
    )


@pytest.mark.parametrize("name", ["sample_carrier", "long_crawler"])
def test_every_sign_drawn_is_explained(tmp_path: Path, name: str) -> None:
    """Through a whole drive, wide and narrow, and with much wrong at once."""
    path = PROFILES / f"{name}.toml"
    session = opened(path, tmp_path / "state")
    panels = set_of(session, path)
    missing: dict[str, set[str]] = {}

    def collect() -> None:
        for panel_name, panel in panels.panels.items():
            unknown = signs_in(panel, [(110, 30), (34, 12)]) - signs_of(panel)
            missing.setdefault(panel_name, set()).update(unknown)

    for picture in pictures(session):
        panels.show(picture)
        collect()
    crowded(panels)
    collect()
    session.close()

    assert {name: signs for name, signs in missing.items() if signs} == {}
