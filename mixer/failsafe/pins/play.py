"""One script played on a chip, from power-up to its end."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np

from mixer.board.chip.chip import BOOT_MS, HELD_US, Reset
from mixer.core.plan import Plan
from mixer.errors import ChipError
from mixer.failsafe.pins.scripts import Act, Script
from mixer.failsafe.pins.wires.onto import ChannelWires, TrainWire, Wires
from mixer.failsafe.pins.wires.outside import Outside, amid

SLICE_MS = 10
"""So long at a time; then the ticks are looked at anew, so that pulses end well between two of them."""
NO_TICK = "flash an image of `export --board`: its wiring.h names the pin"
AFTER_MS = 45
"""Watched on after the script's end: two servo periods and some."""


@dataclass(frozen=True)
class Played:
    """What came of it."""

    script: Script
    outside: Outside
    tick: int
    """Cycles of a tick as the board counts it."""
    began: int
    """Cycle of the reset it began with."""
    first: int
    """Cycle at which the script's first tick began."""
    onset: int
    """Cycle of the fault's onset."""
    end: int
    """Cycle at which nobody looked any more."""
    stood: tuple[tuple[int, int], ...]
    """From when to when the program did not get to run."""
    astray: bool = False
    """Whether the program went where the simulated chip did not follow it, and so ended all."""

    def ms(self, cycle: int) -> float:
        """When a cycle is: from power-up, by the board's own clock."""
        return (cycle - self.began) * 1000 / self.outside.chip.hz


class Player:
    """Plays scripts on one chip, one after the other."""

    def __init__(self, plan: Plan, outside: Outside) -> None:
        self.plan, self.outside = plan, outside
        self.tick = round(outside.chip.hz * plan.tick_ms / 1000)
        """Cycles of a tick as the board counts it."""
        self._wires: Wires = ChannelWires(plan, outside)
        self._onset, self._clock = 0, 1.0
        self._rng = np.random.default_rng(0)
        self._stood: list[tuple[int, int]] = []

    def ms(self, time_ms: float) -> int:
        """So many cycles, by the board's own clock."""
        return round(self.outside.chip.hz * time_ms / 1000)

    def boot(self, script: Script) -> int:
        """Power up with every channel low; the cycle of the reset."""
        began = self.outside.now
        for pin in dict.fromkeys(self.outside.pins.channels):
            self.outside.plan(began, pin, 0)
        for pin, level in zip(self.outside.pins.contacts, script.contacts[0].tolist(), strict=True):
            self.outside.plan(began, pin, level)
        self.outside.reset(Reset.POWER)
        for act in (act for tick, act in script.acts if tick < 0):
            act(self.outside)
        known = len(self.outside.ticks)
        while len(self.outside.ticks) == known:
            if self.outside.now - began > self.ms(BOOT_MS):
                raise ChipError("the image shows no tick on its pin after power-up", NO_TICK)
            self.outside.run(self.outside.now + self.ms(SLICE_MS))
        return began

    def play(self, script: Script) -> Played:
        """All of it."""
        self._rng = np.random.default_rng([script.lane, *script.fault.key.encode()])
        self._onset, self._clock = script.onset, script.clock
        if self.outside.pins.train:
            self._wires = TrainWire(self.plan, self.outside, script.onset, script.spoiled)
        began = self.boot(script)
        free = self._wires.begin()
        first = amid(free + self.ms(self._wires.ahead_ms), self.outside.ticks[-1], self.tick)
        self._stood.clear()
        astray = False
        try:
            self._through(script, first)
        except ChipError:
            if not script.may_stray:
                raise
            astray = True
        onset, end = self._at(first, script.onset), self.outside.now
        stood = tuple(self._stood)
        return Played(script, self.outside, self.tick, began, first, onset, end, stood, astray)

    def _through(self, script: Script, first: int) -> None:
        planned = 0
        for number, act in self._acts(script):
            while self._at(first, number) > self.outside.now:
                planned = self._plan(script, first, planned)
                self.outside.run(min(self.outside.now + self.ms(SLICE_MS), self._at(first, number)))
            act(self.outside)
        self.outside.run(self.outside.now + self.ms(AFTER_MS))

    def _at(self, first: int, number: float) -> int:
        """Where a tick of the script is: from the onset on by a clock that may be wrong."""
        wrong = max(number - self._onset, 0)
        return first + round((number - wrong + wrong * self._clock) * self.tick)

    def _acts(self, script: Script) -> Iterator[tuple[int, Act]]:
        """What is done to the chip itself, by tick; nothing more at its end."""
        held = script.held
        for number in range(len(script.pulses)):
            yield from ((number, act) for tick, act in script.acts if tick == number)
            if script.resets[number]:
                yield number, partial(Outside.reset, reason=Reset.PIN, held=self.ms(HELD_US / 1000))
            if script.hangs and number == script.onset:
                yield number, lambda outside: outside.chip.hang()
            if held[number] and not held[number - 1]:
                free = np.flatnonzero(~held[number:])
                yield number, partial(self._halt, int(free[0]) if len(free) else len(held) - number)
        yield len(script.pulses), lambda _: None

    def _halt(self, ticks: int, outside: Outside) -> None:
        """Until just after the tick behind those that are missed was due: it comes as late as that."""
        into_tick = (outside.now - outside.ticks[-1]) % self.tick
        cycles = round((1 + ticks + 0.1) * self.tick) - into_tick
        self._stood.append((outside.now, outside.now + cycles))
        outside.chip.halt(cycles)

    def _plan(self, script: Script, first: int, planned: int) -> int:
        """Edges of the ticks that are near enough; how many ticks are planned now."""
        horizon = self.outside.now + self.ms(SLICE_MS + self._wires.ahead_ms)
        while planned < len(script.pulses) and self._at(first, planned) < horizon:
            self._plan_tick(script, first, planned)
            planned += 1
        return planned

    def _plan_tick(self, script: Script, first: int, number: int) -> None:
        pulses = script.pulses[number] * (self._clock if number >= script.onset else 1.0)
        shares = self._rng.uniform(-0.2, 0.2, len(pulses)).tolist()
        ends = [self._amid(first, number + share) for share in shares]
        self._wires.plan(number, ends, np.rint(pulses).astype(int).tolist())
        now, before = script.contacts[number], script.contacts[max(number - 1, 0)]
        for contact in np.flatnonzero(now != before).tolist():
            pin = self.outside.pins.contacts[contact]
            self.outside.plan(self._amid(first, number - 0.2), pin, int(now[contact]))

    def _amid(self, first: int, number: float) -> int:
        return amid(self._at(first, number), self.outside.ticks[-1], self.tick)
