"""What tests draw: random valid plans and input traces, from hypothesis or from a seeded generator.

    plan = random_plan(random.Random(7))              # no hypothesis needed
    for after in run_core(plan, driving(random.Random(8), plan, ticks=300)): ...

    @given(plans())                                   # with shrinking
    @given(driven_plans())                            # (plan, trace), the trace live at some tick

The names imported below are public here: tests import them from this module.
"""

from hypothesis import strategies as st

from mixer.core.plan import Plan
from tests.dice import DrawnDice
from tests.random_plans import FULL_SIZE, SMALL_SIZE, Size, make_plan, random_plan, rounded_ratio
from tests.random_traces import (
    HOSTILE,
    PLAUSIBLE,
    Row,
    Trace,
    adversarial,
    arming,
    driving,
    frame_ticks,
    framed,
    make_trace,
    neutral_pulse,
    neutral_row,
    open_contacts,
    position_pulse,
    run_core,
)

__all__ = [
    "FULL_SIZE",
    "SMALL_SIZE",
    "Row",
    "Size",
    "Trace",
    "adversarial",
    "arming",
    "attacked_plans",
    "attacks",
    "commands",
    "driven_plans",
    "drives",
    "driving",
    "frame_ticks",
    "framed",
    "neutral_pulse",
    "neutral_row",
    "open_contacts",
    "plans",
    "position_pulse",
    "random_plan",
    "rounded_ratio",
    "run_core",
]

commands = st.integers(-16384, 16384)
"""A command: a Q14 number within ±ONE."""


@st.composite
def plans(draw: st.DrawFn, size: Size = SMALL_SIZE) -> Plan:
    """Random valid plans; small ones unless a size is given."""
    return make_plan(DrawnDice(draw), size)


@st.composite
def drives(draw: st.DrawFn, plan: Plan, ticks: int = 120) -> Trace:
    """Plausible driving that begins with arming; at least `ticks` long."""
    return make_trace(DrawnDice(draw), plan, ticks, arms=True, kinds=PLAUSIBLE)


@st.composite
def attacks(draw: st.DrawFn, plan: Plan, ticks: int = 120) -> Trace:
    """Inputs of every kind, armed first or not; at least `ticks` long."""
    arms = draw(st.booleans())
    return make_trace(DrawnDice(draw), plan, ticks, arms=arms, kinds=PLAUSIBLE + HOSTILE)


@st.composite
def driven_plans(draw: st.DrawFn, ticks: int = 120) -> tuple[Plan, Trace]:
    """A plan and plausible driving for it."""
    plan = draw(plans())
    return plan, draw(drives(plan, ticks))


@st.composite
def attacked_plans(draw: st.DrawFn, ticks: int = 120) -> tuple[Plan, Trace]:
    """A plan and inputs of every kind for it."""
    plan = draw(plans())
    return plan, draw(attacks(plan, ticks))
