"""How lines of a profile that is written look."""

_COMMENTS, _RULE = 31, 98
"""Columns where comments begin, and where a heading ends."""


def noted(line: str, comment: str) -> str:
    """A line with what a reader should know about it."""
    return f"{line.ljust(_COMMENTS)}# {comment}"


def heading(words: str) -> str:
    """What opens a part of the file."""
    return f"\n# ---- {words} ".ljust(_RULE, "-") + "\n"
