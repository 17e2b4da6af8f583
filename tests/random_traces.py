"""Random inputs over time for a plan: driving as people do it, and inputs as nobody wishes them.

A trace is a list of rows; a row holds a pulse in µs for each channel (0 = none came), then a reading
for each contact. A trace is made of segments, so that hypothesis can drop some; the noise inside a
segment comes from a seeded generator.
"""

import random
from collections.abc import Callable, Iterator
from functools import lru_cache
from typing import TypeAlias

from mixer.core import intake
from mixer.core.layout import layout_of
from mixer.core.plan import ChannelPlan, Plan, StickPlan, SwitchPlan
from mixer.core.tick import FlatTick, flat_tick
from tests.dice import Dice, SeededDice

Row: TypeAlias = tuple[int, ...]
Trace: TypeAlias = list[Row]
Segment: TypeAlias = Callable[[random.Random, Plan, int], Trace]


def run_core(plan: Plan, trace: Trace, state: list[int] | None = None) -> Iterator[FlatTick]:
    """The reference firmware over a trace, from power-up unless a state is given."""
    now = list(layout_of(plan).start if state is None else state)
    for row in trace:
        after = flat_tick(plan, row, now)
        now = after.state
        yield after


def frame_ticks(plan: Plan) -> int:
    """Ticks from one receiver frame to the next: 20 ms, or less where the plan would call that a loss."""
    return max(1, min(20 // plan.tick_ms, plan.guard.lost_ticks))


@lru_cache(maxsize=512)
def neutral_pulse(stick: StickPlan, channel: ChannelPlan) -> int:
    """The good pulse that comes nearest to no command."""
    good = range(max(900, channel.good_low_us), min(2100, channel.good_high_us) + 1)
    return min(good, key=lambda pulse: (abs(intake.scale(stick, pulse)), abs(pulse - stick.centre_us)))


@lru_cache(maxsize=512)
def position_pulse(switch: SwitchPlan, position: int) -> int:
    """A pulse that brings the switch to a position from every other one."""
    everywhere = range(len(switch.edges_us) + 1)
    for pulse in range(900, 2101, 5):
        if all(intake.position_of(switch, pulse, before) == position for before in everywhere):
            return pulse
    raise AssertionError(f"{switch} has no pulse for position {position}")


def neutral_row(plan: Plan, armed: bool) -> Row:
    """Sticks and mixed switches at neutral, the arm switch on or off, no contact closed."""
    pulses = [min(max(1500, channel.good_low_us), channel.good_high_us) for channel in plan.channels]
    for stick in plan.sticks:
        pulses[stick.channel] = neutral_pulse(stick, plan.channels[stick.channel])
    for number, switch in enumerate(plan.switches):
        resting = len(switch.edges_us) - 1 if number in plan.mixed_switches else 0
        if plan.guard.arm is not None and number == plan.guard.arm.switch:
            on = plan.guard.arm.position
            resting = on if armed else (on + 1) % (len(switch.edges_us) + 1)
        pulses[switch.channel] = position_pulse(switch, resting)
    return (*pulses, *open_contacts(plan))


def open_contacts(plan: Plan) -> Row:
    """Readings with every contact open."""
    return tuple(1 - contact.closed_reads for contact in plan.contacts)


def framed(plan: Plan, rows: Trace) -> Trace:
    """The rows as the board meets them: pulses once a frame, nothing on the ticks between."""
    period = frame_ticks(plan)
    gap = (0,) * len(plan.channels)
    return [
        row if number % period == 0 else gap + row[len(plan.channels) :] for number, row in enumerate(rows)
    ]


def arming(plan: Plan) -> Trace:
    """The shortest trace that surely ends live: arm seen off, then on, with everything at neutral."""
    frames = 3 * frame_ticks(plan)
    settle = plan.flip.settle_ticks if plan.flip else 0
    release = max((contact.release_ticks for contact in plan.contacts), default=0)
    off = [neutral_row(plan, armed=False)] * (frames + release + plan.guard.off_ticks)
    on = [neutral_row(plan, armed=True)] * (frames + settle + plan.guard.hold_ticks + 1)
    return framed(plan, off + on)


def driving(rng: random.Random, plan: Plan, ticks: int) -> Trace:
    """At least `ticks` of plausible driving that begins with arming."""
    return make_trace(SeededDice(rng), plan, ticks, arms=True, kinds=PLAUSIBLE)


def adversarial(rng: random.Random, plan: Plan, ticks: int) -> Trace:
    """At least `ticks` of inputs of every kind, after arming in half of the traces."""
    return make_trace(SeededDice(rng), plan, ticks, arms=rng.random() < 0.5, kinds=PLAUSIBLE + HOSTILE)


def make_trace(dice: Dice, plan: Plan, ticks: int, *, arms: bool, kinds: tuple[Segment, ...]) -> Trace:
    """Segments of the given kinds until the trace has so many ticks."""
    trace = arming(plan) if arms else []
    while len(trace) < ticks:
        segment = dice.pick(kinds)
        rng = random.Random(dice.integer(0, 2**32 - 1))
        trace += segment(rng, plan, dice.integer(1, 60))
    return trace


def _sticks_at(plan: Plan, row: Row, pulses: list[int]) -> Row:
    wires = list(row)
    for stick, pulse in zip(plan.sticks, pulses, strict=True):
        channel = plan.channels[stick.channel]
        wires[stick.channel] = min(max(pulse, channel.good_low_us), channel.good_high_us)
    return tuple(wires)


def held_sticks(rng: random.Random, plan: Plan, ticks: int) -> Trace:
    """Every stick held somewhere, with a few µs of jitter."""
    places = [rng.choice((rng.randint(900, 2100), 1000, 1500, 2000)) for _ in plan.sticks]
    row = neutral_row(plan, armed=True)
    return framed(
        plan,
        [_sticks_at(plan, row, [place + rng.randint(-2, 2) for place in places]) for _ in range(ticks)],
    )


def full_reversals(rng: random.Random, plan: Plan, ticks: int) -> Trace:
    """Every stick thrown from end to end."""
    row = neutral_row(plan, armed=True)
    period = rng.randint(1, 20)
    ends = (900, 2100)
    rows = [
        _sticks_at(plan, row, [ends[number // period % 2]] * len(plan.sticks)) for number in range(ticks)
    ]
    return framed(plan, rows)


def switching(rng: random.Random, plan: Plan, ticks: int) -> Trace:
    """Held sticks while switches other than the arm switch change and end stops are met."""
    rows = []
    moved = neutral_row(plan, armed=True)
    sticks = [rng.randint(900, 2100) for _ in plan.sticks]
    for _ in range(ticks):
        wires = list(moved)
        if rng.random() < 0.2:
            for number, switch in enumerate(plan.switches):
                if number != plan.guard.arm_switch:
                    wires[switch.channel] = position_pulse(switch, rng.randint(0, len(switch.edges_us)))
            if plan.contacts:
                wires[len(plan.channels) + rng.randrange(len(plan.contacts))] ^= 1
        moved = tuple(wires)
        rows.append(_sticks_at(plan, moved, sticks))
    return framed(plan, rows)


def short_gap(rng: random.Random, plan: Plan, ticks: int) -> Trace:
    """Driving with frames missing, never long enough to count as a loss."""
    trace = held_sticks(rng, plan, ticks)
    gap = (0,) * len(plan.channels)
    period = frame_ticks(plan)
    last = 0
    for number in range(period, ticks, period):
        following = min(number + period, ticks)
        if following - last <= plan.guard.lost_ticks and rng.random() < 0.7:
            trace[number] = gap + trace[number][len(plan.channels) :]
        else:
            last = number
    return trace


def loss_and_return(rng: random.Random, plan: Plan, ticks: int) -> Trace:
    """Some or all channels gone for longer than the plan bridges, then armed again."""
    lost = set(rng.sample(range(len(plan.channels)), rng.randint(1, len(plan.channels))))
    kept = held_sticks(rng, plan, plan.guard.lost_ticks + ticks)
    wires = len(plan.channels)
    gone = [
        tuple(0 if number in lost else value for number, value in enumerate(row[:wires])) for row in kept
    ]
    return [pulses + row[wires:] for pulses, row in zip(gone, kept, strict=True)] + arming(plan)


def extreme_pulses(rng: random.Random, plan: Plan, ticks: int) -> Trace:
    """Pulses at and just beyond every mark a plan has, and far out."""
    marks = [0, 1, 4000, 65535]
    for channel in plan.channels:
        marks += [
            channel.good_low_us,
            channel.good_low_us - 1,
            channel.good_high_us,
            channel.good_high_us + 1,
        ]
    for stick in plan.sticks:
        marks += [
            stick.centre_us,
            stick.centre_us - stick.low_span_us,
            stick.centre_us + stick.high_span_us,
        ]
    for switch in plan.switches:
        for edge in switch.edges_us:
            marks += [edge + sign * switch.hysteresis_us + step for sign in (-1, 1) for step in (-1, 0)]
    return [
        (*(rng.choice(marks) for _ in plan.channels), *(rng.randint(0, 1) for _ in plan.contacts))
        for _ in range(ticks)
    ]


def bouncing_contacts(rng: random.Random, plan: Plan, ticks: int) -> Trace:
    """Contacts that chatter on every tick while the robot is driven."""
    wires = len(plan.channels)
    return [
        row[:wires] + tuple(rng.randint(0, 1) for _ in plan.contacts)
        for row in held_sticks(rng, plan, ticks)
    ]


def closed_contacts(rng: random.Random, plan: Plan, ticks: int) -> Trace:
    """Some contacts closed and staying closed, both stops of an actuator among them at times."""
    wires = len(plan.channels)
    closed = tuple(
        contact.closed_reads if rng.random() < 0.7 else 1 - contact.closed_reads
        for contact in plan.contacts
    )
    return [row[:wires] + closed for row in held_sticks(rng, plan, ticks)]


def flickering_arm(rng: random.Random, plan: Plan, ticks: int) -> Trace:
    """The arm switch thrown at random, sticks at neutral or anywhere."""
    sticks = [rng.randint(900, 2100) for _ in plan.sticks]
    rows = []
    for _ in range(ticks):
        row = neutral_row(plan, armed=rng.random() < 0.7)
        rows.append(row if rng.random() < 0.7 else _sticks_at(plan, row, sticks))
    return framed(plan, rows)


def noise(rng: random.Random, plan: Plan, ticks: int) -> Trace:
    """Anything a 16-bit timer may read."""
    return [
        (*(rng.randint(0, rng.choice((2200, 65535))) for _ in plan.channels),
         *(rng.randint(0, 1) for _ in plan.contacts))
        for _ in range(ticks)
    ]  # fmt: skip


PLAUSIBLE: tuple[Segment, ...] = (held_sticks, full_reversals, switching, short_gap)
HOSTILE: tuple[Segment, ...] = (
    loss_and_return,
    extreme_pulses,
    bouncing_contacts,
    closed_contacts,
    flickering_arm,
    noise,
)
