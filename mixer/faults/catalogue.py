"""Every fault that can happen to one robot, with its parameters filled in from the plan."""

from collections.abc import Iterator
from itertools import combinations

from mixer.core.plan import Plan
from mixer.core.rest import resting_pulses
from mixer.faults import power, radio, stops
from mixer.faults.fault import Fault
from mixer.faults.pulses import stick_pulse
from mixer.laws.creep import neutral_is_rest
from mixer.laws.expect import rest_ms
from mixer.plant.parts.damage import Damage, Harm

REHEARSE = (
    "Find out with `rehearse` what this receiver does when the radio goes, and set it to send no pulses."
)
HICCUP_MS = 50
"""How long a single tick takes that takes far too long."""
LAZY_WATCHDOG_MS = 1000
"""What a watchdog may wait on a board that is none of ours."""
WIRING = "Check the channel map and directions by hand, wheels off the ground, before every event."


def catalogue(plan: Plan) -> tuple[Fault, ...]:
    """All faults for this plan, in a fixed order; every key is there once."""
    return (
        Fault("none", "Nothing goes wrong."),
        *_losses(plan),
        *_presets(plan),
        *_levels(plan),
        *_frozen(plan),
        *_strangers(),
        *_noise(plan),
        *_pace(),
        *_plugs(plan),
        *_power(plan),
        *_clock(plan),
        *_contacts(plan),
        *_mechanics(plan),
        *_untold(),
    )


def _losses(plan: Plan) -> Iterator[Fault]:
    yield radio.AllLost("all-lost", "The radio goes: every channel falls silent.", radio_gone=True)
    for number, channel in enumerate(plan.channels):
        words = f"The wire of {channel.name} comes off."
        yield radio.ChannelLost(f"channel-lost.{channel.name}", words, radio_gone=True, channel=number)
    yield radio.Repeats(
        "repeats-last",
        "The radio goes and the receiver repeats its last frame for ever.",
        REHEARSE,
        radio_gone=True,
        unseen=True,
    )


def _presets(plan: Plan) -> Iterator[Fault]:
    rest = resting_pulses(plan, armed=True)
    pushed = list(rest)
    for stick in plan.sticks:
        pushed[stick.channel] = stick_pulse(plan, stick, 0.75)
    off, creeping = resting_pulses(plan, armed=False), not neutral_is_rest(plan)
    below = [channel.good_low_us - 1 for channel in plan.channels]
    cases = (
        ("neutral", "sends sticks at neutral", rest, creeping),
        ("off", "sends sticks at neutral and the arm switch off", off, plan.guard.arm is None and creeping),
        ("pushed", "sends preset pulses with the sticks pushed", pushed, True),
        ("invalid", "sends pulses below the valid range", below, False),
    )
    for key, words, levels, unseen in cases:
        yield radio.Presets(
            f"preset.{key}",
            f"The radio goes and the receiver {words}.",
            REHEARSE if unseen else "",
            radio_gone=True,
            unseen=unseen,
            grace_ticks=0
            if key == "invalid"
            else 3 * plan.guard.lost_ticks + rest_ms(plan) // plan.tick_ms,
            levels=tuple(levels),
        )


def _levels(plan: Plan) -> Iterator[Fault]:
    for number, channel in enumerate(plan.channels):
        cases = (
            (
                "too-short",
                "pulses far too short",
                min(max(channel.good_low_us // 3, 1), channel.good_low_us - 1),
                True,
            ),
            ("too-long", "pulses far too long", min(channel.good_high_us * 2, 8000), True),
            ("just-below", "pulses just below what is valid", channel.good_low_us - 1, True),
            ("just-above", "pulses just above what is valid", channel.good_high_us + 1, True),
            ("lowest", "the shortest valid pulse", channel.good_low_us, False),
            ("highest", "the longest valid pulse", channel.good_high_us, False),
        )
        for key, words, level, gone in cases:
            yield radio.OneLevel(
                f"{key}.{channel.name}",
                f"{channel.name} {'brings' if gone else 'stands at'} {words}.",
                "" if gone else stuck_advice(plan, number),
                radio_gone=gone,
                unseen=not gone,
                channel=number,
                level=level,
            )


def stuck_advice(plan: Plan, number: int) -> str:
    """What a builder can do about a channel that stands still and looks like a hand."""
    arm = plan.guard.arm
    if arm is None:
        return "There is no arm switch: switch the transmitter off; if it drives on, unplug the battery."
    if plan.switches[arm.switch].channel == number:
        return (
            "Disarming does not work then: switch the transmitter off; if it drives on, unplug the battery."
        )
    return (
        "It drives on as that pulse says: switch the arm switch off, and know where it is without looking."
    )


def _frozen(plan: Plan) -> Iterator[Fault]:
    for number, channel in enumerate(plan.channels):
        yield radio.Frozen(
            f"frozen.{channel.name}",
            f"{channel.name} freezes at any place.",
            stuck_advice(plan, number),
            unseen=True,
            channel=number,
        )


def _strangers() -> Iterator[Fault]:
    """Pulses that are as good as any and not this operator's."""
    yield radio.Foreign(
        "foreign",
        "Another transmitter is heard, or this receiver is bound to one.",
        "Before arming switch your own transmitter off: a robot that has signal still hears another.",
        unseen=True,
    )
    yield radio.TwoReceivers(
        "two-receivers",
        "A second receiver on the same wires goes on saying what the sticks said before.",
        "One receiver a robot; take a spare one off its wires, not only off its aerial.",
        radio_gone=False,
        unseen=True,
    )


def _noise(plan: Plan) -> Iterator[Fault]:
    for percent in (2, 10, 40):
        words = f"{percent} % of the pulses are spikes of any length."
        yield radio.Spikes(f"spikes.{percent}", words, share=percent / 100)
    for ms in (60, 400):
        ticks = max(ms // plan.tick_ms, 1)
        yield radio.Burst(f"burst.{ms}", f"Noise for {ms} ms at a time.", any_tick=True, ticks=ticks)


def _pace() -> Iterator[Fault]:
    for factor in (2, 5, 25):
        yield radio.Slow(f"slow.{factor}", f"Only every {factor}. frame arrives.", factor=factor)
    yield radio.Jitter("jitter", "Frames come up to half a frame late.", any_tick=True)
    yield radio.Faster("faster.4", "Frames come four times as often.", any_tick=True, factor=4)
    yield radio.Doubled("doubled", "Every frame comes twice.", any_tick=True)
    for period in (4, 20, 60):
        for percent in (10, 30, 50, 70, 90):
            yield radio.Intermittent(
                f"intermittent.{period}.{percent}",
                f"Of every {period} frames {percent} % are missing in a row.",
                period_frames=period,
                share=percent / 100,
            )
    for percent in (30, 90):
        words = f"Each channel misses {percent} % of its pulses by chance."
        yield radio.Flicker(f"flicker.{percent}", words, share=percent / 100)


def _plugs(plan: Plan) -> Iterator[Fault]:
    for first, second in combinations(range(len(plan.channels)), 2):
        names = plan.channels[first].name, plan.channels[second].name
        words = f"{names[0]} and {names[1]} are plugged the wrong way round."
        yield radio.Swapped(
            f"swapped.{names[0]}.{names[1]}", words, WIRING, unseen=True, first=first, second=second
        )
    for stick in plan.sticks:
        words = f"{stick.name} is reversed on the radio."
        yield radio.Mirrored(f"reversed.{stick.name}", words, WIRING, unseen=True, channel=stick.channel)


def _power(plan: Plan) -> Iterator[Fault]:
    waits = _waits(plan)
    yield power.PowerUp("power-up", "Switched on with arm on and sticks pushed.", from_power_up=True)
    yield power.Reset("reset", "The board starts anew while it drives.", restarts=waits)
    for ms in (40, 200, 700):
        ticks = max(ms // plan.tick_ms, 1)
        yield power.ResetLoop(
            f"reset-loop.{ms}",
            f"The board starts anew every {ms} ms.",
            restarts=waits,
            period_ticks=ticks,
        )
    for percent in (30, 60):
        words = f"The battery sags and the board starts anew above {percent} % load."
        yield power.SagReset(f"sag-reset.{percent}", words, share=percent / 100)


def _waits(plan: Plan) -> bool:
    """Whether a board that starts anew is at rest then: one that arms by itself may be live at once."""
    return plan.guard.hold_ticks > 1


def _clock(plan: Plan) -> Iterator[Fault]:
    """The board's time: slow, hanging, or too short for all there is to do."""
    for percent, words in ((-10, "10 % slow"), (10, "10 % fast")):
        yield power.WrongClock(
            f"{words.rpartition(' ')[2]}-clock.10",
            f"The board's clock runs {words}: times and pulses alike.",
            "Time the board by a crystal, which keeps to 0.01 %, and watch the pulses it measures.",
            unseen=True,
            any_tick=True,
            mismeasures=True,
            slows=1 / min(1 + percent / 100, 1),
            percent=percent,
        )
    yield from _hangs(plan)
    yield from _overruns(plan)


def _hangs(plan: Plan) -> Iterator[Fault]:
    """The mix sees nothing of a hang. A watchdog ends it: an exported firmware has one, others may not."""
    ours, long = power.watchdog_ticks(plan.tick_ms), max(LAZY_WATCHDOG_MS // plan.tick_ms, 1)
    yield power.Hang(
        f"hang.{power.WATCHDOG_MS}",
        "The firmware hangs; the watchdog of `export --board` starts it anew in "
        f"{ours * plan.tick_ms} ms at most.",
        restarts=_waits(plan),
        restart_ticks=ours,
        ticks=ours,
    )
    yield power.Hang(
        f"hang.{LAZY_WATCHDOG_MS}",
        f"The firmware hangs on a board of your own, whose watchdog waits {LAZY_WATCHDOG_MS} ms.",
        "The mix cannot see it, and it drives on as it last did until a watchdog bites: firmware of "
        f"`export --board` has one of {power.WATCHDOG_MS} ms; give a board of your own one as short.",
        unseen=True,
        grace_ticks=long,
        ticks=long,
    )


def _overruns(plan: Plan) -> Iterator[Fault]:
    slow = "The firmware is too slow: it runs one tick in"
    long = max(HICCUP_MS // plan.tick_ms, 2)
    cases = (
        ("2", 2, f"{slow} 2."),
        ("5", 5, f"{slow} 5."),
        ("once", long, f"One tick takes {long * plan.tick_ms} ms."),
    )
    for key, every, words in cases:
        yield power.Overrun(
            f"overrun.{key}",
            words,
            "The robot stops for every tick that comes late: measure the tick on the board.",
            restarts=_waits(plan),
            restart_ticks=every,
            every=every,
            once=key == "once",
        )


def _untold() -> Iterator[Fault]:
    """What no run can show: nothing changes here but what to do by hand."""
    words = "Firmware or profile on the board is not the one that was checked here."
    advice = "Compare the fingerprint on the board with the one this page shows; check the vectors again."
    yield Fault("other-firmware", words, advice, unseen=True)


def _contacts(plan: Plan) -> Iterator[Fault]:
    for number in range(len(plan.contacts)):
        yield from _stuck(plan, number)
        name = plan.contacts[number].name
        for percent in (5, 50):
            yield stops.ContactBounces(
                f"bounces.{name}.{percent}",
                f"{name} bounces {percent} % of the time.",
                contact=number,
                share=percent / 100,
            )
    for actuator in plan.actuators:
        if actuator.out_stop is not None and actuator.in_stop is not None:
            yield from _pairs(plan, actuator.name, actuator.out_stop, actuator.in_stop)


WAY_UP = "Turn it over by hand, wheels free, and watch that the sticks change over with it, and back again."
"""What a person can do about the contact that tells the way up: firmware has nothing else to go by."""


def _stuck(plan: Plan, number: int) -> Iterator[Fault]:
    """A contact that never closes, always does, or has lost its cable."""
    contact = plan.contacts[number]
    is_stop = any(number in (item.out_stop, item.in_stop) for item in plan.actuators)
    blind = is_stop and not _watched(plan, number)
    tells_way_up = plan.flip is not None and plan.flip.told_by == number
    off = stops.OPEN_CIRCUIT
    watch = "Try both end stops by hand before every event; watch the travel with full_travel_ms."
    wire = "Wire end stops so that a broken wire reads closed."
    cases = (
        ("stuck-open", "never closes", contact.level(closed=False), watch),
        ("stuck-closed", "is always closed", contact.closed_reads, ""),
        ("cable-off", "has lost its cable", off, "" if off == contact.closed_reads else wire),
    )
    for key, words, level, advice in cases:
        yield stops.ContactStuck(
            f"{key}.{contact.name}",
            f"{contact.name} {words}.",
            WAY_UP if tells_way_up else advice if is_stop else "",
            unseen=tells_way_up or (blind and level != contact.closed_reads),
            contact=number,
            level=level,
        )


def _pairs(plan: Plan, name: str, first: int, second: int) -> Iterator[Fault]:
    advice = "Press each end stop by hand with the robot live and see that the right direction stops."
    words = f"The two end stops of {name} are swapped."
    yield stops.ContactsSwapped(
        f"stops-swapped.{name}", words, advice, unseen=True, first=first, second=second
    )
    levels = plan.contacts[first].closed_reads, plan.contacts[second].closed_reads
    for key, ticks in (("", 2**30), (".briefly", max(300 // plan.tick_ms, 1))):
        yield stops.BothClosed(
            f"both-closed.{name}{key}",
            f"Both end stops of {name} are closed{' for a moment' if key else ''}.",
            first=first,
            second=second,
            levels=levels,
            ticks=ticks,
        )


def _watched(plan: Plan, contact: int) -> bool:
    owners = [item for item in plan.actuators if contact in (item.out_stop, item.in_stop)]
    return all(item.travel_limit is not None for item in owners)


def _mechanics(plan: Plan) -> Iterator[Fault]:
    """What breaks below the firmware; the physics then runs the broken robot."""
    wheels = "The firmware measures no current: watch each wheel turn before the match; fit a fuse a motor."
    switch = "No firmware can take the power away: have a main switch that a hand reaches from behind."
    travel = "Give the actuator a full_travel_ms, so that the firmware stops driving it in time."
    screws = {actuator.output for actuator in plan.actuators}
    for number, output in enumerate(plan.outputs):
        cases = [
            ("motor-gone", f"The motors of {output.name} are disconnected.", wheels, Harm.DISCONNECTED),
            ("stuck-on", f"The controller of {output.name} is stuck on at full.", switch, Harm.STUCK_ON),
        ]
        if number not in screws:
            words = f"What hangs on {output.name} does not turn any more: its motors stall."
            cases.insert(1, ("stalled", words, wheels, Harm.STALLED))
        for key, words, advice, harm in cases:
            broken = (Damage(harm, output.name),)
            yield Fault(f"{key}.{output.name}", words, advice, unseen=True, damage=broken)
    for actuator in plan.actuators:
        words = f"{actuator.name} jams where it stands."
        blind, broken = not actuator.travel_limit, (Damage(Harm.JAMMED, actuator.name),)
        yield Fault(f"jammed.{actuator.name}", words, travel, unseen=blind, damage=broken)
    if len(plan.actuators) > 1:
        words = "Screws that move one thing together are out of step: the last is ahead."
        broken = (Damage(Harm.AHEAD, plan.actuators[-1].name),)
        advice = "Bring each to its end by hand before the match."
        yield Fault("out-of-step", words, advice, unseen=True, damage=broken)
