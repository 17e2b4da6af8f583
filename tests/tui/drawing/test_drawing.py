"""The drawings without an app: every one fills exactly its cells and says what it shows."""

from collections.abc import Iterable
from math import atan2, pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.tui.drawing.texts import text_of
from tui.drawing.bars import EIGHTHS, level, swing
from tui.drawing.canvas import Canvas
from tui.drawing.curve import response
from tui.drawing.floor import Pose, Tyre, View, floor_view
from tui.drawing.gate import FACES, Flow, gate
from tui.drawing.gauges import charge_gauge, grade, limit_gauge, travel
from tui.drawing.pad import pad_value, stick_pad
from tui.drawing.rows import Row, fit, row_of, wrapped
from tui.drawing.threads import Thread, weave

SIZES = st.integers(1, 80)
SHARES = st.floats(-1, 1)


def fills(rows: Iterable[Row], width: int, height: int) -> bool:
    """Whether there are exactly width x height cells."""
    return [len(text) for text in text_of(rows)] == [width] * height


def cells(runs: Iterable[tuple[str, str]]) -> int:
    """How many cells runs take."""
    return sum(len(text) for text, _ in runs)


@given(st.floats(-3, 3), SIZES, st.none() | st.floats(-3, 3))
def test_a_swing_fills_its_width(value: float, width: int, towards: float | None) -> None:
    """A bar about a zero takes its width whatever it shows, odd widths and values past full too."""
    assert cells(swing(value, width, towards=towards)) == width


@given(st.floats(0.1, 1), st.integers(4, 40))
def test_a_swing_shows_its_sign_by_its_side(value: float, half: int) -> None:
    """Forward grows to the right of the middle in one ink, reverse to the left in the other."""
    width = 2 * half
    for sign, ink, other in ((1, "plus", "minus"), (-1, "minus", "plus")):
        runs = swing(sign * value, width)
        styles = [style.split("/") for text, style in runs for _ in text]
        assert not [style for style in styles if other in style]
        inked = [place for place, style in enumerate(styles) if ink in style]
        assert inked
        if sign > 0:
            assert min(inked) >= half
        else:
            assert max(inked) <= half


def lit(runs: Iterable[tuple[str, str]], ink: str) -> int:
    """Eighths of a cell that an ink covers, as ink or as ground."""
    covered = 0
    for text, style in runs:
        front, _, ground = style.partition("/")
        parts = [EIGHTHS.index(glyph) for glyph in text]
        covered += sum(part if front == ink else 8 - part if ground == ink else 0 for part in parts)
    return covered


@given(st.lists(st.floats(-0.5, 1.5), min_size=2, max_size=2), SIZES)
def test_a_level_grows_with_its_share(shares: list[float], width: int) -> None:
    """More never shows less, and what shows is the share to an eighth of a cell."""
    few, many = sorted(shares)
    assert lit(level(few, width), "plus") <= lit(level(many, width), "plus")
    assert lit(level(many, width), "plus") == round(min(max(many, 0), 1) * width * 8)


@given(st.lists(SHARES, min_size=2, max_size=2), SIZES)
def test_a_swing_grows_to_its_side(values: list[float], width: int) -> None:
    """The larger command never shows less forward nor more reverse; each side shows its share exactly."""
    small, large = (swing(value, width) for value in sorted(values))
    assert lit(small, "plus") <= lit(large, "plus")
    assert lit(small, "minus") >= lit(large, "minus")
    half = width // 2 * 8
    for value in values:
        bar = swing(value, width)
        assert lit(bar, "plus") == max(round(value * half), 0)
        assert lit(bar, "minus") == max(round(-value * half), 0)


@given(SHARES, SHARES, SIZES, SIZES)
def test_pad_curve_floor_and_threads_fill_their_cells(x: float, y: float, width: int, height: int) -> None:
    """Every drawing on the canvas takes exactly its cells at every size."""
    assert fills(stick_pad(x, y, width, height), width, height)
    points = [(value / 10, value / 10) for value in range(-10, 11)]
    assert fills(response(points, (x, y), width, height), width, height)
    tyres = (Tyre(0.1, 0.1, 0.0, 0.04, x, False), Tyre(0.1, -0.1, pi / 2, 0.04, y, True))
    view = View(0.0, 0.0, 20.0)
    floor = floor_view(Pose(x, y, 3 * x), tyres, [(0, 0), (x, y)], view, width, height)
    assert fills(floor, width, height)
    threads = [Thread(0.5, height - 0.5, x, False, False), Thread(height / 2, 0.5, y, True, False)]
    assert fills(weave(threads, width, height, 3.0), width, height)


def cells_in(rows: Iterable[Row], ink: str) -> set[tuple[int, int]]:
    """Cells (column, line) drawn in an ink."""
    found = set()
    for line, row in enumerate(rows):
        styles = [style for text, style in row for _ in text]
        glyphs = "".join(text for text, _ in row)
        found |= {(x, line) for x, style in enumerate(styles) if style == ink and glyphs[x] != " "}
    return found


def middle(places: set[tuple[int, int]]) -> tuple[float, float]:
    """Middle of cells, in cells from the upper left corner."""
    return (
        sum(x for x, _ in places) / len(places) + 0.5,
        sum(y for _, y in places) / len(places) + 0.5,
    )


@given(st.floats(-0.9, 0.9), st.floats(-0.9, 0.9), st.integers(8, 80), st.integers(4, 40))
def test_a_pad_reads_back_what_it_shows(x: float, y: float, width: int, height: int) -> None:
    """Pressing on the middle of the drawn knob gives its values to within a cell, the centre zero."""
    column, line = middle(cells_in(stick_pad(x, y, width, height), "live!"))
    read_x, read_y = pad_value(column, line, width, height)
    assert abs(read_x - x) <= 2 / (width - 2.5) + 1e-9
    assert abs(read_y - y) <= 2 / (height - 1.25) + 1e-9
    assert pad_value(width / 2, height / 2, width, height) == (0, 0)


@given(st.integers(1, 80), st.integers(1, 40))
def test_the_outer_cells_of_a_pad_are_full_stick(width: int, height: int) -> None:
    """A press into a corner, or a drag out of the pad, gives both sticks whole."""
    if width >= 3 and height >= 3:
        assert pad_value(width - 0.5, 0.5, width, height) == (1, 1)
        assert pad_value(0.5, height - 0.5, width, height) == (-1, -1)
    assert pad_value(width + 9, -9, width, height) == (1, 1)


@given(st.floats(0.7, 1), st.integers(8, 80), st.integers(6, 40))
def test_a_response_meets_its_ends(rate: float, width: int, height: int) -> None:
    """The curve begins in the lower left and ends in the upper right, lowered by the rate."""
    points = [(value / 10, rate * value / 10) for value in range(-10, 11)]
    drawn = cells_in(response(points, None, width, height), "plus")
    top = (1 + (1 - rate) / 2 * (height * 4 - 3)) / 4
    right = [line for column, line in drawn if column == width - 1]
    left = [line for column, line in drawn if column == 0]
    assert abs(min(right) - top) <= 1
    assert abs(max(left) - (height - 1 - top)) <= 1.5


@given(st.floats(-pi, pi))
def test_the_nose_points_along_the_heading(heading: float) -> None:
    """Whatever the heading, the bright nose lies in that direction from the robot (cells are 1 : 2)."""
    tyres = [Tyre(x, y, 0.0, 0.05, 0.0, slips=False) for x in (-0.2, 0.2) for y in (-0.15, 0.15)]
    rows = floor_view(Pose(0.0, 0.0, heading), tyres, [], View(0.0, 0.0, 80.0), 60, 30)
    column, line = middle(cells_in(rows, "live!"))
    seen = atan2((15 - line) * 2, column - 30)
    assert abs((seen - heading + pi) % (2 * pi) - pi) < 0.2


@given(st.floats(-pi, pi))
def test_the_left_wheel_is_on_the_left(heading: float) -> None:
    """A wheel to the robot's left (y up, x forward) is drawn a quarter turn on from the heading."""
    tyres = [Tyre(0.0, y, 0.0, 0.05, 0.0, slips=y > 0) for y in (-0.3, 0.3)]
    rows = floor_view(Pose(0.0, 0.0, heading), tyres, [], View(0.0, 0.0, 80.0), 60, 30)
    column, line = middle(cells_in(rows, "warn!"))
    seen = atan2((15 - line) * 2, column - 30)
    assert abs((seen - heading - pi / 2 + 3 * pi) % (2 * pi) - pi) < 0.2


def test_dots_of_one_cell_are_laid_over_each_other() -> None:
    """Two strokes through one cell leave both their dots (a braille cell is eight dots)."""
    canvas = Canvas(1, 1, ("text", "plus"))
    canvas.dot(0, 0, 1)
    canvas.dot(1, 3, 1)
    assert text_of(canvas.rows()) == [chr(0x2800 | 0x01 | 0x80)]


@pytest.mark.parametrize("state", FACES)
@given(SIZES, SIZES)
def test_the_gate_fills_its_cells(state: str, width: int, height: int) -> None:
    """At every size, with streams above, in and below it."""
    flows = [Flow(line, 0.5, -0.5) for line in range(0, height, 3)]
    assert fills(gate(state, ("no signal from the receiver",), 0.5, flows, width, height, 4), width, height)


@pytest.mark.parametrize("state", FACES)
@given(st.integers(11, 80), st.integers(3, 40))
def test_the_gate_says_its_state_in_words(state: str, width: int, height: int) -> None:
    """The plate names the state in its word, wherever there is room for the word, with its glyph."""
    rows = gate(state, ("no signal",), 0.5, [Flow(0, 0.5, 0.0)], width, height)
    assert fills(rows, width, height)
    assert f"{FACES[state][0]} {state.upper()}" in "\n".join(text_of(rows))


def test_no_state_is_told_by_colour_alone() -> None:
    """Every guard state has a glyph of its own, every grade of a gauge as well."""
    assert len({glyph for glyph, _ in FACES.values()}) == len(FACES)
    assert len({grade(share)[0] for share in (0.2, 0.9, 1.2)}) == 3


@given(st.floats(-0.5, 1.5), SIZES)
def test_gauges_fill_their_width(share: float, width: int) -> None:
    """Travel, limits and charge take their width, beyond their ends too."""
    assert cells(travel(share, width, in_closed=True, out_closed=None)) == width
    assert cells(limit_gauge(share * 100, 100, width)) == width
    assert cells(charge_gauge(share, width)) == width


@given(st.text(st.characters(codec="ascii", min_codepoint=32), max_size=60), SIZES)
def test_words_are_cut_or_wrapped_to_their_width(text: str, width: int) -> None:
    """Nothing is ever longer than its place."""
    assert len(fit(text, width)) <= width
    assert all(len(line) <= width for line in wrapped(text, width))
    assert cells(row_of(width, [(0, text, "text"), (width // 2, text, "dim")])) == width
