"""Ten seconds in which a robot drives by itself, its radio breaks, everything stops and the gate says why.

    shown = Demonstration(session, clock())
    while not shown.over:
        snapshot, scene = shown.session.advance(clock()), shown.scene()

It runs on a session of its own, with the profile and the tuning of the one it is asked of. That one stands
still meanwhile: afterwards robot, sticks, source, faults and diary there are what they were.
"""

from enum import IntEnum
from typing import NamedTuple

import numpy as np

from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.laws.expect import loss_ms
from mixer.live.bench.session import Session
from mixer.live.inputs.manoeuvre import Manoeuvre
from mixer.plant.parts.robot import Robot as PhysicalRobot
from mixer.runs.measure.physics import plant_columns
from mixer.runs.play.stretch import Floats, Stretch

RADIO = "all-lost"
"""The fault of the catalogue that breaks it."""
STANDS_MPS = 0.01


class Part(IntEnum):
    """Where in the demonstration we are."""

    REST = 0
    ARM = 1
    DRIVE = 2
    BREAK = 3
    BACK = 4


class Scene(NamedTuple):
    """What to say now."""

    part: Part
    title: str
    words: str
    level: str
    """``note``, ``warn`` while the radio is broken, ``ok`` once everything has stopped, or ``bad``."""
    share: float
    """How much of it has passed, 0 to 1."""
    marks: tuple[float, ...]
    """At which shares the parts after the first begin."""


class Demonstration:
    """One run of it. Not for sharing between threads."""

    def __init__(self, session: Session, now_s: float) -> None:
        """Begin, beside a session that nobody advances meanwhile."""
        tuning = session.tuning
        shown = Session(tuning.profile, tuning.recovery, now_s=now_s, loadout=tuning.loadout)
        shown.tuning, shown.generated = tuning, session.generated
        physics, plan = shown.snapshot().physics, shown.robot.plan
        wheels = () if physics is None else physics.wheels
        self._source = Manoeuvre(plan, shown.sticks, wheels, self._tell_radio)
        self._stop = _Stop(plan, shown.robot.build.prepared.robot)
        shown.robot.add(self._stop)
        shown.pad = self._source  # it moves the hand sticks as a game controller does
        shown.use("pad")
        self.session = shown
        """What runs it: show this instead of the one it was asked of."""

    @property
    def over(self) -> bool:
        """Whether all has been shown."""
        return self._now_s >= self._source.times.end_s

    def scene(self) -> Scene:
        """What is happening, in words, with the numbers of this very run."""
        times, now = self._source.times, self._now_s
        part = Part(sum(now >= at for at in times[:4]))
        title, words, level = self._said(part)
        marks = tuple(at / times.end_s for at in times[:4])
        return Scene(part, title, words, level, min(now / times.end_s, 1.0), marks)

    @property
    def _now_s(self) -> float:
        return self.session.robot.time_s

    def _tell_radio(self, tick: int, there: bool) -> None:
        if there:
            self.session.faults.clear(RADIO)
        else:
            self.session.faults.inject(RADIO)
            self._stop.begin(tick)

    def _said(self, part: Part) -> tuple[str, str, str]:
        guard, plan = self.session.snapshot().guard, self.session.robot.plan
        why = guard.why[0] if guard.why else ""
        if part is Part.REST:
            return "switched on", f"Pulses come, and nothing moves: {why}.", "note"
        if part is Part.BREAK:
            return self._broken(why)
        if part is Part.BACK:
            held = "live again, as this profile says" if guard.state == "live" else f"nothing starts: {why}"
            held = held if guard.signal else "the first pulses are on their way"
            return "the radio is back", f"The sticks are still pushed; {held}.", "note"
        if guard.state != "live" and part is Part.DRIVE:
            return "it does not drive", f"The gate stays shut: {why}.", "bad"
        if part is Part.ARM:
            hold = plan.guard.hold_ticks * plan.tick_ms
            first = "Sticks at rest" if plan.guard.arm is None else "Arm switch on, sticks at rest"
            return "armed", f"{first}: after {hold} ms the gate opens.", "note"
        return "it drives", self._driving(), "note"

    def _driving(self) -> str:
        view = self.session.snapshot()
        moving = sum(output.command != 0 for output in view.outputs)
        words = f"No hand is on the sticks: {moving} of {len(view.outputs)} outputs at work"
        if view.physics is None:
            return f"{words}."
        return f"{words}, {abs(view.physics.speed_mps):.2f} m/s, {view.physics.battery_a:.0f} A."

    def _broken(self, why: str) -> tuple[str, str, str]:
        plan, stop = self.session.robot.plan, self._stop
        promised = loss_ms(plan)
        if stop.told_ms is None:
            if stop.passed_ms > promised + plan.tick_ms:
                return "it drives on", f"No pulse for {stop.passed_ms} ms, {promised} promised.", "bad"
            bridged = plan.guard.lost_ticks * plan.tick_ms
            return (
                "the radio breaks",
                f"No pulse comes any more. For {bridged} ms the last good ones count; then it has to stop.",
                "warn",
            )
        words = f"Every output at 0, {stop.told_ms} ms after the radio broke"
        if stop.stood_ms is not None:
            words += f"; it stands after {stop.stood_ms} ms and {stop.way_m:.2f} m"
        return "everything stops", f"{words}. The gate says: {why}.", "ok"


class _Stop:
    """A sink that watches how a robot stops, tick by tick."""

    def __init__(self, plan: Plan, robot: PhysicalRobot | None) -> None:
        self.told_ms: int | None = None
        """From the break to every output at 0, for good; None while one is not."""
        self.stood_ms: int | None = None
        """From the break to the robot standing; None while it moves, and without physics."""
        self.way_m = 0.0
        self.passed_ms = 0
        self._tick_ms, self._begun = plan.tick_ms, -1
        self._commands = [output.command for output in layout_of(plan).places.outputs]
        columns = plant_columns(robot) if robot is not None else ()
        self._moving = [columns.index(name) for name in ("vx", "vy", "turn")] if columns else []

    def begin(self, tick: int) -> None:
        """The radio has broken in this tick."""
        self._begun = tick

    def add(self, stretch: Stretch) -> None:
        """The next ticks."""
        for number, signals in enumerate(stretch.signals):
            since = stretch.first_tick + number - self._begun
            if self._begun < 0 or since < 0:
                continue
            self.passed_ms = since * self._tick_ms
            if signals[self._commands].any():
                self.told_ms = None
            elif self.told_ms is None:
                self.told_ms = self.passed_ms
            if stretch.plant is not None:
                self._roll(stretch.plant[number])

    def _roll(self, plant: Floats) -> None:
        if self.stood_ms is not None:
            return
        vx, vy, turn = plant[self._moving]
        self.way_m += float(np.hypot(vx, vy)) * self._tick_ms / 1000
        if np.hypot(vx, vy) < STANDS_MPS and abs(turn) < STANDS_MPS * 10:
            self.stood_ms = self.passed_ms
