"""The questions and answers as a page to print, dark on white, big enough to read at arm's length."""

from collections.abc import Sequence

from mixer.markup import Markup, document, element, foreign
from mixer.profile.read.fitting import fitting_of
from mixer.sheet.facts import SheetFacts
from mixer.sheet.plain.answers import Answer, Said
from mixer.sizing.report import CHECKED

MARK = "<title>In plain words: "
"""Stands near the beginning of every page of this kind."""
STYLE = """
@page { margin: 14mm }
* { box-sizing: border-box }
body { margin: 0 auto; max-width: 46rem; padding: 1rem; background: #fff; color: #16181d;
  font: 12pt/1.45 Arial, "Liberation Sans", Helvetica, sans-serif; overflow-wrap: anywhere }
h1 { font-size: 1.6em; margin: 0 } h2 { font-size: 1.15em; margin: 1.1em 0 .2em; break-after: avoid }
p { margin: .2em 0; break-inside: avoid } small { color: #3f4650 }
em { font-style: normal; color: #3f4650; white-space: nowrap } em::before { content: "\\2014\\20" }
strong { border: .4mm solid #16181d; padding: 0 .8mm }
@media print { body { padding: 0; max-width: none } }
"""
CLOSING = ("A simulation is no certificate.", *CHECKED[-2:])


def plain_page(facts: SheetFacts, answers: Sequence[Answer]) -> str:
    """The page. Equal facts give equal bytes."""
    parts = [
        element("h1", foreign(facts.robot.robot.name)),
        element("small", foreign(fitting_of(facts.loadout).title), f", {facts.profile_fingerprint}"),
    ]
    for answer in answers:
        parts += [element("h2", answer.question), *map(_sentence, answer.said)]
    parts.append(element("p", element("small", " ".join(CLOSING))))
    return document(f"In plain words: {facts.plan.name}", STYLE, *parts)


def _sentence(said: Said) -> Markup:
    words = element("strong", foreign(said.words)) if said.bad else foreign(said.words)
    return element("p", words, " ", element("em", said.how.value))
