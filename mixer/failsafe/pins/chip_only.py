"""What only a chip can have: noise on its pins, a supply that falls, hangs, floods, a bit that flips.

Each case is a healthy script of the campaign, with something done to the chip in it. How the robot has to
take it is said as of any other fault.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from mixer.board.chip.chip import Reset
from mixer.core.plan import Guard, Plan
from mixer.failsafe.campaign.points import Habit
from mixer.failsafe.pins.scripts import Act, Script
from mixer.failsafe.pins.wires.outside import Outside
from mixer.faults.fault import Fault
from mixer.faults.power import Hang

NOISE_S = 1.0
NOISE_US = 250
"""On each input, from one edge of the noise to the next, on average."""
FLOOD_CYCLES = 40
"""Between two edges of the flood: less than any handler of an edge takes."""
CROWD_US = 10
"""And where a handler keeps up with them: the program goes on, and has no room for them all."""
FLOOD_MS = 150
"""Longer than any watchdog here waits; both go on until the mix has to have found it out as well: of a long
tick that comes less than a whole one late nothing else stops the robot."""
SERIAL_BYTES = 4000
BROWN_OUT_MS = 5


Apart = Callable[[int], int]
"""Cycles from edge to edge, of a chip's in a second."""


@dataclass(frozen=True, slots=True)
class Case:
    """One thing that goes wrong in a chip."""

    fault: Fault
    act: Act
    at_power_up: bool = False
    still: bool = False
    """Whether the hands have to hold still: pulses that are dropped then were as those before them."""


def cases_of(plan: Plan, loops: Mapping[str, int]) -> Iterator[Case]:
    """All of them; `loops` are the image's loops by the names that its symbols have for them."""
    waits = plan.guard.hold_ticks > 1
    noise = Fault("power-up-noise", "Switched on with noise on every wire.", from_power_up=True)
    yield Case(noise, _noise, at_power_up=True)
    brown = Fault("brown-out", "The supply falls below the chip's limit in a drive.", restarts=waits)
    yield Case(brown, _brown_out)
    until_lost = FLOOD_MS + plan.guard.lost_ticks * plan.tick_ms
    flood = Fault("edge-flood", "A channel's wire brings edges without end.", radio_gone=True)
    yield Case(flood, partial(_edges, until_lost, lambda _: FLOOD_CYCLES), still=True)
    words = f"A channel's wire brings an edge every {CROWD_US} µs."
    crowd = Fault("edge-crowd", words, radio_gone=True)
    yield Case(crowd, partial(_edges, until_lost, lambda hz: hz // 1_000_000 * CROWD_US), still=True)
    yield Case(Fault("serial-flood", "The serial line brings bytes without end."), _serial)
    for name in loops:
        words = f"The program goes round {name} for ever."
        yield Case(Hang(f"loop.{name}", words), partial(_hang, name))


WRONG_CLOCKS = {"slow": 0.9, "fast": 1.1}
"""By how much an RC oscillator may be off (ATmega328P data sheet: 10 % as it comes from the factory)."""


def lost_by_a_wrong_clock(lost: Sequence[Script]) -> Iterator[Script]:
    """The radio goes as the board's clock goes wrong; times are promised by that clock."""
    driving = [script for script in lost if script.moving] or lost
    for name, clock in WRONG_CLOCKS.items():
        words = f"The radio goes, and the board's clock is 10 % {name}."
        fault = Fault(f"lost-by-{name}-clock", words, radio_gone=True)
        yield from (replace(script, fault=fault, clock=clock) for script in driving[:2])


def scripts_for(cases: Sequence[Case], healthy: Sequence[Script]) -> Iterator[Script]:
    """Each case in one of the healthy scripts in which it matters: live and driving, hands that hold on."""
    held = [script for script in healthy if _holds(script)]
    driving = [script for script in held if script.moving and script.prefix] or held
    fresh = [script for script in healthy if not script.prefix] or held
    still = [script for script in driving if script.habit is Habit.HOLD] or driving
    for number, case in enumerate(cases):
        some = fresh if case.at_power_up else still if case.still else driving
        script = some[number % len(some)]
        at = -1 if case.at_power_up else script.onset
        yield replace(script, fault=case.fault, acts=((at, case.act),))


def _holds(script: Script) -> bool:
    return script.habit in (Habit.HOLD, Habit.WIGGLE)


def _noise(outside: Outside) -> None:
    hz, pins = outside.chip.hz, dict.fromkeys((*outside.pins.channels, *outside.pins.contacts))
    rng = np.random.default_rng(len(pins))
    for pin in pins:
        gaps = rng.exponential(NOISE_US * hz / 1e6, round(NOISE_S * 1e6 / NOISE_US))
        for number, cycle in enumerate(np.cumsum(np.maximum(gaps, hz / 1e6)).astype(int).tolist()):
            outside.plan(outside.now + cycle, pin, number % 2)


def _brown_out(outside: Outside) -> None:
    outside.reset(Reset.LOW_SUPPLY, outside.chip.hz * BROWN_OUT_MS // 1000)


def _edges(last_ms: int, apart: Apart, outside: Outside) -> None:
    cycles = apart(outside.chip.hz)
    for number in range(outside.chip.hz * last_ms // 1000 // cycles):
        outside.plan(outside.now + number * cycles, outside.pins.channels[0], number % 2)


def _serial(outside: Outside) -> None:
    outside.chip.send(np.random.default_rng(1).bytes(SERIAL_BYTES), outside.now)


def _hang(name: str, outside: Outside) -> None:
    outside.chip.hang(name)


def two_states(healthy: Sequence[Script]) -> Iterator[tuple[str, Script]]:
    """A script that drives, and one that has to rest with its sticks pushed, for a bit to flip in."""
    held = [script for script in healthy if _holds(script)]
    driving = [script for script in held if script.moving]
    resting = [script for script in held if script.guard is Guard.RESTING]
    yield from (("driving", script) for script in driving[:1])
    yield from (("resting", script) for script in resting[:1])
