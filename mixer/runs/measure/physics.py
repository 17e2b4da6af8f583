"""A log replayed with the physics in the loop: what it did to battery, motors, floor and actuators."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mixer.plant.parts.robot import Output, Robot
from mixer.plant.step.energy import kinetic_joules
from mixer.plant.step.layout import ENERGIES, plant_layout_of
from mixer.runs.play.stretch import Floats, Stretch

STALL_SHARE = 0.8
"""An output draws at least this share of its stall current at the present volts: it counts as stalled."""
STALL_V = 1.0
"""Volts below which nobody asks whether it turns."""
SLIDING_MPS = 0.05
COOL_C = 25.0
"""The temperature of copper where nothing says it."""


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
    turned_deg: float
    """How far it turned, both ways together."""
    slipping_s: float
    hottest: tuple[str, float] | None
    """Output and °C."""
    outputs: tuple[OutputPhysics, ...]
    """Those whose motor the physics turns."""
    extension_m: dict[str, float]
    """Each actuator at the end."""
    energy_j: dict[str, float]
    """Where the battery's energy went."""
    unbalanced: float
    """Share of the battery's energy that the books do not explain."""


def plant_columns(robot: Robot) -> tuple[str, ...]:
    """Names of the plant's state and observations, in the order of `Stretch.plant`."""
    layout = plant_layout_of(robot)
    return layout.state + layout.seen


class PhysicsMeasures:
    """Sums a drive up, stretch by stretch."""

    def __init__(self, robot: Robot, tick_ms: int) -> None:
        self._robot, self._tick_s = robot, tick_ms / 1000
        self._place = {name: place for place, name in enumerate(plant_columns(robot))}
        self._seconds = self._charge_ah = self._peak_a = self._distance = self._top_speed = 0.0
        self._slipping_s, self._turned, self._lowest_v = 0.0, 0.0, math.inf
        self._outputs = [_OutputSums() for _ in robot.outputs]
        self._last: dict[str, float] = {}

    def add(self, stretch: Stretch) -> None:
        """The next stretch of a run with physics."""
        if stretch.plant is None or not len(stretch.plant):
            return
        plant, place = stretch.plant, self._place
        current = plant[:, place["battery_a"]]
        self._seconds += len(plant) * self._tick_s
        self._charge_ah += float(current.sum()) * self._tick_s / 3600
        self._peak_a = max(self._peak_a, float(plant[:, place["battery_first_a"]].max()))
        self._lowest_v = min(self._lowest_v, float(plant[:, place["lowest_v"]].min()))
        speed = np.hypot(plant[:, place["vx"]], plant[:, place["vy"]])
        self._distance += float(speed.sum()) * self._tick_s
        self._top_speed = max(self._top_speed, float(speed.max()))
        self._turned += float(np.abs(plant[:, place["turn"]]).sum()) * self._tick_s
        slips = [place[f"wheel.{wheel.name}.slip"] for wheel in self._robot.wheels]
        sliding = (np.abs(plant[:, slips]) > SLIDING_MPS).any(axis=1)
        self._slipping_s += int(np.count_nonzero(sliding)) * self._tick_s
        for output, sums in zip(self._robot.outputs, self._outputs, strict=True):
            self._add_output(output, sums, plant)
        self._last = dict(zip(place, plant[-1].tolist(), strict=True))

    def _add_output(self, output: Output, sums: "_OutputSums", plant: Floats) -> None:
        current = np.abs(plant[:, self._place[f"output.{output.name}.current"]])
        rise = self._place.get(f"output.{output.name}.winding_rise")
        winding = None if rise is None else self._robot.air_c + plant[:, rise]
        peaks = plant[:, self._place[f"output.{output.name}.peak"]]
        sums.peak_a = max(sums.peak_a, float(peaks.max()))
        sums.square_a += float((current * current).sum()) * self._tick_s
        if output.motor is not None:
            volts = np.abs(plant[:, self._place[f"output.{output.name}.volts"]])
            stalled = near_stall(output, current, volts, winding)
            sums.stalled_s += int(np.count_nonzero(stalled)) * self._tick_s
        if winding is not None:
            sums.hottest_c = max(sums.hottest_c or -math.inf, float(winding.max()))

    def summary(self) -> PhysicsSummary:
        """What has been seen so far."""
        robot, last = self._robot, self._last
        energies = {name: last.get(f"energy.{name}", 0.0) for name in ENERGIES}
        energies["kinetic"] = kinetic_joules(robot, last) if last else 0.0
        spent = sum(joules for name, joules in energies.items() if name != "battery")
        given = energies["battery"]
        heated = [(o.hottest_c, r.name) for o, r in zip(self._outputs, robot.outputs, strict=True)]
        hot = [(name, celsius) for celsius, name in heated if celsius is not None]
        return PhysicsSummary(
            charge_ah=self._charge_ah,
            charge_left=last.get("charge", 1.0),
            peak_a=self._peak_a,
            lowest_v=self._lowest_v,
            top_speed_mps=self._top_speed,
            distance_m=self._distance,
            turned_deg=math.degrees(self._turned),
            slipping_s=self._slipping_s,
            hottest=max(hot, key=lambda one: one[1]) if hot else None,
            outputs=tuple(
                sums.told(output.name, self._seconds)
                for output, sums in zip(robot.outputs, self._outputs, strict=True)
                if output.motor is not None
            ),
            extension_m={a.name: last.get(f"actuator.{a.name}.extension", 0.0) for a in robot.actuators},
            energy_j=energies,
            unbalanced=abs(given - spent) / abs(given) if given else 0.0,
        )


@dataclass(slots=True)
class _OutputSums:
    peak_a: float = 0.0
    square_a: float = 0.0
    """Sum of current squared x time."""
    stalled_s: float = 0.0
    hottest_c: float | None = None

    def told(self, name: str, seconds: float) -> OutputPhysics:
        effective = math.sqrt(self.square_a / seconds) if seconds else 0.0
        return OutputPhysics(name, self.peak_a, effective, self.stalled_s, self.hottest_c)


def near_stall(
    output: Output, current: Floats, volts: Floats, winding_c: Floats | None
) -> NDArray[np.bool_]:
    """In which ticks an output with a motor draws nearly its stall current; magnitudes in A and V."""
    stalled: NDArray[np.bool_] = current * _warm_ohm(output, winding_c) > STALL_SHARE * volts
    return stalled & (volts >= STALL_V)


def _warm_ohm(output: Output, winding_c: Floats | None) -> Floats | float:
    """Resistance from terminal to terminal at each tick's temperature: linear, as copper's is."""
    assert output.motor is not None
    motor = output.motor.parallel(output.count)
    cold = motor.at_temperature(COOL_C).resistance_ohm + output.driver.resistance_ohm
    if winding_c is None:
        return cold
    per_c = (motor.at_temperature(COOL_C + 100).resistance_ohm + output.driver.resistance_ohm - cold) / 100
    return cold + per_c * (winding_c - COOL_C)
