"""Dots, and the pictures made of them. Braille: Unicode chart U2800; dot n of a cell is bit n - 1."""

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.tui.drawing.texts import text_of
from tui.drawing.canvas import Canvas
from tui.drawing.curve import response
from tui.drawing.floor import Pose, Tyre, View, floor_view, grid_step, scale_for
from tui.drawing.gate import FACES, Flow, gate
from tui.drawing.pad import pad_value, stick_pad
from tui.drawing.threads import Thread, weave

WHEELS = [Tyre(x, y, 0.0, 0.05, 0.5, slips=False) for x in (-0.2, 0.2) for y in (-0.15, 0.15)]
HOME = View(0.0, 0.0, 40.0)


def dots(rows: object, ink: str) -> int:
    """How many dots are drawn with an ink."""
    return sum(
        (ord(glyph) - 0x2800).bit_count()
        for row in rows  # type: ignore[attr-defined]
        for text, style in row
        if style == ink
        for glyph in text
        if 0x2800 < ord(glyph) < 0x2900
    )


def middle_of(rows: object, ink: str) -> tuple[float, float]:
    """Mean cell (column, line) of an ink."""
    places = []
    for line, row in enumerate(rows):  # type: ignore[arg-type]
        column = 0
        for text, style in row:
            places += [(column + at, line) for at in range(len(text)) if style == ink]
            column += len(text)
    assert places, f"nothing is drawn in {ink}"
    return sum(x for x, _ in places) / len(places), sum(y for _, y in places) / len(places)


@pytest.mark.parametrize(
    ("x", "y", "number"),
    [(0, 0, 1), (0, 1, 2), (0, 2, 3), (1, 0, 4), (1, 1, 5), (1, 2, 6), (0, 3, 7), (1, 3, 8)],
)
def test_each_dot_is_the_one_unicode_numbers(x: int, y: int, number: int) -> None:
    """Dot number n of a braille cell is bit n - 1 above U+2800."""
    canvas = Canvas(1, 1, ("text", "plus"))
    canvas.dot(x, y, 1)

    assert text_of(canvas.rows()) == [chr(0x2800 + (1 << (number - 1)))]


@given(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6), st.floats(-1e6, 1e6), st.floats(-1e6, 1e6))
def test_nothing_outside_is_drawn(a: float, b: float, c: float, d: float) -> None:
    """Lines from anywhere to anywhere end without an error and leave the size alone."""
    canvas = Canvas(5, 3, ("text", "plus"))
    canvas.stroke((a, b), (c, d), 1)

    assert [len(row) for row in text_of(canvas.rows())] == [5, 5, 5]


def test_labels_lie_on_top_and_are_cut() -> None:
    """Text replaces the dots below it, within the edges."""
    canvas = Canvas(4, 1, ("text", "plus"))
    canvas.stroke((0, 0), (7, 0), 1)
    canvas.label(2, 0, "abc", "dim")

    assert text_of(canvas.rows()) == ["⠉⠉ab"]


def test_a_thread_shows_what_it_carries() -> None:
    """Plus and minus have their own inks, nothing carried is pale, and other ways fade while one is lit."""
    inks = [
        ({style for row in weave([thread], 12, 6) for text, style in row if text.strip()})
        for thread in (
            Thread(0.5, 4.5, 0.4), Thread(0.5, 4.5, -0.4), Thread(0.5, 4.5, 0.0),
            Thread(0.5, 4.5, 0.4, lit=True), Thread(0.5, 4.5, 0.4, faded=True),
        )
    ]  # fmt: skip

    assert inks == [{"plus"}, {"minus"}, {"faint"}, {"plus!"}, {"faint"}]


def test_a_thread_is_unbroken_from_end_to_end() -> None:
    """However steep, every column of cells it crosses has dots, and both ends are met."""
    rows = text_of(weave([Thread(0.5, 9.5, 0.3)], 6, 10, phase=5))

    assert all(any(row[column] != " " for row in rows) for column in range(6))
    assert rows[0][0] != " "
    assert rows[9][5] != " "


def test_beads_move_only_with_the_phase() -> None:
    """Equal phases draw equal pictures; a flow is drawn elsewhere a little later, a rest is not."""
    flow, rest = [Thread(0.5, 3.5, 0.4)], [Thread(0.5, 3.5, 0.0)]

    assert weave(flow, 12, 4, 1.0) == weave(flow, 12, 4, 1.0)
    assert weave(flow, 12, 4, 1.0) != weave(flow, 12, 4, 5.0)
    assert weave(rest, 12, 4, 1.0) == weave(rest, 12, 4, 5.0)


@pytest.mark.parametrize("state", FACES)
def test_the_gate_says_its_state_in_a_word_and_a_sign(state: str) -> None:
    """State is never told by colour alone; only a live gate lets the streams through."""
    flows = [Flow(line, 0.5, 0.5 if state == "live" else 0.0) for line in (1, 4, 7)]
    text = text_of(gate(state, ["arm switch is off"] if state != "live" else [], 0.0, flows, 17, 12))
    joined = "\n".join(text)

    assert f"{FACES[state][0]} {state.upper()}" in joined
    assert ("▶" in joined) == (state == "live")
    assert ("█" in joined) == (state != "live")
    assert ("arm switch" in joined) == (state != "live")


def test_the_plate_leaves_the_streams_in_sight() -> None:
    """Where there is a gap as high as the plate, it covers no stream."""
    text = text_of(gate("live", [], 0.0, [Flow(line, 0.5, 0.5) for line in (2, 6, 10)], 17, 13))

    assert sum("▶" in row for row in text) == 3


def test_every_row_of_a_small_gate_fits() -> None:
    """Even where the reasons would need more room than there is."""
    rows = gate("resting", ["a very long reason that needs many lines"] * 4, 0.5, [], 9, 5)

    assert [len(row) for row in text_of(rows)] == [9] * 5


def test_the_live_point_lies_on_the_curve() -> None:
    """Full stick is the upper right corner, full reverse the lower left."""
    line = [(x / 10, x / 10) for x in range(-10, 11)]
    right, high = middle_of(response(line, (1.0, 1.0), 20, 10), "live!")
    left, low = middle_of(response(line, (-1.0, -1.0), 20, 10), "live!")

    assert right > 17
    assert high < 2
    assert left < 2
    assert low > 7


def test_the_knob_is_where_the_stick_is() -> None:
    """Right is right and up is up, and what is drawn there is what a click there gives."""
    column, line = middle_of(stick_pad(0.8, 0.6, 20, 10), "live!")
    x, y = pad_value(column + 0.5, line + 0.5, 20, 10)

    assert (x, y) == (pytest.approx(0.8, abs=0.1), pytest.approx(0.6, abs=0.2))
    assert pad_value(10, 5, 20, 10) == (0, 0)
    assert pad_value(-5, 99, 20, 10) == (-1, -1)


def test_the_nose_points_where_the_robot_heads() -> None:
    """Heading 0 is to the right, a quarter turn is up the screen."""
    pose = Pose(0.0, 0.0, 0.0)
    ahead = middle_of(floor_view(pose, WHEELS, [], HOME, 40, 20), "live!")
    up = middle_of(floor_view(Pose(0.0, 0.0, pi / 2), WHEELS, [], HOME, 40, 20), "live!")

    assert ahead[0] > 22
    assert up[1] < 8


def test_pushes_and_slip_have_inks_of_their_own() -> None:
    """Forward pushes, reverse pushes and slipping wheels are told apart."""
    back = [Tyre(0.2, 0.15, 0.0, 0.05, -0.8, slips=True), *WHEELS[1:]]
    rows = floor_view(Pose(0.0, 0.0, 0.0), back, [], HOME, 60, 30)

    assert dots(rows, "plus") > 0
    assert dots(rows, "minus") > 0
    assert dots(rows, "warn!") > 0
    assert dots(floor_view(Pose(0.0, 0.0, 0.0), WHEELS, [], HOME, 60, 30), "warn!") == 0


@given(st.floats(-50, 50), st.floats(-50, 50))
def test_the_view_follows_the_robot(x: float, y: float) -> None:
    """Wherever it drives, all of the robot stays in the picture."""
    reach = 0.5 * 40 / HOME.scale
    view = HOME.follow(Pose(x, y, 0.0), reach, 40, 20)

    assert (abs(x - view.x) + reach) * view.scale <= 40 + 1e-6
    assert (abs(y - view.y) + reach) * view.scale <= 40 + 1e-6


def test_scale_and_grid_fit_the_robot() -> None:
    """A robot twice as large is drawn half as large; dots of the floor stay apart."""
    big = [Tyre(2 * wheel.x, 2 * wheel.y, 0.0, 2 * wheel.radius, 0.0, slips=False) for wheel in WHEELS]

    assert scale_for(WHEELS, 40, 20) == pytest.approx(2 * scale_for(big, 40, 20))
    assert all(grid_step(scale) * scale >= 11 for scale in (2.0, 17.0, 60.0, 300.0))


def test_where_inks_meet_the_upper_one_stays() -> None:
    """One ink a cell: the higher number, whichever was drawn first."""
    canvas = Canvas(1, 1, ("text", "minus", "plus"))
    canvas.dot(0, 0, 2)
    canvas.dot(1, 3, 1)

    assert canvas.rows() == [((chr(0x2800 + 0x81), "plus"),)]
