"""Places of panels at every size, and outputs spread over rows: no screen needed."""

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tui.layout import DRAWERS, Place, arrange, pages_of, size_of
from tui.panels.river import spread
from tui.styles.themes import INKS, name_for

sizes = st.tuples(st.integers(80, 260), st.integers(24, 90))


def overlap(one: Place, other: Place) -> bool:
    """Whether two rectangles share a cell."""
    return (
        one.x < other.x + other.width
        and other.x < one.x + one.width
        and one.y < other.y + other.height
        and other.y < one.y + one.height
    )


@given(sizes, st.integers(0, 5), st.sampled_from(("", *DRAWERS)), st.booleans())
def test_panels_share_no_cell_and_stay_inside(
    size: tuple[int, int], page: int, drawer: str, replaying: bool
) -> None:
    """At every size from 80 by 24 on, on every page, with every drawer."""
    places = arrange(*size, page, drawer, replaying=replaying)

    assert not [pair for pair in combinations(places.values(), 2) if overlap(*pair)]
    assert all(
        place.x >= 0
        and place.y >= 0
        and place.x + place.width <= size[0]
        and place.y + place.height <= size[1]
        for place in places.values()
    )
    assert all(place.width >= 8 and place.height >= 1 for place in places.values())
    assert {"masthead", "keys"} <= set(places)
    assert ("transport" in places) == replaying
    assert not drawer or drawer in places


@given(sizes)
def test_every_panel_is_on_some_page(size: tuple[int, int]) -> None:
    """Leafing through shows all there is to see."""
    seen: set[str] = set()
    for page in range(pages_of(size_of(*size))):
        seen |= set(arrange(*size, page, "", replaying=False))

    assert seen >= {"receiver", "weave", "gate", "motors", "floor", "hands", "curve", "body", "diary"}


@pytest.mark.parametrize("name", ["receiver", "weave", "mixed", "gate", "motors"])
def test_the_stages_touch(name: str) -> None:
    """The way is not interrupted: each stage begins where the one before ends, on the same rows."""
    places = arrange(200, 50, 0, "", replaying=False)
    order = ["receiver", "weave", "mixed", "gate", "motors"]
    before = order[order.index(name) - 1] if name != "receiver" else ""

    assert places[name].x == (places[before].x + places[before].width if before else 0)
    assert places[name].height == places["receiver"].height


@given(st.integers(0, 30), st.integers(1, 60), st.integers(0, 40))
def test_outputs_get_rows_of_their_own(count: int, height: int, first: int) -> None:
    """In order, inside, none shared; what does not fit is counted."""
    placed = spread(count, height, first)
    shown = [line for line in placed.lines if line >= 0]

    assert shown == sorted(set(shown))
    assert all(line < height for line in shown)
    assert len(shown) + placed.above + placed.below == count


def contrast(one: str, other: str) -> float:
    """Contrast of two colours, 1 to 21 (W3C, WCAG 2.2, relative luminance and contrast ratio)."""

    def luminance(colour: str) -> float:
        parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("theme", INKS)
@pytest.mark.parametrize(
    "ink", ["text", "dim", "head", "plus", "minus", "ok", "warn", "bad", "accent", "live"]
)
def test_what_is_read_can_be_read(theme: str, ink: str) -> None:
    """Every ink of words is at least 4.5 to 1 on the card (WCAG 2.2, 1.4.3), in every theme."""
    assert contrast(INKS[theme][ink], INKS[theme]["card"]) >= 4.5


def test_themes_have_the_same_inks_and_coarse_twins() -> None:
    """A terminal of 256 colours gets colours it has: the cube's six levels or the grey ramp (xterm)."""
    levels = {"00", "5f", "87", "af", "d7", "ff"}
    greys = {f"{8 + 10 * step:02x}" for step in range(24)}
    for name, inks in INKS.items():
        assert set(inks) == set(INKS["harbour"])
        if name.endswith("-256"):
            for colour in inks.values():
                parts = {colour[1:3], colour[3:5], colour[5:7]}
                assert parts <= levels or (len(parts) == 1 and parts <= greys), (name, colour)
    assert name_for(dark=False, colours=256) == "chalk-256"
    assert name_for(dark=True, colours=1 << 24) == "harbour"
