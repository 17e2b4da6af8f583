"""C identifiers for names of any kind, and text that is safe inside a C comment.

Names of a profile may hold letters C does not know; two of them may fall together once those are
replaced. An `Identifiers` gives each name an identifier of its own, the same on every run.
"""

import re

_LONGEST = 56  # C99 promises 63 significant characters; a number may still follow


class Identifiers:
    """One scope of C: every identifier is given out once."""

    def __init__(self) -> None:
        self._taken: set[str] = set()

    def give(self, name: str) -> str:
        """A new identifier that resembles the name: ``output.left.wire`` -> ``output_left_wire``."""
        plain = re.sub(r"[^A-Za-z0-9]+", "_", name).strip("_")[:_LONGEST] or "unnamed"
        if plain[0].isdigit():
            plain = f"n_{plain}"
        chosen, number = plain, 2
        while chosen in self._taken:
            chosen, number = f"{plain}_{number}", number + 1
        self._taken.add(chosen)
        return chosen


def comment_text(text: str) -> str:
    """The text without anything that could end a comment, continue a line or form a trigraph."""
    plain = " ".join(text.replace("\\", "/").split())
    return plain.replace("*/", "* /").replace("/*", "/ *").replace("??", "? ?")


def string_text(text: str) -> str:
    """The text as the inside of a C string literal, in ASCII."""
    return "".join(
        letter if letter.isascii() and letter.isprintable() and letter not in '"\\?' else _octal(letter)
        for letter in text
    )


def _octal(letter: str) -> str:
    return "".join(f"\\{byte:03o}" for byte in letter.encode("utf-8"))
