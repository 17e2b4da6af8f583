"""Random valid plans: every feature of `mixer.core.plan`, every invariant written under its fields.

Each plan made here can be brought to life: every stick has a pulse that is neutral, and every switch
a pulse for each of its positions.
"""

import random
from dataclasses import dataclass

from mixer.core import intake
from mixer.core.ops import ONE
from mixer.core.plan import (
    ActuatorPlan,
    ChannelPlan,
    ContactPlan,
    FlipPlan,
    GroupPlan,
    GuardPlan,
    OutputPlan,
    OverRange,
    Plan,
    ShapePlan,
    StickPlan,
    SwitchPlan,
    SwitchPosition,
    Wire,
)
from tests.dice import Dice, SeededDice


@dataclass(frozen=True, slots=True)
class Size:
    """The most a random plan may have of each part."""

    sticks: int = 6
    switches: int = 4
    spare_channels: int = 2
    outputs: int = 12
    actuators: int = 4
    ticks: int = 20
    """The longest of most time constants, in ticks."""


FULL_SIZE = Size(sticks=10, switches=5, spare_channels=1, outputs=24, actuators=8)
"""As large as plans get: 16 channels, 24 outputs, 8 actuators."""

SMALL_SIZE = Size(sticks=4, switches=3, spare_channels=1, outputs=5, actuators=2, ticks=8)
"""Small enough for hypothesis to draw and shrink quickly."""


def random_plan(rng: random.Random, size: Size | None = None) -> Plan:
    """A random valid plan; equal generators give equal plans."""
    return make_plan(SeededDice(rng), size or Size())


def make_plan(dice: Dice, size: Size) -> Plan:
    """A random valid plan, every choice of it asked from `dice`."""
    stick_count = dice.integer(1, size.sticks)
    switches = tuple(
        make_switch(dice, number, stick_count + number) for number in range(dice.integer(0, size.switches))
    )
    sticks = tuple(make_stick(dice, number, switches) for number in range(stick_count))
    channel_count = stick_count + len(switches) + dice.integer(0, size.spare_channels)
    channels = tuple(make_channel(dice, number) for number in range(channel_count))
    mixed = tuple(number for number in range(len(switches)) if dice.chance(30))
    guard = make_guard(dice, sticks, switches, mixed, size)
    outputs = tuple(
        make_output(dice, number, stick_count + len(mixed), size)
        for number in range(dice.integer(1, size.outputs))
    )
    contacts, actuators = make_actuators(dice, len(outputs), size)
    flip, contacts = make_flip(dice, switches, contacts, size)
    return Plan(
        name=f"robot {dice.integer(0, 999)}",
        tick_ms=dice.pick((1, 2, 4, 5, 10, 20)),
        channels=channels,
        sticks=sticks,
        switches=switches,
        mixed_switches=mixed,
        contacts=contacts,
        flip=flip,
        groups=make_groups(dice, len(outputs), stick_count + len(mixed)),
        outputs=outputs,
        actuators=actuators,
        guard=guard,
    )


def make_channel(dice: Dice, number: int) -> ChannelPlan:
    """A channel whose good range holds every pulse the sticks and switches made here ask for."""
    return ChannelPlan(
        name=f"wire{number}",
        good_low_us=dice.integer(1, 900),
        good_high_us=dice.integer(2100, 4000),
        rest_us=dice.integer(1000, 2000),
        median=dice.chance(30),
    )


def make_shape(dice: Dice) -> ShapePlan:
    """Deadband, expo and rate over their whole ranges, each often switched off."""
    band = 0 if dice.chance(30) else dice.integer(0, ONE - 1 if dice.chance(10) else ONE // 4)
    return ShapePlan(
        band=band,
        gain=rounded_ratio(ONE - band),
        expo=0 if dice.chance(30) else dice.integer(-ONE // 2, ONE),
        rate=ONE if dice.chance(30) else dice.integer(1, ONE),
    )


def rounded_ratio(span: int) -> int:
    """round(ONE² / span), 0 for 0. Exact: 2 ONE² / span is never odd, so no ties."""
    return (2 * ONE * ONE + span) // (2 * span) if span else 0


def make_stick(dice: Dice, number: int, switches: tuple[SwitchPlan, ...]) -> StickPlan:
    """A stick with equal or unequal spans, or one side only; one shape, or one for each position."""
    low_span, high_span = dice.pick(
        (
            (500, 500),
            (dice.integer(1, 600),) * 2,
            (dice.integer(1, 600), dice.integer(1, 600)),
            (0, dice.integer(1, 600)),
            (dice.integer(1, 600), 0),
        )
    )
    chooser = dice.integer(0, len(switches) - 1) if switches and dice.chance(40) else None
    shape_count = 1 if chooser is None else len(switches[chooser].edges_us) + 1
    return StickPlan(
        name=f"stick{number}",
        channel=number,
        centre_us=1500 if dice.chance(50) else dice.integer(1400, 1600),
        low_span_us=low_span,
        high_span_us=high_span,
        low_gain=rounded_ratio(low_span),
        high_gain=rounded_ratio(high_span),
        reverse=dice.chance(40),
        trim=dice.integer(-ONE // 8, ONE // 8) if dice.chance(30) else 0,
        shapes=tuple(make_shape(dice) for _ in range(shape_count)),
        chooser=chooser,
        flips=dice.chance(40),
    )


def make_switch(dice: Dice, number: int, channel: int) -> SwitchPlan:
    """A switch of two or three positions whose hysteresis bands do not meet."""
    edges = dice.pick(
        ((1500,), (dice.integer(1300, 1700),), (1300, 1700), (dice.integer(1200, 1400), 1650))
    )
    return SwitchPlan(
        name=f"switch{number}",
        channel=channel,
        edges_us=edges,
        hysteresis_us=dice.integer(0, 100),
        reverse=dice.chance(40),
        position_names=("low", "middle", "high") if len(edges) == 2 else ("off", "on"),
    )


def make_guard(
    dice: Dice,
    sticks: tuple[StickPlan, ...],
    switches: tuple[SwitchPlan, ...],
    mixed: tuple[int, ...],
    size: Size,
) -> GuardPlan:
    """A guard the robot can get past: neutral is wide enough for every stick's best pulse."""
    arm = None
    if switches and dice.chance(75):
        switch = dice.integer(0, len(switches) - 1)
        last = len(switches[switch].edges_us)
        position = dice.integer(0, last)
        arm = SwitchPosition(switch, last - 1 if switch in mixed else position)
    reachable = max(least_command(stick) for stick in sticks)
    return GuardPlan(
        lost_ticks=dice.integer(1, size.ticks),
        hold_ticks=dice.integer(1, size.ticks),
        neutral_within=min(ONE, reachable + dice.integer(0, ONE // 8)),
        arm=arm,
        resumes=dice.chance(40),
        ramps=dice.chance(40),
        off_ticks=dice.integer(1, size.ticks),
    )


def least_command(stick: StickPlan) -> int:
    """The smallest magnitude of command that some pulse from 900 to 2100 µs gives."""
    return min(abs(intake.scale(stick, pulse)) for pulse in range(900, 2101))


def make_output(dice: Dice, number: int, sources: int, size: Size) -> OutputPlan:
    """An output with a pulse or a duty wire and with or without slew, breakaway and pause."""
    wire = dice.pick((Wire.PULSE, Wire.DUTY))
    span = dice.pick((500, 255, 1000, dice.integer(0, 16383)))
    equal = wire is Wire.DUTY or dice.chance(70)
    return OutputPlan(
        name=f"motor{number}",
        weights=make_weights(dice, sources),
        gain=ONE if dice.chance(50) else dice.integer(1, 2 * ONE),
        limit=ONE if dice.chance(50) else dice.integer(1, ONE),
        breakaway=dice.integer(0, ONE - 1 if dice.chance(10) else ONE // 4) if dice.chance(40) else 0,
        up_step=ONE if dice.chance(40) else dice.integer(1, ONE),
        down_step=ONE if dice.chance(40) else dice.integer(1, ONE),
        pause_ticks=dice.integer(1, size.ticks) if dice.chance(40) else 0,
        wire=wire,
        reverse=dice.chance(40),
        rest=dice.integer(1000, 2000) if wire is Wire.PULSE else 0,
        low_span=span,
        high_span=span if equal else dice.integer(0, 1000),
        brake=wire is Wire.DUTY and dice.chance(50),
    )


def make_weights(dice: Dice, sources: int) -> tuple[int, ...]:
    """One weight for each source, each within ±2 ONE, in sum no more than 4 ONE."""
    left = 4 * ONE
    weights = []
    for _ in range(sources):
        most = min(left, 2 * ONE)
        weight = dice.pick((0, min(ONE, most), -min(ONE, most), dice.integer(-most, most)))
        left -= abs(weight)
        weights.append(weight)
    return tuple(weights)


def make_groups(dice: Dice, outputs: int, sources: int) -> tuple[GroupPlan, ...]:
    """Disjoint groups of one or more outputs; some outputs stay alone."""
    groups: list[GroupPlan] = []
    first = 0
    while first < outputs and dice.chance(80):
        count = dice.integer(1, outputs - first)
        policy = dice.pick(tuple(OverRange))
        groups.append(
            GroupPlan(
                name=f"group{len(groups)}",
                outputs=tuple(range(first, first + count)),
                policy=policy,
                yielding=dice.integer(0, sources - 1) if policy is OverRange.YIELD else None,
            )
        )
        first += count + dice.integer(0, 1)
    return tuple(groups)


def make_actuators(
    dice: Dice, outputs: int, size: Size
) -> tuple[tuple[ContactPlan, ...], tuple[ActuatorPlan, ...]]:
    """Actuators on outputs of their own, each with both, one or no stops, and the stops' contacts."""
    contacts: list[ContactPlan] = []
    actuators = []
    for number in range(dice.integer(0, min(size.actuators, outputs))):
        stops: list[int | None] = []
        for end in ("out", "in"):
            stops.append(len(contacts) if dice.chance(80) else None)
            if stops[-1] is not None:
                contacts.append(make_contact(dice, f"{end}{number}", size))
        actuators.append(
            ActuatorPlan(
                name=f"lift{number}",
                output=outputs - 1 - number,
                out_stop=stops[0],
                in_stop=stops[1],
                both_ticks=dice.integer(1, size.ticks),
                travel_limit=dice.integer(1, 4 * size.ticks) * ONE // 2 if dice.chance(60) else None,
                stops_robot=dice.chance(40),
            )
        )
    return tuple(contacts), tuple(actuators)


def make_contact(dice: Dice, name: str, size: Size) -> ContactPlan:
    """A contact of either polarity."""
    return ContactPlan(name, dice.integer(0, 1), dice.integer(0, size.ticks // 2))


def make_flip(
    dice: Dice, switches: tuple[SwitchPlan, ...], contacts: tuple[ContactPlan, ...], size: Size
) -> tuple[FlipPlan | None, tuple[ContactPlan, ...]]:
    """No flip, or one that a switch or a contact of its own tells."""
    settle = dice.integer(1, size.ticks // 2)
    if switches and dice.chance(30):
        switch = dice.integer(0, len(switches) - 1)
        position = dice.integer(0, len(switches[switch].edges_us))
        return FlipPlan(SwitchPosition(switch, position), settle), contacts
    if dice.chance(40):
        sensor = make_contact(dice, "rolled", size)
        return FlipPlan(len(contacts), settle), (*contacts, sensor)
    return None, contacts
