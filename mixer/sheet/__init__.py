"""The one-page data sheet of a robot, to print and to hand to the people at the event.

What others found out (fail-safe, proof, rehearsal) arrives as frozen facts (`facts.py`); the page is laid
out in millimetres by our own arithmetic, so that it is known to fit before it is written.
"""

from mixer.sheet.facts import (
    FaultLine,
    Outcome,
    Proven,
    Rehearsed,
    RuleLine,
    Seen,
    SheetFacts,
    Simulated,
    StopFacts,
    code_fingerprint,
)
from mixer.sheet.page import Sheet, draw_sheet

__all__ = [
    "FaultLine",
    "Outcome",
    "Proven",
    "Rehearsed",
    "RuleLine",
    "Seen",
    "Sheet",
    "SheetFacts",
    "Simulated",
    "StopFacts",
    "code_fingerprint",
    "draw_sheet",
]
