"""Type: how wide text runs and into how many lines it breaks, so that the page's height is known.

The page is set in Arial, Liberation Sans or Helvetica, which share their widths, or else in DejaVu Sans
made smaller (`size-adjust`), since it runs wider; a letter counts with the wider of the two, so that the
page is one page with either. Text breaks at spaces; a word longer than its line breaks anywhere.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from mixer.markup import LINE_ENDS
from mixer.text import visible

MM_PER_PT = 25.4 / 72
WIDE_FAMILY = "DejaVu Sans"
SMALLER = 0.84
"""By how much the wide family is made smaller."""
_REGULAR = (
    278, 337, 387, 704, 556, 889, 667, 231, 333, 333, 420, 704, 278, 333, 278, 284, 556, 556, 556,
    556, 556, 556, 556, 556, 556, 556, 284, 284, 704, 704, 704, 556, 1015, 667, 667, 722, 722, 667,
    611, 778, 722, 278, 500, 667, 556, 833, 722, 778, 667, 778, 722, 667, 611, 722, 667, 944, 667,
    667, 611, 328, 284, 328, 704, 556, 420, 556, 556, 500, 556, 556, 296, 556, 556, 234, 234, 500,
    234, 833, 556, 556, 556, 556, 346, 500, 330, 556, 500, 722, 500, 500, 500, 535, 284, 535, 704,
)  # fmt: skip
_BOLD = (
    293, 384, 474, 704, 585, 889, 733, 258, 384, 384, 440, 704, 320, 349, 320, 307, 585, 585, 585,
    585, 585, 585, 585, 585, 585, 585, 336, 336, 704, 704, 704, 611, 975, 722, 722, 722, 722, 667,
    611, 778, 722, 313, 556, 722, 611, 836, 722, 778, 667, 778, 722, 667, 611, 722, 667, 944, 667,
    667, 611, 384, 307, 384, 704, 556, 420, 567, 611, 556, 611, 570, 366, 611, 611, 288, 288, 559,
    288, 889, 611, 611, 611, 611, 415, 556, 402, 611, 556, 778, 556, 556, 500, 599, 307, 599, 704,
)  # fmt: skip
"""From space to tilde: the wider of the two families' letters, each in thousandths of the type's size."""
_OTHER = 1000
"""Anything else; emoji are about 1.3 em and get a little more."""
_WIDEST = 1400


@dataclass(frozen=True, slots=True)
class Type:
    """The page's type: one size for everything that is read."""

    size_pt: float
    pad_mm: float
    """Above and below every row of a table."""
    leading: float = 1.13
    """From one line to the next, as a multiple of the size."""

    @property
    def line_mm(self) -> float:
        """From one line to the next."""
        return self.size_pt * MM_PER_PT * self.leading

    def width_mm(self, text: str, *, bold: bool = False) -> float:
        """How far the text runs on one line."""
        widths = _BOLD if bold else _REGULAR
        return sum(_width(letter, widths) for letter in text) / 1000 * self.size_pt * MM_PER_PT

    def lines(self, text: str, width_mm: float, *, bold: bool = False) -> int:
        """How many lines the text takes, at least one."""
        return _lines(self, text, width_mm, bold)


@lru_cache(maxsize=8192)  # a page is laid out many times until it fits, of much the same texts
def _lines(type_: Type, text: str, width_mm: float, bold: bool) -> int:
    count, used = 1, 0.0
    space = type_.width_mm(" ", bold=bold)
    for word in visible(text, LINE_ENDS).split():
        wide = type_.width_mm(word, bold=bold)
        start = used + space if used else 0.0
        if start + wide <= width_mm:
            used = start + wide
            continue
        count += 1 if used else 0
        used = wide
        while used > width_mm:
            count, used = count + 1, used - width_mm * 0.9
    return count


def _width(letter: str, widths: Sequence[int]) -> int:
    place = ord(letter) - 32
    if 0 <= place < len(widths):
        return widths[place]
    return _OTHER if ord(letter) < 0x2E80 else _WIDEST
