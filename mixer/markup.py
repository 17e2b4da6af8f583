"""HTML by calls: text is escaped where it enters, tags are closed by construction.

Attributes are written in the order given, so equal input gives equal bytes. `label_` becomes ``label``
and ``aria_label`` becomes ``aria-label``.
"""

import re
from dataclasses import dataclass
from typing import TypeAlias

from mixer.text import visible

VOID = {"meta", "col"}
LINE_ENDS = "\n\t"
DRAWN = {"path", "rect"}
"""SVG without content: closed within its tag, as foreign elements have to be."""
_UNFIT = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
"""What HTML may not hold (WHATWG HTML, 13.1.4: noncharacters, controls other than white space) or UTF-8
cannot write."""
_ENTITIES = {"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;"}


@dataclass(frozen=True, slots=True)
class Markup:
    """HTML that is safe to put into a page as it is."""

    text: str


Content: TypeAlias = "Markup | str"


def escape(text: str) -> str:
    """The text as it may stand in HTML, inside tags or in a quoted attribute."""
    fit = _UNFIT.sub("\N{REPLACEMENT CHARACTER}", text)
    return "".join(_ENTITIES.get(letter, letter) for letter in fit)


def document(title: str, style: str, *content: Content) -> str:
    """A whole page with its style sheet, as it stands in a file."""
    head = element(
        "head",
        element("meta", charset="utf-8"),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("title", title),
        element("style", Markup(style)),
    )
    return f"<!DOCTYPE html>\n{element('html', head, element('body', *content), lang='en').text}\n"


def foreign(text: str) -> Markup:
    """Text from a profile: isolated, so that its direction and marks end where it ends."""
    return element("bdi", visible(text, LINE_ENDS))


def element(name: str, /, *content: Content, **attributes: str | int | float) -> Markup:
    """``<name attribute="...">content</name>``; strings are escaped, markup is taken as it is."""
    marks = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{escape(str(value))}"' for key, value in attributes.items()
    )
    if name in VOID:
        return Markup(f"<{name}{marks}>")
    if name in DRAWN:
        return Markup(f"<{name}{marks}/>")
    return Markup(f"<{name}{marks}>{join(*content).text}</{name}>")


def join(*content: Content) -> Markup:
    """One after the other."""
    return Markup("".join(part.text if isinstance(part, Markup) else escape(part) for part in content))


NOTHING = Markup("")
