"""Firmware made wrong on purpose: the test of the tester.

Each wrong core replaces one function of the core by a copy with one mistake a firmware author might make.
None crashes; each runs and drives. Campaign or proof must catch every one of them.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import import_module
from typing import Any
from unittest.mock import patch

from mixer.core.plan import Plan
from tests.failsafe import wrong_stages as stages
from tests.plans import rig


@dataclass(frozen=True)
class WrongCore:
    """One mistake: where it is, what it is, and on which robot it shows."""

    key: str
    words: str
    target: str
    """``module.function`` below mixer.core."""
    replacement: Callable[..., Any]
    plan: Plan

    @contextmanager
    def built_in(self) -> Iterator[None]:
        """The core with this mistake."""
        module, _, name = self.target.partition(".")
        with patch.object(import_module(f"mixer.core.{module}"), name, self.replacement):
            yield


RIG = rig()
RAMPING = rig(ramps=True)
RESUMING = rig(resumes=True)
_GOOD = stages.is_good


MISTAKES: dict[str, tuple[tuple[Any, ...], ...]] = {
    "intake.age_after": (
        ("loss-never", "a channel never counts as lost", stages.make_age(_GOOD, cap=-1)),
        ("loss-late", "the loss timeout is one tick late", stages.make_age(_GOOD, fresh=-1)),
        ("loss-leaky", "a good pulse takes only two ticks off the age", stages.ages_by_two),
        ("any-pulse-good", "any pulse at all counts as signal", stages.make_age(lambda _, p: p > 0)),
        ("no-upper-limit", "pulses may be any length", stages.make_age(lambda c, p: p >= c.good_low_us)),
        (
            "no-lower-limit",
            "a missing pulse is a good one",
            stages.make_age(lambda c, p: p <= c.good_high_us),
        ),
        ("bad-pulse-used", "an invalid pulse still steers", stages.uses_bad_pulses),
    ),
    "tick.has_signal": (
        ("one-channel-enough", "signal while any channel is there", stages.make_signal(stages.any_of)),
        ("arm-loss-unseen", "only the sticks' channels are watched", stages.make_signal(stages.first_two)),
    ),
    "intake.contact_after": (
        ("no-debounce", "an end stop opens at the first bounce", stages.no_debounce),
        ("short-release", "an end stop opens a tick early", stages.short_release),
        ("slow-to-close", "an end stop has to be closed for a while", stages.slow_to_close),
        ("one-polarity", "every end stop reads 1 when closed", stages.one_polarity),
        ("never-opens", "an end stop stays closed for ever", stages.never_opens),
    ),
    "intake.position_of": (
        ("no-hysteresis", "a switch flutters at its edge", stages.no_hysteresis),
        ("arm-not-reversed", "the arm switch's reverse is forgotten", stages.switch_not_reversed),
    ),
    "tick.at_neutral": (
        ("neutral-one-stick", "one stick may be pushed while arming", stages.all_but_one_neutral),
        ("neutral-after-shape", "neutral is judged after the shape", stages.neutral_after_shape),
    ),
    "tick.bend": (("flip-turns-all", "upside down, steering is negated too", stages.bend_and_flip),),
    "tick.protect": (
        ("flip-is-neutral", "upside down, any stick counts as neutral", stages.flip_is_neutral),
    ),
    "tick.magnitude": (
        ("neutral-forward-only", "a stick pulled back counts as neutral", stages.only_forward),
    ),
    "guard.guard_after": (
        ("no-arm-edge", "the arm switch need not be seen off", stages.make_guard(no_edge=True)),
        ("arm-survives-loss", "arming survives a loss", stages.make_guard(arm_survives_loss=True)),
        ("resume-pushed", "goes live with sticks pushed", stages.make_guard(no_neutral=True)),
        ("resume-at-once", "the hold runs without signal", stages.make_guard(no_signal=True), RESUMING),
        ("no-hold", "goes live at once", stages.make_guard(no_hold=True)),
        ("short-hold", "goes live a tick early", stages.make_guard(short_hold=True)),
        ("hold-adds-up", "the hold adds up over interruptions", stages.make_guard(held_survives=True)),
        ("disarm-ignored", "switching off does not disarm", stages.make_guard(arm_off_ignored=True)),
        ("loss-ignored", "stays live through a loss", stages.make_guard(loss_ignored=True)),
        ("starts-live", "live with the first signal", stages.make_guard(starts_live=True)),
        ("fault-not-latched", "a fault goes when its cause goes", stages.make_guard(no_latch=True)),
        ("fault-overridden", "disarming overrides a present fault", stages.make_guard(reset_wins=True)),
        ("loss-clears-fault", "a loss clears a fault", stages.make_guard(loss_disarms=True)),
    ),
    "interlock.allowed": (
        ("stop-wrong-way", "an end stop blocks the wrong way", stages.make_allowed(swapped=True)),
        ("stop-both-ways", "an end stop blocks both ways", stages.make_allowed(both_ways=True)),
        ("outer-stop-only", "the inner end stop is ignored", stages.make_allowed(outer_only=True)),
        ("no-travel-watch", "the travel is not watched", stages.make_allowed(no_travel=True)),
        ("travel-locks", "too long one way blocks both ways", stages.make_allowed(travel_both=True)),
        ("own-latch-ignored", "an actuator's own fault is ignored", stages.make_allowed(no_latch=True)),
    ),
    "interlock.latch": (("own-latch-opens", "an actuator's fault is not latched", stages.own_latch_opens),),
    "interlock.both_closed": (
        ("both-closed-unseen", "both stops closed is never a fault", stages.never_both),
    ),
    "interlock.driven_after": (
        ("travel-nets", "the travel sum goes on after turning round", stages.make_driven(no_turn=True)),
        ("travel-never-met", "meeting a stop does not end the way", stages.make_driven(never_met=True)),
    ),
    "drive.drive": (
        ("stop-bypassed", "one output is not stopped at once", stages.make_drive(bypass="right")),
        ("keeps-last", "one output keeps its last command", stages.make_drive(keeps_last="grip"), RAMPING),
        ("veto-by-slew", "a veto is reached by the slew only", stages.make_drive(late_clamp=True)),
    ),
    "drive.level": (
        ("no-limit", "the limit is ignored", stages.no_limit),
        ("limit-exceeded", "the limit is applied too early", stages.limit_before_breakaway),
    ),
    "drive.slew": (
        ("no-slew-up", "rises at once", stages.make_slew(up=False)),
        ("no-slew-down", "falls at once", stages.make_slew(down=False)),
        ("slow-ramp", "a stop ramps by the wrong step", stages.make_slew(stops_at_zero=False), RAMPING),
    ),
    "drive.pause_after": (("short-pause", "the reversal pause is a tick short", stages.short_pause),),
    "drive.on_wire": (
        ("wire-creeps", "the wire is never quite at rest", stages.wire_creeps),
        ("wire-not-reversed", "an output's reverse is forgotten", stages.wire_not_reversed),
    ),
    "tick.tick": (("hidden-memory", "a tick depends on how often it ran", stages.make_forgetful()),),
}
"""By the function that is replaced: key, words, the replacement, and the robot where it is not `RIG`."""


def _wrong_cores() -> Iterator[WrongCore]:
    for target, mistakes in MISTAKES.items():
        for key, words, made, *plan in mistakes:
            yield WrongCore(key, words, target, made, plan[0] if plan else RIG)


WRONG_CORES = tuple(_wrong_cores())
