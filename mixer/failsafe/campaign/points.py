"""Operating points: where the sticks stand, what the guard is doing, when the fault sets in.

Every lane's point follows from its seed and number alone, so that any scenario can be set up again by
itself. The habits are what an operator does after something has gone wrong; the careless ones matter.
"""

from dataclasses import dataclass, field
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from mixer.core.ops import ONE
from mixer.core.plan import Guard, Plan, SwitchPosition
from mixer.core.rest import contact_levels, position_pulse, resting_pulses
from mixer.failsafe.campaign.prefix import Prefix
from mixer.faults.fault import Fault, Flags, Ints, Seeds, below, digest, hashed
from mixer.faults.pulses import flip_input, stick_pulse
from mixer.laws.expect import loss_ms

Positions = NDArray[np.float64]

SHARES = (1.0, -1.0, 0.5, -0.5, 0.2, -0.2, 0.0)
"""Where a stick may stand, as shares of its way."""


class Habit(IntEnum):
    """What the operator does from the onset on."""

    HOLD = 0
    """Keeps the sticks where they are."""
    REST_AND_PUSH = 1
    """Lets go until the robot might arm, then pushes again, the arm switch left on."""
    ARM_AGAIN = 2
    """Lets go, arms off and on again, then pushes."""
    WIGGLE = 3
    """Pushes to and fro."""
    ARM_PUSHED = 4
    """Arms off and on with the sticks pushed."""
    DISARM = 5
    """Switches the arm switch off and leaves it."""


def _is_one_of(*habits: Habit) -> Flags:
    """(habits,): a table to look lanes' habits up in."""
    return np.array([habit in habits for habit in Habit])


_LETS_GO = _is_one_of(Habit.REST_AND_PUSH, Habit.ARM_AGAIN)
_WIGGLES = _is_one_of(Habit.WIGGLE)
_ARMS_AGAIN = _is_one_of(Habit.ARM_AGAIN, Habit.ARM_PUSHED)
_DISARMS = _is_one_of(Habit.DISARM)
_RESTS = _is_one_of(Habit.REST_AND_PUSH, Habit.DISARM)


def hands_disarm(points: "Points") -> Flags:
    """(lanes,): where the operator switches the arm switch off after the onset."""
    switches = _ARMS_AGAIN | _DISARMS
    return switches[points.habit] & bool(points.arm_channels)


def hands_rest(points: "Points") -> Flags:
    """(lanes,): where the operator brings the robot to rest and leaves it there for long."""
    return _RESTS[points.habit]


@dataclass(frozen=True)
class Timing:
    """The clock of a scenario, in ticks."""

    ticks: int
    """How long it lasts."""
    frame: int
    earliest: int
    """The first tick in which a fault may set in; within one frame and some from there."""
    spread: int
    let_go: int
    """From the onset until the operator lets go of the sticks, where the habit says so."""
    push_again: int


def timing_of(plan: Plan, seconds: float, frame: int) -> Timing:
    """So many seconds, or as much longer as this plan's own times need; `frame` in ticks."""
    ms, hold = plan.tick_ms, plan.guard.hold_ticks
    earliest = max(300 // ms // frame, 2) * frame
    let_go = (loss_ms(plan) + 60) // ms
    push_again = let_go + 160 // ms + 4 * frame + hold
    needed = earliest + 10 * frame + push_again + 500 // ms
    return Timing(max(round(seconds * 1000 / ms), needed), frame, earliest, 10 * frame, let_go, push_again)


@dataclass
class Points:
    """The operating points of some lanes; arrays are (lanes,) or (channels, lanes)."""

    seed: Seeds
    prefix: Ints
    """Which of the prefixes each begins with."""
    habit: Ints
    onset: Ints
    rest: Ints
    """(channels, lanes): pulses with sticks at neutral, armed."""
    pushed: Ints
    away: Ints
    """(channels, lanes): pushed the other way."""
    off: Ints
    """(channels, lanes): as `rest`, not armed."""
    contacts: Ints
    """(contacts, lanes): what is read while no actuator is at an end."""
    position: Positions
    """(actuators, lanes): where each begins, as a share of its travel."""
    way: Ints
    """(actuators, lanes): how far it has been driven one way already."""
    arm_channels: tuple[int, ...] = field(default=())


def points_for(
    plan: Plan, fault: Fault, ways: tuple[Prefix, ...], timing: Timing, seed: int, lanes: range
) -> Points:
    """The operating points of a fault's scenarios with these numbers."""
    numbers = np.arange(lanes.start, lanes.stop, dtype=np.uint32)
    mixed = np.uint32((seed * 0x9E3779B1 + digest(fault.key)) & 0xFFFFFFFF)
    seeds = hashed(numbers + mixed, 0, 1)
    prefix = _prefix(fault, ways, seeds, numbers)
    flipped = np.array([way.flipped for way in ways], np.int32)[prefix]
    rest = _table(plan, flipped, resting_pulses(plan, armed=True))
    off = _table(plan, flipped, resting_pulses(plan, armed=False))
    pushed, away = _push(plan, rest, seeds), rest.copy()
    for stick in plan.sticks:
        mirrored = 2 * stick.centre_us - pushed[stick.channel]
        wire = plan.channels[stick.channel]
        away[stick.channel] = np.clip(mirrored, wire.good_low_us, wire.good_high_us)
    count = len(plan.channels)
    position, way = _actuators(plan, seeds)
    return Points(
        seed=seeds,
        prefix=prefix,
        habit=(numbers % np.uint32(len(Habit))).astype(np.int32),
        onset=timing.earliest + below(seeds, 0, 2, timing.spread),
        rest=rest[:count],
        pushed=pushed[:count],
        away=away[:count],
        off=off[:count],
        contacts=rest[count:],
        position=position,
        way=way,
        arm_channels=_arm_channels(plan),
    )


def _prefix(fault: Fault, ways: tuple[Prefix, ...], seeds: Seeds, numbers: Seeds) -> Ints:
    """Live in three of four rounds of habits; otherwise each of the other states in turn.

    A round is one lane of each habit, so that every habit meets every state: each pair once in four rounds
    for every state that is not live.
    """
    live = np.array([k for k, way in enumerate(ways) if way.guard == Guard.LIVE], np.int32)
    others = np.array([k for k, way in enumerate(ways) if way.guard != Guard.LIVE], np.int32)
    fresh = np.array([k for k, way in enumerate(ways) if way.guard == Guard.SEARCHING], np.int32)
    if fault.from_power_up:
        return fresh[below(seeds, 0, 3, len(fresh))]
    rounds = numbers // np.uint32(len(Habit))
    in_turn = others[(rounds // 4) % len(others)]
    return np.where(rounds % 4 < 3, live[below(seeds, 0, 3, len(live))], in_turn).astype(np.int32)


def pairs_covered(plan: Plan, each: int) -> str:
    """In words, which pairs of habit and state so many scenarios of a fault go through."""
    habits, flips = len(Habit), 1 if plan.flip is None else 2
    faulted = any(
        item.stops_robot and item.out_stop is not None and item.in_stop is not None
        for item in plan.actuators
    )
    others = flips * (4 if faulted else 3)
    met = min(each // (4 * habits), others)
    return f"every habit with live and {met} of {others} other states under every fault"


def _table(plan: Plan, flipped: Ints, pulses: list[int]) -> Ints:
    """(inputs, lanes): the inputs that belong to each lane's side up."""
    columns = [flip_input(plan, side, pulses, contact_levels(plan)) for side in (0, 1)]
    return np.array(columns, np.int32).T[:, flipped]


def _push(plan: Plan, rest: Ints, seeds: Seeds) -> Ints:
    """Sticks anywhere, one in three lanes with a single stick only; free switches in any position."""
    pushed = rest.copy()
    single = below(seeds, 0, 4, 3) == 0
    chosen = below(seeds, 0, 5, max(len(plan.sticks), 1))
    for number, stick in enumerate(plan.sticks):
        levels = np.array([stick_pulse(plan, stick, share) for share in SHARES], np.int32)
        level = levels[below(seeds, 0, 16 + number, len(SHARES))]
        moves = ~single | (chosen == number)
        pushed[stick.channel] = np.where(moves, level, rest[stick.channel])
    for number, switch in enumerate(plan.switches):
        told_by = None if plan.flip is None else plan.flip.told_by
        flips = isinstance(told_by, SwitchPosition) and told_by.switch == number
        if number != plan.guard.arm_switch and not flips:
            positions = range(len(switch.edges_us) + 1)
            levels = np.array([position_pulse(plan, switch, position) for position in positions], np.int32)
            pushed[switch.channel] = levels[below(seeds, 0, 48 + number, len(levels))]
    return pushed


def _actuators(plan: Plan, seeds: Seeds) -> tuple[Positions, Ints]:
    places = np.array([0.0, 0.02, 0.3, 0.7, 0.98, 1.0])
    position = np.zeros((len(plan.actuators), len(seeds)))
    way = np.zeros((len(plan.actuators), len(seeds)), np.int32)
    for number, actuator in enumerate(plan.actuators):
        position[number] = places[below(seeds, 0, 80 + number, len(places))]
        if actuator.travel_limit:
            near = np.maximum(actuator.travel_limit - ONE * below(seeds, 0, 96 + number, 500), 0)
            sign = below(seeds, 0, 112 + number, 3) - 1
            way[number] = sign * near
    return position, way


def _arm_channels(plan: Plan) -> tuple[int, ...]:
    arm = plan.guard.arm
    return () if arm is None else (plan.switches[arm.switch].channel,)


def clean_level(points: Points, timing: Timing, since: Ints) -> Ints:
    """(channels, lanes): the pulses the operator asks for, `since` ticks after the onset."""
    habit = points.habit
    lets_go: Flags = _LETS_GO[habit] & (since >= timing.let_go) & (since < timing.push_again)
    to_and_fro = _WIGGLES[habit] & (since // (8 * timing.frame) % 2 == 1)
    level = np.where(to_and_fro, points.away, points.pushed)
    level = np.where(lets_go, points.rest, level)
    moment = (since >= timing.let_go) & (since < timing.let_go + 4 * timing.frame)
    disarms = moment & _ARMS_AGAIN[habit]
    disarms |= _DISARMS[habit] & (since >= timing.let_go // 4)
    for channel in points.arm_channels:
        level[channel] = np.where(disarms, points.off[channel], level[channel])
    return level
