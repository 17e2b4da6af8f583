"""A second solution of the robot's equations, written apart from the step: continuous time, solve_ivp.

It shares with the step only the robot's numbers and the laws named in the parts' docstrings. Dry friction
is a steep tanh, the bus voltage a root found at each evaluation, and nothing is linearised or held.
Temperatures stay as they begin: heat has its own exact checks.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from mixer.plant.parts.quantities import COPPER_PER_K, CREEP
from mixer.plant.parts.robot import Robot

Floats = NDArray[np.float64]
SAMPLE_S = 2e-4
"""How often the solution is looked at for peaks."""
STEEP = 5e-4
"""m/s at which a dry friction has reached three quarters of its size."""
Drive = Sequence[tuple[Sequence[float], float]]
"""Duties, one an output, each held for so many s."""


@dataclass
class Seen:
    """What a drive came to."""

    peak_a: float
    output_peak_a: Floats
    lowest_v: float
    charge_ah: float
    way_m: float
    place: tuple[float, float, float]
    extension_m: Floats


def without_heat(robot: Robot) -> Robot:
    """The same robot, its windings staying at the air's temperature."""
    return replace(robot, outputs=tuple(replace(output, heat=None) for output in robot.outputs))


class Machine:
    """The right-hand side.

    State: the pack's charge in As, vx, vy, turn, x, y, yaw, way, wheels, then each nut's place and speed.
    """

    def __init__(self, robot: Robot) -> None:
        self.robot = robot
        wheels, nuts = robot.wheels, robot.actuators
        self.wheels, self.nuts = len(wheels), len(nuts)
        rows = [
            self._unit(
                w.output,
                robot.motors_at(w),
                1 / w.radius,
                w.inertia_kgm2 / w.radius**2,
                w.rolling * w.normal_n,
            )
            for w in wheels
        ]
        for nut in nuts:
            sharing = sum(other.output == nut.output for other in nuts)
            rows.append(
                self._unit(
                    nut.output,
                    robot.outputs[nut.output].count / sharing,
                    2 * math.pi / nut.screw.lead,
                    0.0,
                    0.0,
                )
            )
        names = (
            "output",
            "k",
            "siemens",
            "drop",
            "limit",
            "brakes",
            "eta",
            "back",
            "mass",
            "rub",
            "rotor_rub",
            "ohm",
        )
        self.unit = {name: np.array([row[number] for row in rows]) for number, name in enumerate(names)}
        self.out = self.unit["output"].astype(int)
        self.x, self.y = np.array([w.x for w in wheels]), np.array([w.y for w in wheels])
        self.cos, self.sin = np.cos([w.angle for w in wheels]), np.sin([w.angle for w in wheels])
        self.grip = np.array([w.grip * w.normal_n for w in wheels])
        self.rolls = np.array([w.slides for w in wheels])

    def _unit(
        self, index: int, motors: float, turns: float, own: float, rolling: float
    ) -> tuple[float, ...]:
        robot = self.robot
        if index < 0 or not motors:
            return (-1, 0, 0, 0, 0, 1, 1, 1, own + 1e-3, rolling, 0, 1)
        output = robot.outputs[index]
        motor, gearing, driver = output.motor, output.gearing, output.driver
        assert motor is not None
        turns *= gearing.ratio
        warm = motor.resistance_ohm * (1 + COPPER_PER_K * (robot.air_c - 20))
        ohm = (warm + driver.resistance_ohm * output.count) / motors
        limit = math.inf if driver.limit_a is None else driver.limit_a * motors / output.count
        mass = max(
            own + motors * motor.inertia_kgm2 * turns**2 + 1e-3, 0.002 * motors * motor.damping * turns**2
        )
        return (
            index, motor.constant * turns, 1 / ohm, driver.drop_v, limit, driver.brakes, gearing.efficiency,
            max(gearing.backwards, 0.05), mass, rolling, motor.friction_nm * turns * motors, ohm,
        )  # fmt: skip

    def currents(self, duties: Floats, charge_as: float, speeds: Floats) -> tuple[Floats, float, float]:
        """(each unit's current, battery's current, bus volts) at one instant: a root in the bus volts."""
        unit, battery = self.unit, self.robot.battery
        rest = battery.rest_volts(charge_as / (3600 * battery.capacity_ah))
        duty = np.where(self.out >= 0, duties[self.out], 0.0)
        closed = np.where((duty != 0) | (unit["brakes"] > 0), unit["siemens"], 0.0)
        emf = unit["k"] * speeds

        def at(volts: float) -> tuple[Floats, float]:
            drive = duty * volts - emf
            free = closed * np.sign(drive) * np.maximum(np.abs(drive) - unit["drop"], 0.0)
            amps = np.clip(free, -unit["limit"], unit["limit"])
            power = amps * (emf + np.sign(amps) * unit["drop"] + amps * unit["ohm"])
            return amps, float(power.sum()) / volts + self.robot.idle_a

        low, high = 0.2 * rest, 2.0 * rest
        volts = rest
        for _ in range(60):
            amps, drawn = at(volts)
            off = rest - battery.series_ohm * drawn - volts
            if abs(off) < 1e-6:
                break
            low, high = (volts, high) if off > 0 else (low, volts)
            step = 1e-4
            slope = (rest - battery.series_ohm * at(volts + step)[1] - volts - step - off) / step
            volts = volts - off / slope
            if not low < volts < high:
                volts = (low + high) / 2
        return amps, drawn, volts

    def slope(self, duties: Floats, state: Floats) -> Floats:
        """d(state)/dt."""
        unit, robot, n = self.unit, self.robot, self.wheels
        vx, vy, turn, yaw = state[1], state[2], state[3], state[6]
        places, moving = state[8 + n :: 2], state[9 + n :: 2]
        speeds = np.concatenate([state[8 : 8 + n], moving])
        amps, drawn, _ = self.currents(duties, state[0], speeds)
        sign = np.tanh(speeds / STEEP)
        net = amps * unit["k"] - unit["rotor_rub"] * sign
        helps = 0.5 * (1 + np.tanh(speeds * np.sign(net) / STEEP))
        geared = net * (helps * unit["eta"] + (1 - helps) / unit["back"])
        after = np.zeros_like(state)
        ground = np.stack([vx - turn * self.y, vy + turn * self.x])
        along = ground[0] * self.cos + ground[1] * self.sin
        across = np.where(self.rolls, 0.0, ground[1] * self.cos - ground[0] * self.sin)
        slip = speeds[:n] - along
        share = self.grip / np.sqrt(slip**2 + across**2 + CREEP**2)
        push, drag = share * slip, -share * across
        fx, fy = push * self.cos - drag * self.sin, push * self.sin + drag * self.cos
        after[8 : 8 + n] = (geared[:n] - unit["rub"][:n] * sign[:n] - push) / unit["mass"][:n]
        after[1], after[2] = fx.sum() / robot.mass_kg + turn * vy, fy.sum() / robot.mass_kg - turn * vx
        after[3] = (fy * self.x - fx * self.y).sum() / robot.yaw_inertia_kgm2
        after[4], after[5] = (
            vx * math.cos(yaw) - vy * math.sin(yaw),
            vx * math.sin(yaw) + vy * math.cos(yaw),
        )
        after[6], after[7], after[0] = turn, math.hypot(vx, vy), -drawn
        for number, nut in enumerate(robot.actuators):
            after[8 + n + 2 * number] = moving[number]
            load, place = self._load(number, places), places[number]
            torque = nut.screw.torque_to_raise(1.0), nut.screw.torque_to_lower(1.0)
            around = 2 * math.pi / nut.screw.lead
            middle, band = (
                load * (torque[0] - torque[1]) / 2 * around,
                abs(load) * (torque[0] + torque[1]) / 2 * around,
            )
            end = 1e7 * max(place - nut.travel, 0) + 1e7 * min(place, 0)
            end += 3e4 * moving[number] if not 0 < place < nut.travel else 0.0
            force = geared[n + number] - middle - band * sign[n + number] - end
            after[9 + n + 2 * number] = force / unit["mass"][n + number]
        return after

    def _load(self, number: int, places: Floats) -> float:
        load = 0.0
        for lift in self.robot.lifts:
            if number in lift.actuators:
                mean = sum(places[index] for index in lift.actuators) / len(lift.actuators)
                load += lift.linkage.ratio(places[number]) * lift.load_n / len(lift.actuators)
                load += (places[number] - mean) * lift.stiffness
        return load

    def run(self, drive: Drive, rtol: float = 1e-6) -> Seen:
        """The whole drive from rest, a new start of the solver at each change of the duties."""
        robot, n = self.robot, self.wheels
        full = 3600 * robot.battery.capacity_ah
        state = np.zeros(8 + n + 2 * self.nuts)
        state[0] = full
        state[8 + n :: 2] = [nut.start for nut in robot.actuators]
        peak, lowest, peaks = 0.0, math.inf, np.zeros(len(robot.outputs))
        for given, seconds in drive:
            duties = np.array(given, float)
            times = np.linspace(0, seconds, max(2, round(seconds / SAMPLE_S) + 1))
            found = solve_ivp(
                lambda _, s, d=duties: self.slope(d, s),
                (0, seconds),
                state,
                "LSODA",
                times,
                rtol=rtol,
                atol=1e-7,
            )
            for row in found.y.T:
                speeds = np.concatenate([row[8 : 8 + n], row[9 + n :: 2]])
                amps, drawn, volts = self.currents(duties, row[0], speeds)
                peak, lowest = max(peak, drawn), min(lowest, volts)
                sums = np.bincount(np.maximum(self.out, 0), np.where(self.out >= 0, amps, 0.0), len(peaks))
                peaks = np.maximum(peaks, np.abs(sums))
            state = found.y[:, -1]
        return Seen(
            peak,
            peaks,
            lowest,
            (full - state[0]) / 3600,
            state[7],
            (state[4], state[5], state[6]),
            state[8 + n :: 2],
        )
