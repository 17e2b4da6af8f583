"""The page's looks: dark on white, one family of type, thin rules, no colour that carries a meaning.

Sizes in mm are the ones the heights of the blocks are worked out with.
"""

from mixer.sheet.blocks import CELL_MM, HEAD, HEAD_MM
from mixer.sheet.checks import BOX_MM, SIGN_MM
from mixer.sheet.checks import GAP_MM as CHECK_GAP_MM
from mixer.sheet.curves import GAP_MM as CURVE_GAP_MM
from mixer.sheet.curves import SIDE_MM
from mixer.sheet.font.faces import faces
from mixer.sheet.head import BIG, TILE_GAP_MM, TITLE
from mixer.sheet.typography import Type

MARGIN_MM = 6.0
WIDTH_MM = 198.0
"""A4 is 210 mm wide."""
HEIGHT_MM = 266.0
"""Letter is 279.4 mm high; a millimetre is kept for rounding."""
LEFT_MM = 106.0
COLUMN_GAP_MM = 4.0
RIGHT_MM = WIDTH_MM - LEFT_MM - COLUMN_GAP_MM
GAP_MM = 1.3
"""Under every section."""

INK, QUIET, ACCENT, HAIR = "#16181d", "#3f4650", "#17405e", "#b9c0c8"
"""Text, second text, headings (each at least 4.5 to 1 on white), rules."""


def style_sheet(type_: Type) -> str:
    """The CSS of a page set in this type."""
    return "\n".join((_sheet(type_), _tables(type_), _head(type_), _parts(type_))) + "\n"


def _sheet(type_: Type) -> str:
    return f"""
{faces()}
@page {{ margin: {MARGIN_MM:g}mm }}
* {{ box-sizing: border-box; margin: 0; padding: 0 }}
html {{ background: #fff; color: {INK}; print-color-adjust: exact }}
body {{ font: {type_.size_pt:g}pt/{type_.leading} "sheet", Arial, "Liberation Sans", Helvetica, sans-serif;
  text-rendering: geometricPrecision; overflow-wrap: anywhere; hyphens: none }}
main {{ width: {WIDTH_MM:g}mm; margin: 0 auto }}
@media screen {{ main {{ margin: {MARGIN_MM:g}mm auto }} }}
.columns {{ display: flex; justify-content: space-between }}
.left {{ width: {LEFT_MM:g}mm }}
.right {{ width: {RIGHT_MM:g}mm }}
section, header {{ margin-bottom: {GAP_MM:g}mm }}
h2 {{ font-size: {HEAD:g}em; line-height: {type_.leading}; color: {ACCENT}; text-align: left;
  border-bottom: 0.35mm solid {ACCENT}; margin-bottom: {HEAD_MM - 0.4:g}mm }}
ul {{ list-style: none }}
li {{ padding: {type_.pad_mm:g}mm 0 }}
strong {{ font-weight: bold; border: 0.4mm solid {INK}; padding: 0 0.8mm }}
.note {{ color: {QUIET}; padding-top: {type_.pad_mm:g}mm }}""".strip()


def _tables(type_: Type) -> str:
    return f"""
table {{ width: 100%; border-collapse: collapse; table-layout: fixed }}
th, td {{ text-align: left; vertical-align: top;
  padding: {type_.pad_mm:g}mm {CELL_MM:g}mm {type_.pad_mm:g}mm 0; border-bottom: 0.15mm solid {HAIR} }}
th {{ font-weight: normal }}
thead th {{ color: {QUIET}; font-weight: bold }}
.n {{ text-align: right; padding-right: 2mm }}
td.n {{ white-space: nowrap; font-variant-numeric: tabular-nums }}""".strip()


def _head(type_: Type) -> str:
    return f"""
header {{ border-bottom: 0.6mm solid {ACCENT}; padding-bottom: 1mm }}
h1 {{ font-size: {TITLE:g}em; line-height: {type_.leading}; color: {ACCENT} }}
.worst strong {{ display: inline-block; margin: 0.4mm 0 }}
h1 small {{ font-size: 0.7em; color: {QUIET} }}
dl {{ display: grid; grid-template-columns: repeat(4, 1fr); column-gap: {TILE_GAP_MM:g}mm;
  margin-top: 1.5mm }}
dl div {{ border-left: 0.6mm solid {ACCENT}; padding-left: 1.6mm }}
dt {{ color: {QUIET}; font-weight: bold }}
dd b, dd strong {{ display: block; width: fit-content; font-size: {BIG:g}em;
  line-height: {type_.leading} }}""".strip()


def _parts(type_: Type) -> str:
    return f"""
.curves {{ display: flex; flex-wrap: wrap; gap: {CURVE_GAP_MM:g}mm }}
figure {{ width: {SIDE_MM:g}mm }}
figure svg {{ display: block; width: {SIDE_MM:g}mm; height: {SIDE_MM:g}mm }}
figcaption b, figcaption span {{ display: block }}
.frame, .axis, .straight, .curve {{ fill: none; stroke: {HAIR}; stroke-width: 1.5 }}
.frame {{ stroke: {QUIET} }}
.straight {{ stroke-dasharray: 5 5 }}
.curve {{ stroke: {INK}; stroke-width: 5 }}
.checks {{ border: 0.4mm solid {INK}; padding: 1mm 1.6mm }}
.checks h2 {{ border: 0; margin: 0 }}
ol {{ display: grid; grid-template-columns: 1fr 1fr; column-gap: {CHECK_GAP_MM:g}mm; list-style: none;
  counter-reset: check }}
ol li {{ counter-increment: check; position: relative; padding-left: {BOX_MM:g}mm; margin-bottom: 0.2mm }}
ol li::before {{ content: counter(check); position: absolute; left: 4.6mm; font-weight: bold }}
ol li::after {{ content: ""; position: absolute; left: 0; top: {type_.pad_mm + 0.35:g}mm; width: 3mm;
  height: 3mm; border: 0.3mm solid {INK} }}
.sign {{ display: flex; gap: 3mm; margin-top: {SIGN_MM - 0.5:g}mm }}
.sign div {{ flex: 1; border-top: 0.25mm solid {INK}; color: {QUIET} }}""".strip()
