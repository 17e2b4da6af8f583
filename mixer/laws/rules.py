"""The rules: what must hold for every profile, in plain words and in code, each written once.

`RULES` is the whole list. Property tests, the live bench, the campaign and the proof all judge by the
same functions: each takes what was `Seen` of one tick and says whether the rule holds there.
"""

from collections.abc import Callable
from dataclasses import dataclass

from mixer.core.ops import Flag
from mixer.core.plan import Plan
from mixer.laws import expect, movement, outputs
from mixer.laws.watch import Seen


@dataclass(frozen=True, slots=True)
class Rule:
    """One thing that must hold in every tick."""

    key: str
    words: str
    """The rule in one sentence for somebody who builds robots."""
    holds: Callable[[Seen], Flag]
    """Whether it holds in this tick; on ints or on symbols."""
    concerns: Callable[[Plan], bool]
    """Whether the plan has what the rule is about."""
    bound_ms: Callable[[Plan], int] | None = None
    """The time the rule promises, worked out from the plan; None where it holds within the tick."""

    def to_dict(self) -> dict[str, str]:
        """Key and words, for JSON and the sheet."""
        return {"key": self.key, "words": self.words}


def _always(_: Plan) -> bool:
    return True


def _has_stops(plan: Plan) -> bool:
    return any(actuator.out_stop is not None or actuator.in_stop is not None for actuator in plan.actuators)


def _has_latch(plan: Plan) -> bool:
    return any(
        actuator.out_stop is not None and actuator.in_stop is not None for actuator in plan.actuators
    )


def _watches_travel(plan: Plan) -> bool:
    return any(actuator.travel_limit for actuator in plan.actuators)


RULES: tuple[Rule, ...] = (
    Rule(
        "stops-on-loss",
        "When the radio goes, every output is at zero within the promised time.",
        movement.stops_on_loss,
        _always,
        expect.loss_ms,
    ),
    Rule(
        "one-bad-channel",
        "A single channel that goes bad stops everything, just like losing all of them.",
        movement.one_bad_channel_stops_all,
        _always,
        expect.loss_ms,
    ),
    Rule(
        "bridging-ends",
        "A gap in the signal is bridged with the last good values, never longer than promised.",
        movement.bridging_ends,
        _always,
        expect.lost_ms,
    ),
    Rule(
        "arming-first",
        "Nothing moves after power-up before the robot has been armed.",
        movement.nothing_before_arming,
        _always,
    ),
    Rule(
        "no-self-start",
        "Nothing starts by itself: not after a reset or brown-out, not when the signal comes back.",
        movement.no_self_start,
        _always,
    ),
    Rule(
        "disarming-stops",
        "Disarming stops every output within the promised time.",
        movement.disarming_stops,
        _always,
        expect.stop_ms,
    ),
    Rule(
        "within-limits",
        "No output ever leaves its limits, and a command of zero is rest on its wire.",
        outputs.within_limits,
        _always,
    ),
    Rule(
        "within-slew",
        "No output changes faster than its slew allows, except to stop.",
        outputs.within_slew,
        lambda plan: any(output.slews for output in plan.outputs),
    ),
    Rule(
        "rest-before-reversing",
        "An output rests at zero for its pause before it turns the other way.",
        outputs.rests_before_reversing,
        lambda plan: any(output.pause_ticks for output in plan.outputs),
    ),
    Rule(
        "closed-stop",
        "An actuator is never driven into an end stop that is closed.",
        outputs.closed_stop_not_driven_into,
        _has_stops,
    ),
    Rule(
        "other-way-free",
        "At a closed end stop the other direction stays free.",
        outputs.other_way_free,
        lambda plan: bool(plan.actuators),
    ),
    Rule(
        "travel-watched",
        "An actuator that should have met its stop by now is driven no further that way.",
        outputs.travel_is_watched,
        _watches_travel,
    ),
    Rule(
        "faults-latch",
        "A fault stops what it concerns until the robot has been disarmed.",
        movement.faults_latch,
        _has_latch,
    ),
    Rule(
        "flip-keeps-neutral",
        "Lying upside down does not change which stick positions are neutral.",
        movement.flip_keeps_neutral,
        _always,
    ),
)

REPEATABLE = "repeatable"
REPEATABLE_WORDS = "Equal inputs give equal outputs: nothing but inputs and remembered state has a say."
"""Not a matter of one tick: the proof looks at what a tick reads, the campaign runs twins."""


def rules_of(plan: Plan) -> tuple[Rule, ...]:
    """The rules that have something to say about this plan."""
    return tuple(rule for rule in RULES if rule.concerns(plan))


def rule_named(key: str) -> Rule:
    """The rule of that key. Raises KeyError for an unknown one."""
    for rule in RULES:
        if rule.key == key:
            return rule
    raise KeyError(key)
