"""The rules: what must hold for every profile, in plain words and in code, each written once.

`RULES` is the whole list. Property tests, the live bench, the campaign and the proof all judge by the
same functions: each takes what was `Seen` of one tick and says whether the rule holds there, and whether
it had anything to say there.
"""

from collections.abc import Callable
from dataclasses import dataclass

from mixer.core.plan import Plan
from mixer.laws import expect, movement, obeying, outputs, premises
from mixer.laws.arithmetic import Flag
from mixer.laws.creep import neutral_is_rest
from mixer.laws.driving import never_at_once
from mixer.laws.watch import Seen
from mixer.laws.ways import ways_of


@dataclass(frozen=True, slots=True)
class Rule:
    """One thing that must hold in every tick."""

    key: str
    words: str
    """The rule in one sentence for somebody who builds robots."""
    holds: Callable[[Seen], Flag]
    """Whether it holds in this tick; on ints or on symbols."""
    premise: Callable[[Seen], Flag]
    """Whether it has something to say in this tick; a run must reach that, or the rule is empty."""
    concerns: Callable[[Plan], bool]
    """Whether the plan has what the rule is about."""
    bound_ms: Callable[[Plan], int] | None = None
    """The time the rule promises, worked out from the plan; None where it holds within the tick."""


def _always(_: Plan) -> bool:
    return True


def _reverses(plan: Plan) -> bool:
    return any(
        output.pause_ticks and all(ways) for output, ways in zip(plan.outputs, ways_of(plan), strict=True)
    )


def _goes_into_a_stop(plan: Plan) -> bool:
    ways = ways_of(plan)
    return any(
        (item.out_stop is not None and ways[item.output].forward)
        or (item.in_stop is not None and ways[item.output].reverse)
        for item in plan.actuators
    )


def _has_latch(plan: Plan) -> bool:
    return any(
        actuator.out_stop is not None and actuator.in_stop is not None for actuator in plan.actuators
    )


def _watches_travel(plan: Plan) -> bool:
    return any(item.travel_limit is not None and any(ways_of(plan)[item.output]) for item in plan.actuators)


def _comes_back(plan: Plan) -> bool:
    """From a closed stop, which may close wherever the actuator stands, or from too long a way."""
    ways = ways_of(plan)
    return any(
        (item.out_stop is not None and ways[item.output].reverse)
        or (item.in_stop is not None and ways[item.output].forward)
        or (item.travel_limit is not None and all(ways[item.output]))
        for item in plan.actuators
    )


def _has_arm_switch(plan: Plan) -> bool:
    return plan.guard.arm is not None


RULES: tuple[Rule, ...] = (
    Rule(
        "stops-on-loss",
        "When the radio goes, every output is at zero within the promised time.",
        movement.stops_on_loss,
        premises.lost_after_driving,
        _always,
        expect.loss_ms,
    ),
    Rule(
        "one-bad-channel",
        "A single channel that goes bad stops everything, just like losing all of them.",
        movement.one_bad_channel_stops_all,
        premises.one_lost_after_driving,
        _always,
        expect.loss_ms,
    ),
    Rule(
        "bridging-ends",
        "A gap in the signal is bridged with the last good values, never longer than promised.",
        movement.bridging_ends,
        premises.bridging,
        _always,
        expect.lost_ms,
    ),
    Rule(
        "arming-first",
        "Nothing moves after power-up before the robot has been armed.",
        movement.nothing_before_arming,
        premises.not_yet_armed,
        _always,
    ),
    Rule(
        "hand-arms",
        "Only an arm switch that was off for as long as a finger needs arms: no spike and no burst does.",
        movement.only_a_hand_arms,
        premises.goes_live,
        _has_arm_switch,
    ),
    Rule(
        "no-self-start",
        "Nothing starts by itself: not after a reset or brown-out, not when the signal comes back.",
        movement.no_self_start,
        premises.held_back,
        _always,
    ),
    Rule(
        "disarming-stops",
        "Disarming stops every output within the promised time.",
        movement.disarming_stops,
        premises.disarmed,
        _has_arm_switch,
        expect.stop_ms,
    ),
    Rule(
        "neutral-rests",
        "Sticks at neutral bring a live robot to rest, and going live moves nothing.",
        obeying.neutral_rests,
        premises.at_neutral,
        neutral_is_rest,
        expect.rest_ms,
    ),
    Rule(
        "asked-by-mix",
        "Each output is asked for what its mix of the sticks says, to the last of 16384 parts.",
        obeying.asked_by_the_mix,
        premises.asked,
        _always,
    ),
    Rule(
        "heads-for-sticks",
        "Each output goes where the sticks point and gets there, as fast as slew, pause and stops allow.",
        obeying.heads_for_the_sticks,
        premises.changing,
        _always,
    ),
    Rule(
        "equal-rows",
        "Outputs with equal rows of the mix do the same.",
        obeying.equal_rows_equal,
        premises.moving,
        lambda plan: any(obeying.equal_outputs(plan)),
    ),
    Rule(
        "wire-carries",
        "Each wire carries its output's command, the right way round, to the nearest step.",
        obeying.wires_carry_commands,
        premises.moving,
        _always,
    ),
    Rule(
        "within-limits",
        "No output ever leaves its limits, and a command of zero is rest on its wire.",
        outputs.within_limits,
        premises.moving,
        _always,
    ),
    Rule(
        "within-slew",
        "No output changes faster than its slew allows, except to stop.",
        outputs.within_slew,
        premises.changing,
        lambda plan: any(map(never_at_once, plan.outputs)),
    ),
    Rule(
        "rest-before-reversing",
        "An output rests at zero for its pause before it turns the other way.",
        outputs.rests_before_reversing,
        premises.reversing,
        _reverses,
    ),
    Rule(
        "closed-stop",
        "An actuator is never driven into an end stop that is closed.",
        outputs.closed_stop_not_driven_into,
        premises.at_a_stop,
        _goes_into_a_stop,
    ),
    Rule(
        "other-way-free",
        "At a closed end stop the other direction stays free.",
        outputs.other_way_free,
        premises.back_from_a_stop,
        _comes_back,
    ),
    Rule(
        "travel-watched",
        "An actuator that should have met its stop by now is driven no further that way.",
        outputs.travel_is_watched,
        premises.came_too_far,
        _watches_travel,
    ),
    Rule(
        "faults-latch",
        "A fault stops what it concerns until the robot has been disarmed.",
        movement.faults_latch,
        premises.latched,
        _has_latch,
    ),
    Rule(
        "flip-turns-round",
        "Upside down only what shall turn round does, once it has settled, and neutral stays neutral.",
        movement.flip_changes_what_it_says,
        premises.upside_down,
        lambda plan: plan.flip is not None,
    ),
    Rule(
        "readings-true",
        "Pulses, switches, end stops and the way up are what the wires say, gaps and spikes counted in.",
        obeying.readings_are_true,
        premises.bridging,
        _always,
    ),
    Rule(
        "guard-true",
        "The firmware says live, resting, stopped or faulted when it is, and why.",
        obeying.guard_says_what_is,
        premises.live,
        _always,
    ),
    Rule(
        "stops-true",
        "What an actuator is allowed is what its end stops, its travel and its faults leave free.",
        obeying.stops_are_told,
        premises.live,
        lambda plan: bool(plan.actuators),
    ),
)

REPEATABLE = "repeatable"
REPEATABLE_WORDS = "Equal inputs give equal outputs: nothing but inputs and remembered state has a say."
"""Not a matter of one tick: the proof looks at what a tick reads, the campaign runs twins."""

RANGES = "ranges"
RANGES_WORDS = "No number of firmware or rules ever leaves 32 bits, and nothing is divided by zero."
"""What lets the proof count with whole numbers; shown beside the rules, from what a run can reach."""


def rules_of(plan: Plan) -> tuple[Rule, ...]:
    """The rules that have something to say about this plan."""
    return tuple(rule for rule in RULES if rule.concerns(plan))
