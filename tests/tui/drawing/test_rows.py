"""Rows and bars: exact widths, exact ends. The block elements are those of Unicode 16, chart U2580."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.tui.drawing.texts import text_of
from tui.drawing.bars import EIGHTHS, span, swing
from tui.drawing.gauges import grade, travel
from tui.drawing.rows import apart, fit, plain, row_of, row_with, sized, wrapped

shares = st.floats(-3, 3, allow_nan=False)


def length(runs: object) -> int:
    """Cells of a sequence of runs."""
    return sum(len(text) for text, _ in runs)  # type: ignore[attr-defined]


def filled(runs: object, ink: str) -> float:
    """Cells of an ink, in eighths of a cell, whichever way the glyph is used."""
    eighths = 0
    for text, style in runs:  # type: ignore[attr-defined]
        front, _, ground = style.partition("/")
        for glyph in text:
            part = EIGHTHS.index(glyph) if glyph in EIGHTHS else 0
            eighths += part if front == ink else 8 - part if ground == ink else 0
    return eighths / 8


@given(st.floats(-1, 1, allow_nan=False))
def test_a_swing_bar_is_as_long_as_its_value(value: float) -> None:
    """Forward is the plus ink right of the middle, reverse the minus ink left, to an eighth of a cell."""
    runs = swing(value, 40)

    assert filled(runs, "plus") == pytest.approx(max(value, 0) * 20, abs=0.07)
    assert filled(runs, "minus") == pytest.approx(max(-value, 0) * 20, abs=0.07)


def test_what_was_taken_shows_as_a_ghost() -> None:
    """Half wanted, a quarter given: five cells bar, five cells ghost."""
    runs = swing(0.25, 40, towards=0.5)

    assert filled(runs, "plus") == 5
    assert filled(runs, "ghost") == 5


def test_a_bar_at_zero_shows_its_zero() -> None:
    """Without any value the middle is still to be seen."""
    assert "".join(text for text, _ in swing(0.0, 8)) == "    ▏   "


def test_bars_show_without_colours() -> None:
    """The characters alone tell forward from reverse."""
    assert "".join(text for text, _ in swing(0.5, 8)) == "    ██  "
    assert "".join(text for text, _ in swing(-0.5, 8)) == "  ██    "


def test_end_stops_are_told_by_their_shape() -> None:
    """Closed, open and unseen stops differ without colour."""
    closed, opened, unseen = (
        travel(0.5, 8, in_closed=state, out_closed=state) for state in (True, False, None)
    )

    assert (closed[0][0], opened[0][0], unseen[0][0], unseen[-1][0]) == ("◆", "◇", "[", "]")


@pytest.mark.parametrize(("share", "glyph"), [(0.5, "·"), (0.85, "▲"), (1.0, "✕")])
def test_heat_is_graded_by_a_glyph(share: float, glyph: str) -> None:
    """Near the limit and past it have signs of their own."""
    assert grade(share)[0] == glyph


@given(
    st.lists(st.tuples(st.integers(0, 30), st.text("ab", max_size=9), st.just("text"))), st.integers(0, 30)
)
def test_a_row_is_exactly_as_wide_as_asked(pieces: list[tuple[int, str, str]], width: int) -> None:
    """Pieces that overlap or reach out are cut."""
    assert length(row_of(width, sorted(pieces))) == width


def test_pieces_stand_where_they_were_put() -> None:
    """A strip is laid in between the pieces around it."""
    row = row_with(12, [(0, "ab", "text"), (10, "yz", "dim")], (3, [("███", "plus"), ("  ", "track")]))

    assert text_of([row]) == ["ab ███    yz"]


def test_a_piece_that_overlaps_is_cut_at_its_left() -> None:
    """What was laid first stays; of the second shows what sticks out, in its own place."""
    assert row_of(7, [(0, "abcd", "text"), (2, "wxyz", "dim")]) == (
        ("abcd", "text"),
        ("yz", "dim"),
        (" ", "text"),
    )
    assert text_of([row_of(4, [(0, "abcd", "text"), (1, "xy", "dim")])]) == ["abcd"]
    assert text_of([row_of(4, [(-2, "abcd", "text")])]) == ["cd  "]


def test_text_is_made_to_fit() -> None:
    """Ellipsis where cut, question marks for what would not take one cell, words wrapped whole."""
    assert (fit("steering", 5), fit("ok", 5), fit("x", 0)) == ("steer"[:4] + "…", "ok", "")
    assert plain("a\x1b[31m漢") == "a?[31m?"
    assert wrapped("the arm switch is off", 8) == ["the arm", "switch", "is off"]
    assert wrapped("trim +2.0 % -> +12 %", 11) == ["trim +2.0 %", "-> +12 %"]
    assert text_of(sized([], 3, 2)) == ["   ", "   "]


@given(
    st.lists(
        st.text("ab_ …12", min_size=1, max_size=30) | st.text("a", min_size=1, max_size=60), max_size=30
    ),
    st.integers(0, 30),
)
def test_different_texts_stay_different(texts: list[str], width: int) -> None:
    """One for each, none wider than asked; what fits stays as it is; no two read the same that are not.

    A number tells the rest apart: of n texts no more than n - 1 can stand in the way of one.
    """
    told = apart(texts, width)
    if width > len(str(len(texts))):
        assert len(set(zip(texts, told, strict=True))) == len(set(told)) == len(set(texts))
    assert len(told) == len(texts)
    assert all(len(text) <= max(width, 0) for text in told)
    assert all(told[n] == text for n, text in enumerate(texts) if len(text) <= width)


def test_names_that_differ_at_their_ends_are_told_apart() -> None:
    """Two dozen motors in eleven columns, and faults that begin alike."""
    names = [f"motor_number_{number:02d}" for number in range(24)]
    told = apart(names, 11)
    assert told[7] == "motor_num…07"[:8] + "…07"
    assert len(set(told)) == 24
    told = apart(
        ["The radio goes and the receiver sends nothing.", "The radio goes and the receiver stays."], 30
    )
    assert told == ["The radio goes …sends nothing.", "The radio goes and the …stays."]


def test_a_bar_from_zero_stands_where_zero_is() -> None:
    """A quarter from the left for -0.5 to 1.5: to the right of it above, to the left below."""
    assert text_of([tuple(span(0.25, 0.5, 8))]) == ["  ██    "]
    assert text_of([tuple(span(0.25, 0.0, 8))]) == ["██      "]
    assert text_of([tuple(span(0.25, 0.25, 8))]) == ["        "]
