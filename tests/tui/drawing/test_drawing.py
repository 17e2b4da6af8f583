"""The drawings without an app: every one fills exactly its cells and says what it shows."""

import re
from collections.abc import Iterable
from math import pi
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tui.drawing.bars import level, spark, swing
from tui.drawing.canvas import Canvas
from tui.drawing.curve import response
from tui.drawing.floor import Pose, Tyre, View, floor_view
from tui.drawing.gate import FACES, Flow, gate
from tui.drawing.gauges import charge_gauge, grade, limit_gauge, travel
from tui.drawing.pad import pad_value, stick_pad
from tui.drawing.rows import Row, fit, row_of, text_of, wrapped
from tui.drawing.threads import Thread, weave
from tui.layout import DRAWERS, arrange, pages_of, size_of
from tui.styles.palette import Palette
from tui.styles.themes import INKS, themes

SIZES = st.integers(1, 80)
SHARES = st.floats(-1, 1)


def fills(rows: Iterable[Row], width: int, height: int) -> bool:
    """Whether there are exactly width x height cells."""
    return [len(text) for text in text_of(rows)] == [width] * height


def cells(runs: Iterable[tuple[str, str]]) -> int:
    """How many cells runs take."""
    return sum(len(text) for text, _ in runs)


@given(SHARES, SIZES, st.none() | SHARES)
def test_a_swing_fills_its_width(value: float, half: int, towards: float | None) -> None:
    """A bar about a zero takes its width whatever it shows."""
    assert cells(swing(value, 2 * half, towards=towards)) == 2 * half


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


@given(st.lists(st.floats(0, 1), min_size=2, max_size=2), SIZES)
def test_a_level_grows_with_its_share(shares: list[float], width: int) -> None:
    """More never shows less."""
    few, many = sorted(shares)
    eighths = [
        sum(" ▏▎▍▌▋▊▉█".index(letter) for run, _ in level(share, width) for letter in run)
        for share in (few, many)
    ]
    assert eighths[0] <= eighths[1]


@given(SHARES, SHARES, SIZES, st.integers(1, 40))
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


@given(SHARES, SHARES, st.integers(12, 60), st.integers(6, 30))
def test_a_pad_reads_back_what_it_shows(x: float, y: float, width: int, height: int) -> None:
    """Pressing where the knob is drawn gives its value, to within a cell and the pad's rim."""
    column, line = (x / 1.08 + 1) / 2 * width, (1 - y / 1.08) / 2 * height
    read_x, read_y = pad_value(column, line, width, height)
    assert read_x == pytest.approx(x, abs=1e-9)
    assert read_y == pytest.approx(y, abs=1e-9)


def test_dots_of_one_cell_are_laid_over_each_other() -> None:
    """Two strokes through one cell leave both their dots (a braille cell is eight dots)."""
    canvas = Canvas(1, 1, ("text", "plus"))
    canvas.dot(0, 0, 1)
    canvas.dot(1, 3, 1)
    assert text_of(canvas.rows()) == [chr(0x2800 | 0x01 | 0x80)]


@pytest.mark.parametrize("state", FACES)
@given(st.integers(11, 30), st.integers(3, 30))
def test_the_gate_says_its_state_in_words(state: str, width: int, height: int) -> None:
    """The plate names the state and why, at every size, and fills its cells."""
    rows = gate(state, ("no signal",), 0.5, [Flow(0, 0.5, 0.0)], width, height)
    assert fills(rows, width, height)
    assert state.upper() in "\n".join(text_of(rows))


def test_no_state_is_told_by_colour_alone() -> None:
    """Every guard state has a glyph of its own, every grade of a gauge as well."""
    assert len({glyph for glyph, _ in FACES.values()}) == len(FACES)
    assert len({grade(share)[0] for share in (0.2, 0.9, 1.2)}) == 3


@given(st.floats(-0.5, 1.5), st.integers(3, 60))
def test_gauges_fill_their_width(share: float, width: int) -> None:
    """Travel, limits and charge take their width, beyond their ends too."""
    assert cells(travel(share, width, in_closed=True, out_closed=None)) == width
    assert cells(limit_gauge(share * 100, 100, width)) == width
    assert cells(charge_gauge(share, width)) == width
    assert len(spark([share, 0.5], 0.0, 1.0, width)) == width


@given(st.text(st.characters(codec="ascii", min_codepoint=32), max_size=60), SIZES)
def test_words_are_cut_or_wrapped_to_their_width(text: str, width: int) -> None:
    """Nothing is ever longer than its place."""
    assert len(fit(text, width)) <= width
    assert all(len(line) <= width for line in wrapped(text, width))
    assert cells(row_of(width, [(0, text, "text"), (width // 2, text, "dim")])) == width


def test_every_style_name_has_an_ink() -> None:
    """No drawing and no panel names an ink that a theme lacks."""
    found = set()
    names = re.compile('"((?:' + "|".join(INKS["harbour"]) + ')(?:/[a-z]+)?!?)"')
    for path in [*Path("tui/drawing").glob("*.py"), *Path("tui/panels").glob("*.py")]:
        found.update(names.findall(path.read_text()))
    assert len(found) > 30
    for theme in themes():
        palette = Palette(theme.variables)
        for name in found:
            palette.style(name)


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour, WCAG 2.1, definition of relative luminance."""
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [value / 12.92 if value <= 0.03928 else ((value + 0.055) / 1.055) ** 2.4 for value in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("theme", INKS)
@pytest.mark.parametrize("ink", ["text", "dim", "head", "ok", "warn", "bad", "plus", "minus", "accent"])
def test_words_can_be_read(theme: str, ink: str) -> None:
    """Every ink that writes words has a contrast of 4.5 on its card (WCAG 2.1, 1.4.3)."""
    light, dark = sorted((luminance(INKS[theme][ink]), luminance(INKS[theme]["card"])), reverse=True)
    assert (light + 0.05) / (dark + 0.05) >= 4.5


@given(
    st.integers(80, 240),
    st.integers(24, 70),
    st.integers(0, 3),
    st.sampled_from(("", *DRAWERS)),
    st.booleans(),
)
def test_panels_neither_overlap_nor_reach_out(
    width: int, height: int, page: int, drawer: str, replaying: bool
) -> None:
    """At every size, page and drawer each cell belongs to one panel at most."""
    taken: set[tuple[int, int]] = set()
    places = arrange(width, height, page, drawer, replaying=replaying)
    for place in places.values():
        assert place.x >= 0
        assert place.y >= 0
        assert place.x + place.width <= width
        assert place.y + place.height <= height
        own = {
            (x, y)
            for x in range(place.x, place.x + place.width)
            for y in range(place.y, place.y + place.height)
        }
        assert not taken & own
        taken |= own
    if drawer:
        assert drawer in places


@pytest.mark.parametrize("size", [(80, 24), (120, 36), (200, 50), (240, 70)])
def test_every_panel_can_be_leafed_to(size: tuple[int, int]) -> None:
    """Leafing through the pages shows hands, response, body, floor, diary and the way."""
    shown: set[str] = set()
    for page in range(pages_of(size_of(*size))):
        shown.update(arrange(*size, page, "", replaying=False))
    assert {"receiver", "weave", "gate", "motors", "hands", "floor", "body", "curve", "diary"} <= shown
