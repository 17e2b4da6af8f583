"""The moments of a drive that are worth seeing: few, of different kinds, each with where it is and why."""

import shlex
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from mixer.core.layout import layout_of
from mixer.core.plan import Guard, Plan
from mixer.plant.parts.robot import Robot
from mixer.review.pauses import PausesWatch, why_stopped
from mixer.review.spans import Span
from mixer.review.strain import HeldBack, Strained
from mixer.runs.clock import TickTime

MOST_MOMENTS = 5
MOST_ALIKE = 2
BEFORE_S = 1.0
"""The bench opens so long before a moment, so that it can be seen coming."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a log is played: what the commands to a moment begin with."""

    profile: Path
    log: Path
    options: tuple[str, ...] = ()
    """``--loadout`` and the like, as every command takes them."""
    mapping: tuple[str, ...] = ()
    """``--map`` and what stands behind it, for whoever opens the log."""


@dataclass(frozen=True, slots=True)
class Moment:
    """One of them."""

    kind: str
    at_s: float
    words: str
    bench: str
    """The command that opens the bench there."""
    explain: str
    """The command that explains an output with the inputs of that moment."""


@dataclass(frozen=True, slots=True)
class _Found:
    """A candidate; the higher its weight, the more worth seeing."""

    weight: float
    kind: str
    tick: int
    row: tuple[int, ...]
    words: str
    output: str = ""


@dataclass(frozen=True, slots=True)
class Watched:
    """The sinks that moments are found in; no `strained` without physics."""

    pauses: PausesWatch
    held: HeldBack
    strained: Strained | None
    robot: Robot | None


def moments_of(plan: Plan, watched: Watched, time: TickTime, place: Place) -> tuple[Moment, ...]:
    """At most `MOST_MOMENTS` in the order of time, no more than `MOST_ALIKE` of one kind."""
    chosen: list[_Found] = []
    found = [*_stops(plan, watched, time), *_held(plan, watched, time), *_strains(watched, time)]
    for each in sorted(found, key=lambda one: (-one.weight, one.tick)):
        alike = sum(one.kind == each.kind for one in chosen)
        near = any(abs(one.tick - each.tick) * time.tick_us < 2e5 for one in chosen)
        if alike < MOST_ALIKE and not near and len(chosen) < MOST_MOMENTS:
            chosen.append(each)
    return tuple(_moment(plan, each, time, place) for each in sorted(chosen, key=lambda one: one.tick))


def _stops(plan: Plan, watched: Watched, time: TickTime) -> Iterator[_Found]:
    """Losses, faults, and single channels that were gone for long without stopping the robot."""
    layout = layout_of(plan)
    for span in watched.pauses.pauses.found():
        signals = layout.signals_of(span.row)
        fault = signals.guard.state == Guard.FAULTED
        if span.first_tick and (fault or not signals.guard.signal):
            words = f"stopped while live: {why_stopped(plan, signals)}; not live for {_lasted(span, time)}"
            yield _Found(
                110 if fault else 100, "fault" if fault else "loss", span.first_tick, span.row, words
            )
    for channel, spans in zip(plan.channels, watched.pauses.gaps, strict=True):
        longest = max((s for s in spans.found() if s.first_tick), default=None)
        if longest is not None:
            words = f"{channel.name}: the longest time without a good pulse"
            yield _Found(50 + _share(longest, time), "gap", longest.first_tick, longest.row, words)


def _held(plan: Plan, watched: Watched, time: TickTime) -> Iterator[_Found]:
    for actuator in plan.actuators:
        longest = watched.held.vetoes[actuator.name].longest()
        if longest is not None:
            output = plan.outputs[actuator.output].name
            words = f"{actuator.name}: its end stop holds it back for {_lasted(longest, time)}"
            yield _Found(40 + _share(longest, time), "veto", longest.first_tick, longest.row, words, output)
    for name, spans in watched.held.saturated.items():
        longest = spans.longest()
        if longest is not None:
            words = f"{name}: at the end of its range for {_lasted(longest, time)}"
            yield _Found(30 + _share(longest, time), "range", longest.first_tick, longest.row, words, name)


def _strains(watched: Watched, time: TickTime) -> Iterator[_Found]:
    strained, robot = watched.strained, watched.robot
    if strained is None or robot is None:
        return
    if strained.most_a.row:
        most, least = strained.most_a, strained.least_v
        yield _Found(60, "current", most.tick, most.row, f"the battery gives the most: {most.value:.1f} A")
        low = robot.battery.low_v
        weight = 90 if low and least.value < low else 35
        said = f"the battery is lowest: {least.value:.2f} V" + (
            f", below {low:g} V" if weight == 90 else ""
        )
        yield _Found(weight, "volts", least.tick, least.row, said)
    for name, spans in strained.stalled.items():
        longest = spans.longest()
        if longest is not None:
            words = f"{name}: near stall for {_lasted(longest, time)}"
            yield _Found(65 + _share(longest, time), "stall", longest.first_tick, longest.row, words, name)
    longest = strained.sliding.longest()
    if longest is not None:
        words = f"wheels slide for {_lasted(longest, time)}"
        yield _Found(45 + _share(longest, time), "slip", longest.first_tick, longest.row, words)


def _share(span: Span, time: TickTime) -> float:
    """0 to 4: longer is more worth seeing, never more than another kind."""
    return min(time.seconds(span.ticks), 4.0)


def _lasted(span: Span, time: TickTime) -> str:
    return f"{time.seconds(span.ticks):.2f} s" + ("" if span.ended else ", to the end of the log")


def _moment(plan: Plan, found: _Found, time: TickTime, place: Place) -> Moment:
    at = time.seconds(found.tick)
    begin = f"{max(at - BEFORE_S, 0.0):.2f}"
    robot = (str(place.profile), *place.options)
    bench = shlex.join(
        ["stickwright", "bench", *robot, "--log", str(place.log), *place.mapping, "--from", begin]
    )
    output = ("--output", found.output) if found.output else ()
    explain = ["stickwright", "explain", *robot, "--at", _inputs(plan, found.row), *output]
    return Moment(found.kind, at, found.words, bench, shlex.join(explain))


def _inputs(plan: Plan, row: Sequence[int]) -> str:
    """What the board had in that tick, as `explain --at` takes it; a channel that is lost gives none."""
    signals = layout_of(plan).signals_of(row)
    lost = plan.guard.lost_ticks
    pulses = [
        f"{channel.name}={0 if now.age >= lost else now.pulse}"
        for channel, now in zip(plan.channels, signals.channels, strict=True)
    ]
    contacts = [
        f"{contact.name}={'closed' if now.closed else 'open'}"
        for contact, now in zip(plan.contacts, signals.contacts, strict=True)
    ]
    return " ".join(pulses + contacts)
