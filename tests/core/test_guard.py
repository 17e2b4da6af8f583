"""The guard's state table, and its laws over every situation there is."""

from dataclasses import replace
from itertools import product

import pytest

from mixer.core.guard import GuardState, guard_after
from mixer.core.plan import Guard, GuardPlan, SwitchPosition
from tests.plans import plain_guard

SEARCHING, RESTING, LIVE, STOPPED, FAULTED = Guard
REARM = plain_guard(arm=SwitchPosition(0, 1), hold_ticks=2)
RESUME = plain_guard(arm=SwitchPosition(0, 1), hold_ticks=2, resumes=True)
NO_SWITCH = plain_guard(hold_ticks=2)


def states(plan: GuardPlan, story: str) -> list[Guard]:
    """The states along a story: one tick a word, each letter something that holds in it.

    s signal, n neutral, a armed, f fault; a dot for none.
    """
    before = GuardState(SEARCHING, 0, 0, 0)
    seen = []
    for word in story.split():
        signal, neutral, armed, fault = (letter in word for letter in "snaf")
        before, _ = guard_after(plan, before, signal, neutral, armed, fault)
        seen.append(Guard(before.state))
    return seen


TABLE = [
    ("powered up without signal", REARM, ". . .", "???"),
    ("signal but not armed", REARM, "s sn s", "rrr"),
    ("armed in order", REARM, "sn sna sna", "rrL"),
    ("a reset with arm on never starts", REARM, "sna sna sna sna", "rrrr"),
    ("off and on again starts", REARM, "sna sna sn sna sna", "rrrrL"),
    ("sticks away while arming", REARM, "sn sna sa sna sna", "rrrrL"),
    ("sticks may move once live", REARM, "sn sna sna sa sa", "rrLLL"),
    ("disarmed at once, no return by itself", REARM, "sn sna sna s sa", "rrLrr"),
    ("lost at once", REARM, "sn sna sna na .", "rrLxx"),
    ("after a loss with arm still on", REARM, "sn sna sna a sna sna sna", "rrLxrrr"),
    ("after a loss armed anew", REARM, "sn sna sna a sna sn sna sna", "rrLxrrrL"),
    ("arm off only during the loss", REARM, "sn sna sna . sna sna", "rrLxrr"),
    ("resumes at neutral", RESUME, "sn sna sna a sna sna", "rrLxrL"),
    ("resumes only at neutral", RESUME, "sn sna sna a sa sa sa", "rrLxrrr"),
    ("resuming does not start a reset", RESUME, "sna sna sna", "rrr"),
    ("a fault at once", REARM, "sn sna sna snaf", "rrLF"),
    ("a fault stays when its cause is gone", REARM, "sn sna sna snaf sna sna", "rrLFFF"),
    ("a fault stays while it lasts", REARM, "sn snf snf sn", "rFFr"),
    ("disarming needs signal", REARM, "sn snaf n . sna sn", "rFFFFr"),
    ("after a fault armed anew", REARM, "sn snaf sn sna sna", "rFrrL"),
    ("a fault before any signal", REARM, "f . sn", "FFr"),
    ("no switch: neutral arms", NO_SWITCH, "sna sna", "rL"),
    ("no switch: neutral arms again", NO_SWITCH, "sna sna a sna sna", "rLxrL"),
    ("no switch: only power-up ends a fault", NO_SWITCH, "sna sna snaf sna sna a sna", "rLFFFFF"),
]
"""What it is about, the guard, its story, and its states: ? searching, r resting, L live, x stopped,
F faulted."""


@pytest.mark.parametrize(
    ("plan", "story", "expected"), [row[1:] for row in TABLE], ids=[row[0] for row in TABLE]
)
def test_state_table(plan: GuardPlan, story: str, expected: str) -> None:
    """Each story of power-up, arming, loss and fault takes the guard through just these states."""
    assert "".join("?rLxF"[state] for state in states(plan, story)) == expected


@pytest.mark.parametrize("plan", [REARM, RESUME, NO_SWITCH])
def test_laws_in_every_situation(plan: GuardPlan) -> None:
    """From every state and memory, with every combination of what may happen, no law is broken."""
    for state, held, seen, signal, neutral, armed, fault in product(
        Guard, (0, 1, 2), (0, 1), *[(False, True)] * 4
    ):
        on = armed or plan.arm is None
        after, disarmed = guard_after(plan, GuardState(state, held, seen, 0), signal, neutral, on, fault)
        assert disarmed == (signal and not on)
        assert after.off_for == disarmed
        assert fault <= (after.state == FAULTED)
        assert state != FAULTED or after.state == FAULTED or (disarmed and not fault)
        if after.state == LIVE:
            assert signal
            assert on
            assert not fault
            assert state == LIVE or (neutral and held >= plan.hold_ticks - 1)
        assert signal or after.state in (FAULTED, SEARCHING if state == SEARCHING else STOPPED)
        assert not signal or after.state in (FAULTED, RESTING, LIVE)
        assert after.held == 0 or (signal and neutral and on and not fault and after.seen_off == 1)
        if plan.arm and not disarmed:
            assert after.seen_off <= seen
            assert plan.resumes or signal or after.seen_off == 0


def test_hold_is_counted_in_a_row() -> None:
    """One tick away from neutral starts the count anew; the count is exact."""
    plan = plain_guard(hold_ticks=5)
    assert states(plan, "sna " * 4) == [RESTING] * 4
    assert states(plan, "sna " * 5)[-1] == LIVE
    assert LIVE not in states(plan, "sna sna sna sna sa sna sna sna sna")


FINGER = plain_guard(arm=SwitchPosition(0, 1), hold_ticks=1, off_ticks=3)
OFF_STORIES = [
    ("off for just as long as a finger needs", "sn+ sn+ sn+ sna+", "rrrL"),
    ("off a tick too short", "sn+ sn+ sna+ sna+", "rrrr"),
    ("one pulse that reads off, then silence", "sn+ sn sn sn sn sna+", "rrrrrr"),
    ("a second pulse makes it sure, however late", "sn+ sn sn sn sn+ sna+", "rrrrrL"),
    ("a pulse that is no good begins it anew", "sn+ sn! sn+ sn+ sna+ sn+ sn+ sn+ sna+", "rrrrrrrrL"),
    ("on in between begins it anew", "sn+ sn+ sna+ sn+ sna+", "rrrrr"),
    ("a loss in between begins it anew", "sn+ sn+ . sn+ sna+", "rrxrr"),
    ("live ends with the first pulse that reads off", "sn+ sn+ sn+ sna+ s+", "rrrLr"),
    ("one pulse does not clear a fault", "sn+ sn+ sn+ sna+ snaf+ s+ sna+", "rrrLFFF"),
    ("a hand does", "sn+ sn+ sn+ sna+ snaf+ s+ s+ s+ sna+", "rrrLFFFrL"),
]
"""As the table above; + for a good pulse on the arm switch's channel, ! for a bad one."""


@pytest.mark.parametrize(
    ("story", "expected"), [row[1:] for row in OFF_STORIES], ids=[r[0] for r in OFF_STORIES]
)
def test_only_a_hand_counts_as_off(story: str, expected: str) -> None:
    """From the first to the last pulse that reads off a finger's time has to pass, without a break."""
    before, seen = GuardState(SEARCHING, 0, 0, 0), ""
    for word in story.split():
        signal, neutral, armed, fault = (letter in word for letter in "snaf")
        before, _ = guard_after(
            FINGER, before, signal, neutral, armed, fault, heard="+" in word, clean="!" not in word
        )
        seen += "?rLxF"[before.state]
    assert seen == expected


@pytest.mark.parametrize("plan", [REARM, replace(REARM, arm=None)], ids=["switch", "none"])
def test_seen_off_is_a_flag(plan: GuardPlan) -> None:
    """1 once the switch was seen off, and always where there is none; it starts at 0."""
    before = GuardState(SEARCHING, 0, 0, 0)
    after, _ = guard_after(plan, before, signal=True, neutral=True, arm_on=False, fault=False)
    assert after.seen_off == 1
