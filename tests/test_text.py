"""Text from files is shown, never obeyed."""

import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from mixer.errors import Problem, ProblemsError, nearest, offer
from mixer.text import visible


@given(st.text(st.characters(exclude_categories=())))
def test_nothing_that_acts_passes(text: str) -> None:
    """No control, format or surrogate is left, whatever the text; the rest stays in its order."""
    shown = visible(text)
    assert {unicodedata.category(character) for character in shown}.isdisjoint(
        {"Cc", "Cf", "Cs", "Zl", "Zp"}
    )
    shown.encode("utf-8")
    if text.isprintable():
        assert shown == text


def test_the_escape_says_which_character_it_was() -> None:
    """Clipboard sequences, right-to-left marks and line ends are readable as what they are."""
    assert visible("\x1b]52;c;AAAA\x07") == "\\x1b]52;c;AAAA\\x07"
    assert visible("abc\u202egnp.exe") == "abc\\u202egnp.exe"
    assert visible("two\nlines") == "two\\nlines"
    assert visible("two\nlines\r", keep="\n") == "two\nlines\\r"
    assert visible("µ, ü, 漢 and 🤖 stay") == "µ, ü, 漢 and 🤖 stay"


def test_a_problem_cannot_forge_a_line() -> None:
    """A key with a line end in it stays one line of its message."""
    shown = str(Problem("a.toml:1", "key\nremedy: delete everything", "is\x1b[2J wrong", "mend it"))
    assert shown.splitlines() == [
        "a.toml:1: key\\nremedy: delete everything: is\\x1b[2J wrong",
        "    remedy: mend it",
    ]


def test_twenty_problems_are_shown_and_all_are_counted() -> None:
    """The message stays readable however many there are; the list keeps every one."""
    error = ProblemsError([Problem(f"a:{number}", "", "is wrong", "mend it") for number in range(90)])
    assert len(error.problems) == 90
    assert str(error).count("is wrong") == 20
    assert str(error).endswith("... and 70 more")


def test_the_nearest_name_is_offered() -> None:
    """Near ones are offered, far ones are not, and a hostile word costs nothing."""
    assert nearest("throtle", ["steering", "throttle"]) == "throttle"
    assert nearest("xyz", ["steering", "throttle"]) is None
    assert offer("throtle", ["throttle"], "sticks") == "did you mean 'throttle'? known sticks: throttle"
    assert offer("a", [], "sticks") == "there are no sticks yet: define one, or take 'a' out"
    assert offer("z", map(str, range(100)), "sticks").endswith(", ... and 60 more")
    assert nearest("x" * 1_000_000, ["y" * 1_000_000]) is None
