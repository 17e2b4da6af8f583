"""Places of panels at every size, and outputs spread over rows: no screen needed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tui.bench.layout import DRAWERS, arrange, pages_of, size_of
from tui.panels.river import spread
from tui.styles.themes import INKS, name_for


@pytest.mark.parametrize("name", ["receiver", "weave", "mixed", "gate", "motors"])
def test_the_stages_touch(name: str) -> None:
    """The way is not interrupted: each stage begins where the one before ends, on the same rows."""
    places = arrange(200, 50, 0, "", replaying=False)
    order = ["receiver", "weave", "mixed", "gate", "motors"]
    before = order[order.index(name) - 1] if name != "receiver" else ""

    assert places[name].x == (places[before].x + places[before].width if before else 0)
    assert places[name].height == places["receiver"].height


@given(st.integers(0, 30), st.integers(-2, 60), st.integers(0, 40))
def test_outputs_get_rows_of_their_own(count: int, height: int, first: int) -> None:
    """In order, inside, none shared; what does not fit is counted."""
    placed = spread(count, height, first)
    shown = [line for line in placed.lines if line >= 0]

    assert len(placed.lines) == count
    assert shown == sorted(set(shown))
    assert all(line < height for line in shown)
    assert len(shown) + placed.above + placed.below == count


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


WIDTHS, HEIGHTS = st.integers(80, 240), st.integers(24, 70)


@given(
    WIDTHS,
    HEIGHTS,
    st.integers(0, 3),
    st.sampled_from(("", *DRAWERS)),
    st.booleans(),
    st.booleans(),
    st.integers(1, 24),
)
def test_panels_neither_overlap_nor_reach_out(
    width: int, height: int, page: int, drawer: str, replaying: bool, floor: bool, rows: int
) -> None:
    """At every size, page and drawer each cell belongs to one panel at most, and no panel is empty."""
    taken: set[tuple[int, int]] = set()
    places = arrange(width, height, page, drawer, replaying=replaying, floor=floor, rows=rows)
    for name, place in places.items():
        assert place.width > 0, name
        assert place.height > 0, name
        assert place.x >= 0
        assert place.y >= 0
        assert place.x + place.width <= width
        assert place.y + place.height <= height
        own = {
            (x, y)
            for x in range(place.x, place.x + place.width)
            for y in range(place.y, place.y + place.height)
        }
        assert not taken & own, name
        taken |= own
    assert {"masthead", "keys"} <= set(places)
    assert ("transport" in places) == replaying
    assert not drawer or drawer in places


@given(WIDTHS, HEIGHTS, st.integers(0, 3), st.booleans(), st.integers(1, 24))
def test_what_breaks_stands_beside_the_robot(
    width: int, height: int, page: int, replaying: bool, rows: int
) -> None:
    """From 80x24 on the list of faults shows together with the floor, the gate and the motors."""
    places = arrange(width, height, page, "faults", replaying=replaying, rows=rows)

    assert {"faults", "floor", "gate", "motors"} <= set(places)


@given(WIDTHS, HEIGHTS, st.booleans())
def test_every_panel_can_be_leafed_to(width: int, height: int, replaying: bool) -> None:
    """Leafing through all pages shows every panel; only the small size does without `mixed`."""
    size = size_of(width, height)
    shown: set[str] = set()
    for page in range(pages_of(size)):
        shown.update(arrange(width, height, page, "", replaying=replaying))
    always = {"receiver", "weave", "gate", "motors", "hands", "floor", "body", "curve", "diary"}
    assert shown - {"masthead", "keys", "transport"} == always | ({"mixed"} if size != "small" else set())


@given(WIDTHS, HEIGHTS, st.integers(0, 9))
def test_pages_go_round(width: int, height: int, page: int) -> None:
    """Leafing on from the last page shows the first again."""
    count = pages_of(size_of(width, height))
    assert arrange(width, height, page, "", replaying=False) == arrange(
        width, height, page + count, "", replaying=False
    )


@given(
    st.integers(1, 90),
    st.integers(1, 26),
    st.integers(0, 3),
    st.sampled_from(("", *DRAWERS)),
    st.booleans(),
)
def test_a_terminal_too_small_is_cut_off(
    width: int, height: int, page: int, drawer: str, replaying: bool
) -> None:
    """However small: nothing of no size, nothing outside, no two panels on one cell, the top row on top."""
    places = arrange(width, height, page, drawer, replaying=replaying)
    taken: list[tuple[int, int]] = []
    for place in places.values():
        assert place.width > 0
        assert place.height > 0
        taken += [(place.x + x, place.y + y) for x in range(place.width) for y in range(place.height)]
    assert len(taken) == len(set(taken))
    assert all(0 <= x < width and 0 <= y < height for x, y in taken)
    assert (places["masthead"].x, places["masthead"].y) == (0, 0)
