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
# any ──fault──► faulted ──arm switch seen off, fault gone──► resting


def off_for_after(plan: GuardPlan, off: Flag, heard: Flag, clean: Flag, before: Value) -> Value:
    """How long the arm switch has read off; only a pulse that still says so makes the count full.

    A finger holds it there, noise does not: a position that merely stands for want of pulses proves
    nothing, so time alone stops the count one short, and a pulse that is no good begins it anew.
    """
    if plan.arm is None:
        return 0
    grown = minimum(before + 1, plan.off_ticks)
    sure = heard | (before >= plan.off_ticks)
    return select(off & clean, select(sure, grown, minimum(grown, plan.off_ticks - 1)), 0)


def guard_after(
    plan: GuardPlan,
    before: GuardState[Value],
    signal: Flag,
    neutral: Flag,
    arm_on: Flag,
    fault: Flag,
    heard: Flag = True,
    clean: Flag = True,
) -> tuple[GuardState[Value], Flag]:
    """The guard after this tick, and whether a hand has disarmed it (switch seen off with signal).

    `heard` says that the arm switch's channel brought a good pulse in this tick, `clean` that it brought
    no bad one. Laws: live only after `hold_ticks` of signal, neutral sticks and arm on, with arm seen
    off before that; not live in the very tick in which signal, arm or health ends; a fault stays until
    disarmed.
    """
    off_for = off_for_after(plan, signal & negation(arm_on), heard, clean, before.off_for)
    disarmed: Flag = off_for >= plan.off_ticks
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
    return GuardState(state, held, seen_off, off_for), disarmed
