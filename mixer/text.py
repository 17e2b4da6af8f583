"""Text that came from a file or a person, before it is shown anywhere: data, never instructions.

A terminal obeys control characters, and bidirectional marks make a line read as something it is not.
Sources: ECMA-48 (control functions), Unicode Standard Annex #9 (bidirectional marks), Unicode categories.
"""

from unicodedata import category

_SHOWN_AS_ESCAPE = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")
"""Controls, formats (bidirectional and invisible marks), surrogates, private use, no character at all,
line separators."""

_NAMED = {"\n": "\\n", "\r": "\\r", "\t": "\\t"}


def visible(text: str, keep: str = "") -> str:
    r"""The text, with an escape such as ``\x1b`` or ``\u202e`` for every character that acts instead.

    `keep` names characters that may stay as they are, such as a line end in a text of several lines.
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        escape_of(character)
        if category(character) in _SHOWN_AS_ESCAPE and character not in keep
        else character
        for character in text
    )


def escape_of(character: str) -> str:
    r"""A character as Python and JSON readers know it: ``\n``, ``\x1b``, else ``\u202e`` or longer."""
    if character in _NAMED:
        return _NAMED[character]
    code = ord(character)
    if code < 0x100:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"
