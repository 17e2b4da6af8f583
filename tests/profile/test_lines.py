"""The line scanner against the standard parser: every key it knows, at the line a person counts."""

import tomllib

import tomlkit
from hypothesis import example, given
from hypothesis import strategies as st

from mixer.profile.read.lines import line_of, lines_of

TRICKY = '''\
a = 1 # [not.a.table]
[x."q r"]
b.c = """ [no]
k = 3
"""
d = \'\'\'
[nor.this] = 4 \'\'\'
mix = { t = 1.0, s = -2, "u" = [1, 2,
 # in = a comment
 { z = 1 }] }
e = "\\"] # = [y]"
[[part]]
n = 'it''s'
'''.replace("'it''s'", "'its # one'")


def test_keys_are_found_past_strings_comments_and_arrays() -> None:
    """Brackets and equals signs inside strings and comments are no keys; counted by hand."""
    expected = {
        ("a",): 1,
        ("x", "q r"): 2,
        ("x", "q r", "b"): 3,
        ("x", "q r", "b", "c"): 3,
        ("x", "q r", "d"): 6,
        ("x", "q r", "mix"): 8,
        ("x", "q r", "mix", "t"): 8,
        ("x", "q r", "mix", "s"): 8,
        ("x", "q r", "mix", "u"): 8,
        ("x", "q r", "mix", "u", 0): 8,
        ("x", "q r", "mix", "u", 1): 8,
        ("x", "q r", "mix", "u", 2): 10,
        ("x", "q r", "mix", "u", 2, "z"): 10,
        ("x", "q r", "e"): 11,
        ("part",): 12,
        ("part", 0): 12,
        ("part", 0, "n"): 13,
    }

    assert lines_of(TRICKY) == expected


def test_items_of_arrays_of_tables_are_numbered() -> None:
    """Each [[part]] has a line of its own, and its subtables belong to the newest."""
    found = lines_of("[[part]]\nn = 1\n[[part]]\nn = 2\n[part.sub]\nm = 3\n")

    assert (found["part", 0, "n"], found["part", 1, "n"], found["part", 1, "sub", "m"]) == (2, 4, 6)


def test_unknown_keys_fall_back_to_the_table_around() -> None:
    """A missing key is reported at its table's line, and a missing table nowhere."""
    found = lines_of("[a]\nb = 1\n[c]\n")

    assert line_of(found, ("c", "missing", "deeper")) == 3
    assert line_of(found, ("missing",)) is None


def _leaves(table: object, path: tuple[str | int, ...] = ()) -> set[tuple[str | int, ...]]:
    if isinstance(table, dict):
        return {leaf for key, value in table.items() for leaf in _leaves(value, (*path, key))} or {path}
    if isinstance(table, list) and table:
        return {leaf for key, value in enumerate(table) for leaf in _leaves(value, (*path, key))}
    return {path}


_KEYS = st.text("ab_-1", min_size=1, max_size=3)
_VALUES = st.recursive(
    st.one_of(st.integers(-9, 9), st.booleans(), st.text(max_size=8), st.floats(allow_nan=False)),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(_KEYS, inner, max_size=3)),
    max_leaves=12,
)


@given(st.dictionaries(_KEYS, _VALUES, max_size=5))
def test_every_key_of_a_random_document_is_found(table: dict[str, object]) -> None:
    """Whatever tomlkit writes and tomllib reads, the scanner knows a line in it for each leaf."""
    text = tomlkit.dumps(table)
    found = lines_of(text)

    assert {leaf for leaf in _leaves(tomllib.loads(text)) if leaf} <= found.keys()
    assert all(1 <= line <= text.count("\n") + 1 for line in found.values())


@given(st.text(max_size=60))
@example('a = "')
@example("[")
@example("a = {")
@example("a = [[[")
def test_any_text_is_survived(text: str) -> None:
    """The scanner never raises, whatever it is given."""
    assert isinstance(lines_of(text), dict)
