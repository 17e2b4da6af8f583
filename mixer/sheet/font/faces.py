"""The page's letters as CSS: with them inside the file, it is set alike whatever fonts a machine has.

`regular.woff` and `bold.woff` are subsets of DejaVu Sans Condensed 2.37 without its hints and kerning:
ASCII, Latin-1, Latin Extended-A and a few signs. Their unit is made larger (2156 to the em instead of
2048), so that the x-height is that of the usual families at the same size. The names are their own, as the
licence asks; it stands in `LICENSE` and inside both fonts.
"""

from base64 import b64encode
from functools import cache
from importlib.resources import files


@cache
def faces() -> str:
    """Both weights, licence named."""
    note = "/* From DejaVu Sans Condensed, (c) Bitstream, (c) Tavmjong Bah; the licence is in the font. */"
    return "\n".join((note, _face("normal", "regular.woff"), _face("bold", "bold.woff")))


def _face(weight: str, file: str) -> str:
    letters = b64encode((files("mixer.sheet") / "font" / file).read_bytes()).decode("ascii")
    return (
        f'@font-face {{ font-family: "sheet"; font-weight: {weight}; '
        f'src: url("data:font/woff;base64,{letters}") format("woff") }}'
    )
