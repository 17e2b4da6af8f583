"""The restart interlock: a stop acts at once, and nothing starts again without a fresh act of the driver.

Source: PLCopen, "Safety Software, Technical Specification Part 1", function block SF_EmergencyStop, as
described in the CODESYS library documentation. IEC 60204-1, 9.2: resetting shall not restart, only permit
restarting. The part of S_EStopIn is played by the radio signal, that of Reset by the arm switch, that of
S_EStopOut by the guard being live. Two things differ on purpose: an arm switch is a level, so switching it
off stops (a reset button may be let go); and going live also takes neutral sticks for `hold_ticks`, one
tick here.
"""

import pytest

from mixer.core.layout import layout_of
from mixer.core.plan import Guard
from mixer.core.tick import flat_tick
from tests.core.ticks import named
from tests.plans import plain_guard, plain_plan, with_arm_switch

STORIES = [
    ("Idle: all safe inputs are false at first", "00", "0"),
    ("Init, WaitForIn1 8802: no input, no output", "00 00", "00"),
    ("WaitForReset1 8402: input there, reset still to come", "00 10 10", "000"),
    ("OutEnabled 8000: reset rises while the input is there", "10 11", "01"),
    ("OutEnabled 8000 holds", "10 11 11 11", "0111"),
    ("WaitForIn2 8804: input gone, output off in that very cycle", "10 11 01", "010"),
    ("WaitForReset2 8404: input back, no restart by itself", "10 11 00 10 10", "01000"),
    ("OutEnabled 8000 again after a fresh reset", "10 11 00 10 11", "01001"),
    ("Error_Reset1 C001: reset already on when the input comes", "01 11 11", "000"),
    ("Error_Reset1 left by letting go, then a fresh reset", "01 11 10 11", "0001"),
    ("Error_Reset2 C011: reset held down through the loss", "10 11 01 11 11", "01000"),
    ("Error_Reset2 left by letting go, then a fresh reset", "10 11 01 11 10 11", "010001"),
    ("reset pressed anew during the loss does not count", "10 11 00 01 11 11", "010000"),
    ("R_TRIG would see an edge in the first cycle; here it is none", "11 11", "00"),
    ("ours: arm off stops in that very cycle", "10 11 10", "010"),
    ("ours: arm on again is a fresh act", "10 11 10 11", "0101"),
]


@pytest.mark.parametrize(
    ("story", "expected"), [row[1:] for row in STORIES], ids=[row[0] for row in STORIES]
)
def test_restart_interlock(story: str, expected: str) -> None:
    """Input and reset, cycle by cycle, give the published output, through pulses and the whole tick."""
    plan = with_arm_switch(plain_plan(((16384,),), guard=plain_guard(lost_ticks=1, hold_ticks=1)))
    state: list[int] = list(layout_of(plan).start)
    seen = ""
    for step in story.split():
        arm = 2000 if step[1] == "1" else 1000
        row = (1500, arm) if step[0] == "1" else (0, 0)
        after = flat_tick(plan, row, state)
        state = after.state
        seen += "1" if named(plan, after)["guard.state"] == Guard.LIVE else "0"
    assert seen == expected
