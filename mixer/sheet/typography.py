"""Type: how wide text runs and into how many lines it breaks, so that the page's height is known.

Widths are those of the Helvetica family (thousandths of an em, as in the core fonts' metrics, which Arial
and Liberation Sans share). Text breaks at spaces; a word longer than its line breaks anywhere.
"""

from dataclasses import dataclass

MM_PER_PT = 25.4 / 72
LINE = 1.13
"""Line height as a multiple of the size."""
_WIDTHS = (
    278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278, 556, 556, 556, 556,
    556, 556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556, 1015, 667, 667, 722, 722, 667, 611, 778,
    722, 278, 500, 667, 556, 833, 722, 778, 667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278,
    278, 278, 469, 556, 333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556,
    556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584,
)  # fmt: skip
"""From space to tilde."""
_OTHER = 1000
"""Anything else; emoji are about 1.3 em and get a little more."""
_WIDEST = 1400
_BOLD = 1.09
"""Bold runs wider by less than this."""


@dataclass(frozen=True, slots=True)
class Type:
    """The page's type: one size for everything that is read."""

    size_pt: float
    pad_mm: float
    """Above and below every row of a table."""

    @property
    def line_mm(self) -> float:
        """From one line to the next."""
        return self.size_pt * MM_PER_PT * LINE

    def width_mm(self, text: str, *, bold: bool = False) -> float:
        """How far the text runs on one line."""
        ems = sum(_width(letter) for letter in text) / 1000
        return ems * self.size_pt * MM_PER_PT * (_BOLD if bold else 1.0)

    def lines(self, text: str, width_mm: float, *, bold: bool = False) -> int:
        """How many lines the text takes, at least one."""
        count, used = 1, 0.0
        space = self.width_mm(" ", bold=bold)
        for word in text.split():
            wide = self.width_mm(word, bold=bold)
            start = used + space if used else 0.0
            if start + wide <= width_mm:
                used = start + wide
                continue
            count += 1 if used else 0
            used = wide
            while used > width_mm:
                count, used = count + 1, used - width_mm * 0.9
        return count


def _width(letter: str) -> int:
    place = ord(letter) - 32
    if 0 <= place < len(_WIDTHS):
        return _WIDTHS[place]
    return _OTHER if ord(letter) < 0x2E80 else _WIDEST
