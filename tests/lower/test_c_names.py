"""Names and texts of any kind become C that means what was meant."""

import re

from hypothesis import given
from hypothesis import strategies as st

from mixer.lower.c.plain.names import Identifiers, comment_text, string_text


@given(st.lists(st.text(max_size=80), max_size=20))
def test_identifiers_are_valid_and_never_given_twice(names: list[str]) -> None:
    """Whatever the names, each gets a C identifier of its own within C99's 63 significant characters."""
    scope = Identifiers()
    given_out = [scope.give(name) for name in names]
    assert len(set(given_out)) == len(names)
    assert all(re.fullmatch(r"[A-Za-z][A-Za-z0-9_]{0,62}", identifier) for identifier in given_out)


def test_identifiers_resemble_their_names() -> None:
    """A plain name keeps its words; names that fall together are numbered in their order."""
    scope = Identifiers()
    names = ["output.left_front.wire", "output.left-front.wire", "2nd", "µ"]
    assert [scope.give(name) for name in names] == [
        "output_left_front_wire",
        "output_left_front_wire_2",
        "n_2nd",
        "unnamed",
    ]


@given(st.text())
def test_no_text_ends_a_comment(text: str) -> None:
    """Nothing inside a comment ends it, opens another, continues its line or forms a trigraph."""
    shown = comment_text(text)
    assert not any(mark in shown for mark in ("*/", "/*", "\\", "\n", "??"))


@given(st.text(max_size=40))
def test_string_text_is_ascii_that_means_the_same(text: str) -> None:
    """The escapes, undone, give the text's UTF-8 again."""
    shown = string_text(text)
    assert shown.isascii()
    assert '"' not in shown
    undone = re.sub(rb"\\([0-7]{3})", lambda found: bytes([int(found.group(1), 8)]), shown.encode("ascii"))
    assert undone == text.encode("utf-8")
