"""The plant: a robot's physics stepped in time, one robot on floats or many lanes on arrays.

The step is traced once for a robot and a step length and compiled (see `lowering`), so that stepping is
straight-line arithmetic. `Plant` keeps the state of one robot; `LanePlant` of many, in arrays of shape
(lanes,). Commands are Q14 integers as the core puts them out (ONE = full), one an output.
"""

import math
import operator
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from mixer.core.ops import ONE
from mixer.core.plan import Plan
from mixer.plant.parts.quantities import require
from mixer.plant.parts.robot import Robot
from mixer.plant.step.advance import LOW_VOLTAGE_S, trace_step
from mixer.plant.step.energy import kinetic_joules
from mixer.plant.step.layout import ENERGIES, heated_outputs, plant_layout_of
from mixer.plant.step.lowering import StepFunction, compile_step, needed_for
from mixer.plant.step.native_lanes import in_c, native_lanes_step

LONGEST_STEP_S = 0.002
"""Longest step taken in one go; longer ones are split, so that results do not depend on the tick."""
FINER = 4
"""Into how many parts a step is split in which the battery's current changes quickly."""
LIVELY = 0.01
"""Share of the current with everything stalled that it may change by from a step's start to its middle."""
Lanes: TypeAlias = NDArray[Any]
"""Of shape (lanes,)."""
SETTLED_MPS = 2e-4
"""A lane rests once nothing in it changes by more than this (m/s or rad/s) in 10 ms."""
MERGE: dict[str, Callable[[float, float], float]] = {
    "mean": operator.add, "most": max, "least": min, "last": lambda _, now: now,
}  # fmt: skip


def parts_of(seconds: float) -> int:
    """Into how many steps a time is split."""
    return max(1, math.ceil(seconds / LONGEST_STEP_S - 1e-9))


def lively_amps(robot: Robot) -> float:
    """By how much the battery's current may change within a step before that is split, in A."""
    return LIVELY * sum(robot.stall_currents())


@dataclass(frozen=True, slots=True)
class PlantSnapshot:
    """What can be seen of one robot at a time. Tuples follow the robot's outputs, wheels, actuators."""

    seconds: float
    battery_v: float
    battery_a: float
    """Mean over the last step."""
    battery_peak_a: float
    """The most in the last step, its first instant included."""
    lowest_v: float
    charge: float
    """Share of the pack's charge that is left."""
    cut: bool
    """Whether the low-voltage stop has cut the drives."""
    output_a: tuple[float, ...]
    output_v: tuple[float, ...]
    output_peak_a: tuple[float, ...]
    wheel_mps: tuple[float, ...]
    """Speed of each wheel's rim."""
    wheel_slip_mps: tuple[float, ...]
    wheel_n: tuple[float, ...]
    """Force of each tyre along its wheel."""
    vx: float
    vy: float
    turn: float
    x: float
    y: float
    yaw: float
    extension_m: tuple[float, ...]
    winding_c: tuple[float | None, ...]
    """One an output; None without thermal data."""
    case_c: tuple[float | None, ...]
    contacts: dict[str, bool]
    """Closed or not, for each contact an actuator has."""


@lru_cache(maxsize=32)
def lane_function(
    robot: Robot, seconds: float, wanted: tuple[str, ...], *, native: bool = False
) -> tuple[StepFunction, tuple[int, ...]]:
    """The compiled step of many lanes, as far as what is wanted needs it, and the places of its results.

    `native` is C where that gives the same numbers; it raises MissingToolError without a compiler.
    """
    trace, results = trace_step(robot, seconds)
    layout = plant_layout_of(robot)
    names = layout.state + layout.seen
    places = needed_for(trace, results, [names.index(name) for name in wanted or names])
    found = [results[place] for place in places]
    if native and in_c(trace, found):
        return native_lanes_step(trace, found), tuple(places)
    return compile_step(trace, found, arrays=True), tuple(places)


@lru_cache(maxsize=32)
def step_function(robot: Robot, seconds: float) -> StepFunction:
    """The compiled step of a robot (worked out once)."""
    require(
        0 < seconds <= LONGEST_STEP_S, "step", f"{seconds:g} s", f"more than 0, at most {LONGEST_STEP_S} s"
    )
    trace, results = trace_step(robot, seconds)
    return compile_step(trace, results, arrays=False)


class Plant:
    """One robot. `state` is laid out as `plant_layout_of(robot)`, and may be read, kept and put back."""

    def __init__(self, robot: Robot, *, charge: float = 1.0) -> None:
        self.robot = robot
        self.layout = plant_layout_of(robot)
        self._heated = heated_outputs(robot)
        self._means = [kind == "mean" for kind in self.layout.kinds]
        self._merges = [MERGE[kind] for kind in self.layout.kinds]
        self._lively_a = lively_amps(robot)
        self._compiled: dict[float, tuple[Robot, StepFunction]] = {}
        self.reset(charge)

    def reset(self, charge: float = 1.0) -> None:
        """Stand still, cold, at the start pose, with a share of the charge."""
        self.state: list[float] = list(self.layout.start)
        self.state[0] = charge
        self.state[3] = self.robot.battery.rest_volts(charge)
        self.seen: list[float] = [0.0] * len(self.layout.seen)
        self.seconds = 0.0

    def step(self, commands: Sequence[int], seconds: float) -> PlantSnapshot:
        """Apply Q14 commands for a time (in s) and tell what can be seen at its end."""
        self.run(commands, seconds)
        return self.snapshot()

    def run(self, commands: Sequence[int], seconds: float) -> None:
        """`step` without looking."""
        self.run_duties([command * (1 / ONE) for command in commands], seconds)

    def run_duties(self, duties: Sequence[float], seconds: float) -> None:
        """`run` with duties from -1 to 1."""
        parts = parts_of(seconds)
        seen = self._stepped(duties, seconds / parts)
        for _ in range(parts - 1):
            seen = self._together(seen, self._stepped(duties, seconds / parts))
        self.seen = self._averaged(seen, parts) if parts > 1 else seen
        self.seconds += seconds

    def _stepped(self, duties: Sequence[float], seconds: float) -> list[float]:
        """One step; in several finer ones where the battery's current changes quickly within it."""
        slots, before = len(self.state), self.state
        result = self._step(seconds)(before, duties)
        if abs(result[slots] - result[slots + 1]) <= self._lively_a:
            self.state = result[:slots]
            return result[slots:]
        function = self._step(seconds / FINER)
        result = function(before, duties)
        seen = result[slots:]
        for _ in range(FINER - 1):
            result = function(result[:slots], duties)
            seen = self._together(seen, result[slots:])
        self.state = result[:slots]
        return self._averaged(seen, FINER)

    def _together(self, before: list[float], now: list[float]) -> list[float]:
        """Sums of what is a mean over a step, extremes of what is a peak, the latest of everything else."""
        return [merge(was, new) for merge, was, new in zip(self._merges, before, now, strict=True)]

    def _averaged(self, seen: list[float], count: int) -> list[float]:
        return [value / count if mean else value for value, mean in zip(seen, self._means, strict=True)]

    def _step(self, seconds: float) -> StepFunction:
        # Kept at hand, because looking it up hashes the whole robot: a third of a step's time.
        robot, function = self._compiled.get(seconds, (None, None))
        if function is None or robot is not self.robot:
            function = step_function(self.robot, seconds)
            self._compiled[seconds] = self.robot, function
        return function

    def value(self, name: str) -> float:
        """A state or an observation by its name in the layout."""
        if name in self.layout.state:
            return self.state[self.layout.state.index(name)]
        return self.seen[self.layout.seen.index(name)]

    def contacts(self) -> dict[str, bool]:
        """Which end-stop switches are closed now, by the contact's name."""
        return closed_contacts(self.robot, self._extensions())

    def energies(self) -> dict[str, float]:
        """Joules since the reset, by what they went into, and `kinetic` as it is now."""
        first = self.layout.state.index(f"energy.{ENERGIES[0]}")
        table = dict(zip(ENERGIES, self.state[first:], strict=True))
        table["kinetic"] = kinetic_joules(self.robot, dict(zip(self.layout.state, self.state, strict=True)))
        return table

    def _extensions(self) -> tuple[float, ...]:
        first = 13 + len(self.robot.wheels)
        return tuple(self.state[first : first + 2 * len(self.robot.actuators) : 2])

    def snapshot(self) -> PlantSnapshot:
        """What can be seen now."""
        robot, state, seen = self.robot, self.state, self.seen
        wheels = len(robot.wheels)
        outputs = 3 + 3 * len(robot.outputs)
        heat = 13 + wheels + 2 * len(robot.actuators)
        rises: list[tuple[float | None, float | None]] = [(None, None)] * len(robot.outputs)
        for place, index in enumerate(self._heated):
            winding, case = state[heat + 2 * place], state[heat + 2 * place + 1]
            rises[index] = (robot.air_c + winding, robot.air_c + case)
        extensions = self._extensions()
        return PlantSnapshot(
            seconds=self.seconds, battery_v=state[3], battery_a=seen[0],
            battery_peak_a=max(seen[0], seen[1]), lowest_v=seen[2], charge=state[0],
            cut=state[2] >= LOW_VOLTAGE_S,
            output_a=tuple(seen[3:outputs:3]), output_v=tuple(seen[4:outputs:3]),
            output_peak_a=tuple(seen[5:outputs:3]),
            wheel_mps=tuple(state[13 : 13 + wheels]), wheel_slip_mps=tuple(seen[outputs::2]),
            wheel_n=tuple(seen[outputs + 1 :: 2]), vx=state[4], vy=state[5], turn=state[6],
            x=state[7], y=state[8], yaw=state[9], extension_m=extensions,
            winding_c=tuple(winding for winding, _ in rises), case_c=tuple(case for _, case in rises),
            contacts=closed_contacts(robot, extensions),
        )  # fmt: skip


def closed_contacts(robot: Robot, extensions: Sequence[float]) -> dict[str, bool]:
    """Closed or not, for each contact that an actuator presses at its ends."""
    return {name: bool(closes(extensions[number])) for name, number, closes in _pressed(robot)}


Closes: TypeAlias = Callable[[Any], Any]
"""Whether a contact is closed at an extension, or at those of all lanes."""


def _pressed(robot: Robot) -> Iterator[tuple[str, int, Closes]]:
    """Each contact at an actuator's ends, the actuator's number, and where it closes."""
    for number, actuator in enumerate(robot.actuators):
        if actuator.out_contact is not None:
            yield actuator.out_contact, number, partial(operator.le, actuator.out_at)
        if actuator.in_contact is not None:
            yield actuator.in_contact, number, partial(operator.ge, actuator.in_at)


def contact_readings(plan: Plan, closed: Mapping[str, bool]) -> list[int]:
    """What the board reads at each of the plan's contacts, in their order: the core's end stops.

    A contact that no actuator presses reads open.
    """
    return [contact.level(closed=closed.get(contact.name, False)) for contact in plan.contacts]


class LanePlant:
    """Many equal robots at once, each lane with its own commands and state.

    With `wanted` (names of speeds among states and observations) only these and what they depend on are
    stepped, in single precision, and a lane whose speeds have settled rests until its duties change: its
    battery does not sink meanwhile. All else stays as it was, and so does a lane that was left.
    `native` steps in C, with the same numbers; MissingToolError comes up where there is no compiler.
    """

    def __init__(
        self,
        robot: Robot,
        lanes: int,
        *,
        charge: float | Lanes = 1.0,
        wanted: Sequence[str] = (),
        native: bool = False,
    ) -> None:
        self._native = native
        self._bodies = [robot]
        self._body = np.zeros(lanes, np.intp)
        self.robot = robot
        self.lanes = lanes
        self.layout = plant_layout_of(robot)
        self._wanted = tuple(wanted)
        self._type: np.dtype[np.floating[Any]] = np.dtype(np.float32 if wanted else np.float64)
        self.state: list[Lanes] = [np.full(lanes, value, self._type) for value in self.layout.start]
        self.state[0] = np.broadcast_to(np.asarray(charge, self._type), (lanes,)).copy()
        rest = [robot.battery.rest_volts(float(share)) for share in np.unique(self.state[0])]
        self.state[3] = np.array(rest, self._type)[np.searchsorted(np.unique(self.state[0]), self.state[0])]
        self.seen: list[Lanes] = [np.zeros(lanes, self._type) for _ in self.layout.seen]
        self._told: Lanes | None = None
        self._settled = np.zeros(lanes, np.bool_)
        self._left = np.zeros(lanes, np.bool_)
        names = self.layout.state
        self._speeds = [
            slot for slot, name in enumerate(names) if name.endswith((".speed", "vx", "vy", "turn"))
        ]

    def leave(self, lanes: NDArray[np.bool_]) -> None:
        """With `wanted`: step these lanes no more; (lanes,) flags."""
        self._left |= lanes

    def become(self, robot: Robot, lanes: NDArray[np.bool_]) -> None:
        """Go on with another body, laid out alike, in these lanes; (lanes,) flags."""
        if robot not in self._bodies:
            self._bodies.append(robot)
        self._body[lanes] = self._bodies.index(robot)
        self._settled[lanes] = False

    def run(self, commands: Sequence[NDArray[np.int64] | int], seconds: float) -> None:
        """Apply Q14 commands, one array of shape (lanes,) or one number an output, for a time in s."""
        self.run_duties([np.asarray(command) * (1 / ONE) for command in commands], seconds)

    def run_duties(self, duties: Sequence[Lanes | float], seconds: float) -> None:
        """`run` with duties from -1 to 1."""
        given = np.empty((len(duties), self.lanes), self._type)
        for row, duty in zip(given, duties, strict=True):
            row[:] = duty
        if not self._wanted:
            self._step(given, seconds, np.arange(self.lanes))
            return
        told = self._told
        self._told = given
        awake = ~self._settled if told is None else ~self._settled | (given != told).any(axis=0)
        lanes = np.flatnonzero(awake & ~self._left)
        if len(lanes):
            before = [self.state[slot].take(lanes) for slot in self._speeds]
            self._step(given, seconds, lanes)
            moved = [
                abs(self.state[slot].take(lanes) - was)
                for slot, was in zip(self._speeds, before, strict=True)
            ]
            self._settled[lanes] = np.max(moved, axis=0) < SETTLED_MPS * (seconds / 0.01)

    def _step(self, given: Lanes, seconds: float, lanes: NDArray[np.intp]) -> None:
        bodies = self._body[lanes]
        for number in np.unique(bodies):
            own = lanes[bodies == number]
            self._step_body(self._bodies[number], given.take(own, axis=1), seconds, own)

    def _step_body(self, robot: Robot, given: Lanes, seconds: float, lanes: NDArray[np.intp]) -> None:
        parts, slots = parts_of(seconds), len(self.state)
        function, places = lane_function(robot, seconds / parts, self._wanted, native=self._native)
        state = [part.take(lanes) for part in self.state]
        seen: list[Lanes] = []
        for _ in range(parts):
            seen = []
            for place, part in zip(places, function(state, list(given)), strict=True):
                shaped = part if np.ndim(part) else np.full(given.shape[1], part, self._type)
                if place < slots:
                    state[place] = shaped
                else:
                    seen.append(shaped)
        for place in places:
            if place < slots:
                self.state[place][lanes] = state[place]
        for place, part in zip((place for place in places if place >= slots), seen, strict=True):
            self.seen[place - slots][lanes] = part

    def value(self, name: str) -> Lanes:
        """A state or an observation of all lanes by its name in the layout."""
        if name in self.layout.state:
            return self.state[self.layout.state.index(name)]
        return self.seen[self.layout.seen.index(name)]

    def contacts(self) -> dict[str, NDArray[np.bool_]]:
        """Which end-stop switches are closed, each an array of shape (lanes,)."""
        extensions = [self.value(f"actuator.{one.name}.extension") for one in self.robot.actuators]
        return {name: closes(extensions[number]) for name, number, closes in _pressed(self.robot)}
