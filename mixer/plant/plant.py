"""The plant: a robot's physics stepped in time, one robot on floats or many lanes on arrays.

The step is traced once for a robot and a step length and compiled (see `lowering`), so that stepping is
straight-line arithmetic. `Plant` keeps the state of one robot; `LanePlant` of many, in arrays of shape
(lanes,). Commands are Q14 integers as the core puts them out (ONE = full), one an output.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from mixer.core.ops import ONE
from mixer.core.plan import Plan
from mixer.plant.parts.quantities import require
from mixer.plant.robot import Robot
from mixer.plant.step.advance import LOW_VOLTAGE_S, trace_step
from mixer.plant.step.energy import kinetic_joules
from mixer.plant.step.layout import ENERGIES, heated_outputs, layout_of
from mixer.plant.step.lowering import StepFunction, compile_step

LONGEST_STEP_S = 0.02
"""Longest step taken in one go; longer ones are split."""
Lanes = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Snapshot:
    """What can be seen of one robot at a time. Tuples follow the robot's outputs, wheels, actuators."""

    seconds: float
    battery_v: float
    battery_a: float
    charge: float
    """Share of the pack's charge that is left."""
    cut: bool
    """Whether the low-voltage stop has cut the drives."""
    output_a: tuple[float, ...]
    output_v: tuple[float, ...]
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
def step_function(robot: Robot, seconds: float, *, arrays: bool) -> StepFunction:
    """The compiled step of a robot (worked out once)."""
    require(
        0 < seconds <= LONGEST_STEP_S, "step", f"{seconds:g} s", f"more than 0, at most {LONGEST_STEP_S} s"
    )
    trace, results = trace_step(robot, seconds)
    return compile_step(trace, results, arrays=arrays)


class Plant:
    """One robot. `state` is the flat state of `layout_of(robot)` and may be read, kept and put back."""

    def __init__(self, robot: Robot, *, charge: float = 1.0) -> None:
        self.robot = robot
        self.layout = layout_of(robot)
        self._heated = heated_outputs(robot)
        self._compiled: tuple[Robot, float, StepFunction] | None = None
        self.reset(charge)

    def reset(self, charge: float = 1.0) -> None:
        """Stand still, cold, at the start pose, with a share of the charge."""
        self.state: list[float] = list(self.layout.start)
        self.state[0] = charge
        self.state[3] = self.robot.battery.rest_volts(charge)
        self.seen: list[float] = [0.0] * len(self.layout.seen)
        self.seconds = 0.0

    def step(self, commands: Sequence[int], seconds: float) -> Snapshot:
        """Apply Q14 commands for a time (in s) and tell what can be seen at its end."""
        self.run(commands, seconds)
        return self.snapshot()

    def step_duties(self, duties: Sequence[float], seconds: float) -> Snapshot:
        """`step` with duties from -1 to 1."""
        self.run_duties(duties, seconds)
        return self.snapshot()

    def run(self, commands: Sequence[int], seconds: float) -> None:
        """`step` without looking."""
        self.run_duties([command * (1 / ONE) for command in commands], seconds)

    def run_duties(self, duties: Sequence[float], seconds: float) -> None:
        """`run` with duties from -1 to 1."""
        parts = max(1, -int(-seconds // LONGEST_STEP_S))
        function = self._step(seconds / parts)
        for _ in range(parts):
            result = function(self.state, duties)
            self.state = result[: len(self.state)]
        self.seen = result[len(self.state) :]
        self.seconds += seconds

    def _step(self, seconds: float) -> StepFunction:
        # Kept at hand, because looking it up hashes the whole robot: a third of a step's time.
        robot, length, function = self._compiled or (None, 0.0, None)
        if function is None or robot is not self.robot or length != seconds:
            function = step_function(self.robot, seconds, arrays=False)
            self._compiled = self.robot, seconds, function
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

    def snapshot(self) -> Snapshot:
        """What can be seen now."""
        robot, state, seen = self.robot, self.state, self.seen
        wheels = len(robot.wheels)
        outputs = 1 + 2 * len(robot.outputs)
        heat = 13 + wheels + 2 * len(robot.actuators)
        rises: list[tuple[float | None, float | None]] = [(None, None)] * len(robot.outputs)
        for place, index in enumerate(self._heated):
            winding, case = state[heat + 2 * place], state[heat + 2 * place + 1]
            rises[index] = (robot.air_c + winding, robot.air_c + case)
        extensions = self._extensions()
        return Snapshot(
            seconds=self.seconds, battery_v=state[3], battery_a=seen[0], charge=state[0],
            cut=state[2] >= LOW_VOLTAGE_S,
            output_a=tuple(seen[1:outputs:2]), output_v=tuple(seen[2:outputs:2]),
            wheel_mps=tuple(state[13 : 13 + wheels]), wheel_slip_mps=tuple(seen[outputs::2]),
            wheel_n=tuple(seen[outputs + 1 :: 2]), vx=state[4], vy=state[5], turn=state[6],
            x=state[7], y=state[8], yaw=state[9], extension_m=extensions,
            winding_c=tuple(winding for winding, _ in rises), case_c=tuple(case for _, case in rises),
            contacts=closed_contacts(robot, extensions),
        )  # fmt: skip


def closed_contacts(robot: Robot, extensions: Sequence[float]) -> dict[str, bool]:
    """Closed or not, for each contact that an actuator presses at its ends."""
    contacts: dict[str, bool] = {}
    for actuator, extension in zip(robot.actuators, extensions, strict=True):
        if actuator.out_contact is not None:
            contacts[actuator.out_contact] = extension >= actuator.out_at
        if actuator.in_contact is not None:
            contacts[actuator.in_contact] = extension <= actuator.in_at
    return contacts


def contact_readings(plan: Plan, closed: Mapping[str, bool]) -> list[int]:
    """What the board reads at each of the plan's contacts, in their order: the core's end stops.

    A contact that no actuator presses reads open.
    """
    return [contact.level(closed=closed.get(contact.name, False)) for contact in plan.contacts]


class LanePlant:
    """Many equal robots at once, each lane with its own commands and state."""

    def __init__(self, robot: Robot, lanes: int, *, charge: float | Lanes = 1.0) -> None:
        self.robot = robot
        self.lanes = lanes
        self.layout = layout_of(robot)
        self.state: list[Lanes] = [np.full(lanes, value) for value in self.layout.start]
        self.state[0] = np.broadcast_to(np.asarray(charge, float), (lanes,)).copy()
        rest = [robot.battery.rest_volts(float(share)) for share in np.unique(self.state[0])]
        self.state[3] = np.array(rest)[np.searchsorted(np.unique(self.state[0]), self.state[0])]
        self.seen: list[Lanes] = [np.zeros(lanes) for _ in self.layout.seen]

    def run(self, commands: Sequence[NDArray[np.int64] | int], seconds: float) -> None:
        """Apply Q14 commands, one array of shape (lanes,) or one number an output, for a time in s."""
        self.run_duties([np.asarray(command) * (1 / ONE) for command in commands], seconds)

    def run_duties(self, duties: Sequence[Lanes | float], seconds: float) -> None:
        """`run` with duties from -1 to 1."""
        function = step_function(self.robot, seconds, arrays=True)
        given = [np.broadcast_to(np.asarray(duty, float), (self.lanes,)) for duty in duties]
        result = function(self.state, given)
        shaped = [part if np.ndim(part) else np.full(self.lanes, part) for part in result]
        self.state, self.seen = shaped[: len(self.state)], shaped[len(self.state) :]

    def value(self, name: str) -> Lanes:
        """A state or an observation of all lanes by its name in the layout."""
        if name in self.layout.state:
            return self.state[self.layout.state.index(name)]
        return self.seen[self.layout.seen.index(name)]

    def contacts(self) -> dict[str, NDArray[np.bool_]]:
        """Which end-stop switches are closed, each an array of shape (lanes,)."""
        contacts: dict[str, NDArray[np.bool_]] = {}
        for actuator in self.robot.actuators:
            extension = self.value(f"actuator.{actuator.name}.extension")
            if actuator.out_contact is not None:
                contacts[actuator.out_contact] = extension >= actuator.out_at
            if actuator.in_contact is not None:
                contacts[actuator.in_contact] = extension <= actuator.in_at
        return contacts
