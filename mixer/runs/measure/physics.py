"""A log replayed with the physics in the loop: what it did to battery, motors, floor and actuators."""

from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from math import hypot
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mixer.plant.parts.robot import Robot
from mixer.plant.sizing.measures import Measures
from mixer.plant.step.layout import layout_of
from mixer.runs.play.closed_loop import ClosedLoop
from mixer.runs.play.feed import Chunk
from mixer.runs.play.replay import Played

Floats = NDArray[np.float64]


class PhysicsPlayed(NamedTuple):
    """A stretch of what firmware and robot did."""

    played: Played
    plant: Floats
    """(ticks, columns), in the order of `plant_columns`."""


@dataclass(frozen=True, slots=True)
class OutputPhysics:
    """One output over the whole drive."""

    name: str
    peak_a: float
    effective_a: float
    """Root mean square current."""
    stalled_s: float
    hottest_c: float | None
    """None without thermal data."""


@dataclass(frozen=True, slots=True)
class PhysicsSummary:
    """The drive in the robot's own units."""

    charge_ah: float
    charge_left: float
    """Share of the pack."""
    peak_a: float
    lowest_v: float
    top_speed_mps: float
    distance_m: float
    """Length of the path of the robot's middle."""
    slipping_s: float
    hottest: tuple[str, float] | None
    """Output and °C."""
    outputs: tuple[OutputPhysics, ...]
    extension_m: dict[str, float]
    """Each actuator at the end."""
    energy_j: dict[str, float]
    """Where the battery's energy went."""
    unbalanced: float
    """Share of the battery's energy that the books do not explain."""

    def to_dict(self) -> dict[str, Any]:
        """The same as plain dictionaries, lists, numbers and words, ready for JSON."""
        return asdict(self)


def plant_columns(robot: Robot) -> tuple[str, ...]:
    """Names of the plant's state and observations, in the order of `PhysicsPlayed.plant`."""
    layout = layout_of(robot)
    return layout.state + layout.seen


class PhysicsReplay:
    """Plays chunks through a closed loop and sums the drive up on the way."""

    def __init__(self, loop: ClosedLoop) -> None:
        self._loop = loop
        self._measures = Measures(loop.plant.robot)
        self._distance = self._top_speed = 0.0
        self._start = loop.plant.energies()["kinetic"]

    def plays(self, chunks: Iterable[Chunk]) -> Iterator[PhysicsPlayed]:
        """Every chunk, tick by tick."""
        loop, plant = self._loop, self._loop.plant
        for first_tick, inputs in chunks:
            signals = np.empty((len(inputs), len(loop.engine.layout.signals)), dtype=np.int32)
            states = np.empty((len(inputs), len(plant_columns(plant.robot))))
            for tick, read in enumerate(inputs.tolist()):
                signals[tick] = loop.step(read)
                states[tick] = (*plant.state, *plant.seen)
                self._add()
            yield PhysicsPlayed(Played(first_tick, signals, inputs), states)

    def _add(self) -> None:
        seen = self._loop.plant.snapshot()
        self._measures.add(seen, self._loop.tick_s)
        speed = hypot(seen.vx, seen.vy)
        self._distance += speed * self._loop.tick_s
        self._top_speed = max(self._top_speed, speed)

    def summary(self) -> PhysicsSummary:
        """What has been played so far."""
        measures, plant = self._measures, self._loop.plant
        seen = plant.snapshot()
        energies = plant.energies()
        spent = sum(joules for name, joules in energies.items() if name != "battery") - self._start
        given = energies["battery"]
        return PhysicsSummary(
            charge_ah=measures.charge_ah,
            charge_left=seen.charge,
            peak_a=measures.peak_a,
            lowest_v=measures.lowest_v,
            top_speed_mps=self._top_speed,
            distance_m=self._distance,
            slipping_s=measures.slipping_s,
            hottest=measures.hottest(),
            outputs=tuple(self._output(index) for index in range(len(plant.robot.outputs))),
            extension_m={
                actuator.name: extension
                for actuator, extension in zip(plant.robot.actuators, seen.extension_m, strict=True)
            },
            energy_j=energies,
            unbalanced=abs(given - spent) / abs(given) if given else 0.0,
        )

    def _output(self, index: int) -> OutputPhysics:
        measures = self._measures
        return OutputPhysics(
            measures.robot.outputs[index].name,
            measures.peak_output_a[index],
            measures.effective_a(index),
            measures.stalled_s[index],
            measures.hottest_c[index],
        )
