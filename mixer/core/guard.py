"""The guard: decides whether outputs follow the sticks."""

from mixer.core.ops import Flag, Value, minimum, negation, select
from mixer.core.plan import Guard, GuardPlan
from mixer.core.signals import GuardState

# searching ──signal──► resting ──neutral held, arm switch seen off then on──► live
#     ▲                  ▲   ▲                                                  │ │
#  power-up              │   └────────────── arm off ───────────────────────────┘ │
#                     signal                                                      │
#                        │                                                        │
#                     stopped ◄───────────── signal lost ─────────────────────────┘
# any ──fault──► faulted ──arm off, fault gone──► resting


def guard_after(
    plan: GuardPlan, before: GuardState[Value], signal: Flag, neutral: Flag, arm_on: Flag, fault: Flag
) -> tuple[GuardState[Value], Flag]:
    """The guard after this tick, and whether it was disarmed (switch seen off with signal).

    Laws: live only after `hold_ticks` of signal, neutral sticks and arm on, with arm seen off before
    that; not live in the very tick in which signal, arm or health ends; a fault stays until disarmed.
    """
    disarmed = signal & negation(arm_on)
    remembered = before.seen_off if plan.resumes else select(signal, before.seen_off, 0)
    seen_off: Value = select(disarmed, 1, remembered) if plan.arm else 1
    ready = signal & neutral & arm_on & (seen_off > 0) & negation(fault)
    held = select(ready, minimum(before.held + 1, plan.hold_ticks), 0)

    follows = (held >= plan.hold_ticks) | ((before.state == Guard.LIVE) & arm_on)
    with_signal = select(follows, int(Guard.LIVE), int(Guard.RESTING))
    never_had_it = before.state == Guard.SEARCHING
    without = select(never_had_it, int(Guard.SEARCHING), int(Guard.STOPPED))
    latched = fault | ((before.state == Guard.FAULTED) & negation(disarmed))
    state = select(latched, int(Guard.FAULTED), select(signal, with_signal, without))
    return GuardState(state, held, seen_off), disarmed
