"""A text, its changes, and all of them undone and done again."""

from hypothesis import given
from hypothesis import strategies as st

from mixer.live.tuning.history import History, splice_between

texts = st.text("ab\n", max_size=12)


@given(texts, st.lists(st.tuples(texts, st.booleans()), max_size=12))
def test_everything_can_be_undone_and_done_again(start: str, edits: list[tuple[str, bool]]) -> None:
    """Undone to the end it is the first text, done again to the end the last, through the same texts."""
    history = History(start)
    for text, joins in edits:
        history.change(text, "edit", joins=joins)
        assert history.text == text
    back = [history.text]
    while history.undo():
        back.append(history.text)
    assert (history.text, history.undo_depth) == (start, 0)
    forth = [history.text]
    while history.redo():
        forth.append(history.text)
    assert forth == back[::-1]
    assert history.redo_depth == 0


@given(texts, texts)
def test_a_splice_leads_from_one_text_to_the_other_and_back(before: str, after: str) -> None:
    """And holds no letter at either end that both have."""
    splice = splice_between(before, after, "")
    assert splice.forward(before) == after
    assert splice.back(after) == before
    if splice.was and splice.now:
        assert splice.was[0] != splice.now[0]
        assert splice.was[-1] != splice.now[-1]


def test_a_drag_is_one_step() -> None:
    """Joined changes of one label are undone together, and apart from another label's or a later drag's."""
    history = History("0")
    history.change("1", "x")
    for number in "234":
        history.change(number, "x", joins=True)
    history.change("5", "y", joins=True)
    assert history.undo_depth == 2
    history.undo()
    assert history.text == "4"
    history.change("6", "x", joins=True)
    assert [history.undo(), history.text] == ["x", "4"]
    assert [history.undo(), history.text] == ["x", "0"]


def test_a_drag_back_to_where_it_began_is_no_step() -> None:
    """Nothing is left to undo."""
    history = History("0")
    history.change("1", "x")
    history.change("0", "x", joins=True)
    assert history.undo_depth == 0


def test_a_new_change_ends_what_could_be_done_again() -> None:
    """As everybody expects of undo."""
    history = History("0")
    history.change("1", "x")
    history.undo()
    history.change("2", "x")
    assert history.redo() == ""
    assert history.text == "2"
