"""The electrical side of a step: each unit's circuit, the bus volts that satisfy all, the currents.

Kirchhoff's laws over a battery with series resistance and averaged bridges (see `driver`, `battery`).
"""

from typing import NamedTuple

from mixer.plant.robot import Robot
from mixer.plant.step.trace import Arithmetic, Value
from mixer.plant.step.units import Unit

DIODE_V = 0.7
"""Volts across the diode that lets a stopped actuator back."""


class Circuit(NamedTuple):
    """A unit's circuit in one step. `siemens` is of all its motors together, 0 while open."""

    unit: Unit
    duty: Value
    dead: Value
    """Volts lost to drop and diode, signed like the drive."""
    ohm: Value
    """Winding resistance of one motor, warm."""
    siemens: Value
    limited: Value
    """Whether the channel limits its current, and to what (signed); None without a limit."""
    limit: Value
    emf: Value
    gear: Value
    """Factor from electrical torque to torque behind the gearing: its efficiency, 1 while braking."""
    drag: Value
    """Dry friction of a gearing that the load drives, in N."""

    def draw(self, ops: Arithmetic, bus_v: Value, current: Value, speed: Value) -> Value:
        """What the bus gives for a motor current: duty x current, or the power over volts when limited."""
        if self.limited is None:
            return self.duty * current
        held = current * (self.unit.per_amp * speed + self.dead + current * self.all_ohm) / bus_v
        return ops.select(self.limited, held, self.duty * current)

    @property
    def all_ohm(self) -> Value:
        """Resistance in the path of the unit's whole current."""
        return (self.ohm + self.unit.channel_ohm) * (1 / self.unit.motors)

    def copper(self, current: Value) -> Value:
        """Heat in the windings, W."""
        return current * current * self.ohm * (1 / self.unit.motors)


def circuit_of(
    ops: Arithmetic, unit: Unit, duty: Value, speed: Value, warm: Value, bus_v: Value,
    ends: tuple[Value, Value] | None,
) -> Circuit:  # fmt: skip
    """The circuit at the last step's speed; `ends` are (in, out) switches with diodes in the circuit."""
    if not unit.motors:
        return Circuit(unit, 0.0, 0.0, 1.0, 0.0, None, 0.0, 0.0, 1.0, 0.0)
    ohm = unit.cold_ohm * warm
    siemens = unit.motors / (ohm + unit.channel_ohm)
    emf = unit.per_amp * speed
    volts = duty * bus_v
    dead = ops.clamp(volts, -unit.drop, unit.drop)
    if not unit.brakes:
        siemens = ops.select(duty * duty > 1e-12, siemens, 0.0)
    if ends is not None:
        at_in, at_out = ends
        ahead = volts - dead - emf > 0
        behind = volts - dead - emf < 0
        siemens = ops.select((at_out & ahead) | (at_in & behind), 0.0, siemens)
        diode = ops.clamp(volts - dead, -DIODE_V, DIODE_V)
        dead = dead + ops.select(at_out | at_in, diode, 0.0)
    current = (volts - dead - emf) * siemens
    limited, limit = None, 0.0
    if unit.limit is not None:
        limited = abs(current) > unit.limit
        limit = ops.clamp(current, -unit.limit, unit.limit)
    gear: Value = 1.0
    drag: Value = 0.0
    if unit.driving < 1:
        drives = current * speed >= 0
        gear = ops.select(drives, unit.driving, 1.0)
        drag = ops.select(drives, 0.0, abs(current) * (unit.per_amp * unit.holding))
    return Circuit(unit, duty, dead, ohm, siemens, limited, limit, emf, gear, drag)


def solve_bus(robot: Robot, circuits: list[Circuit], rest_v: Value) -> Value:
    """Volts at the end of the leads that agree with the currents they cause."""
    ohm = robot.battery.series_ohm
    if not ohm:
        return rest_v
    slope: Value = 0.0
    given: Value = -robot.idle_a
    for circuit in circuits:
        if not circuit.unit.motors:
            continue
        share = circuit.duty * circuit.siemens
        if circuit.limited is None:
            slope = slope + share * circuit.duty
            given = given + share * (circuit.emf + circuit.dead)
        else:
            given = given - _limited_share(circuit, rest_v)
            free = 1.0 - _flag(circuit)
            slope = slope + share * circuit.duty * free
            given = given + share * (circuit.emf + circuit.dead) * free
    return (rest_v + ohm * given) / (1.0 + ohm * slope)


def _flag(circuit: Circuit) -> Value:
    return circuit.limited * 1.0


def _limited_share(circuit: Circuit, rest_v: Value) -> Value:
    power = circuit.limit * (circuit.emf + circuit.dead + circuit.limit * circuit.all_ohm)
    return power / rest_v * _flag(circuit)


def force_line(ops: Arithmetic, circuit: Circuit, bus_v: Value) -> tuple[Value, Value]:
    """(f, b): force f - b·speed that the unit's motors give behind the gearing, viscous loss included."""
    unit = circuit.unit
    if not unit.motors:
        return 0.0, 0.0
    per_amp = unit.per_amp * circuit.gear
    volts = circuit.duty * bus_v - circuit.dead
    force = per_amp * circuit.siemens * volts
    slope = per_amp * circuit.siemens * unit.per_amp + unit.viscous
    if circuit.limited is not None:
        force = ops.select(circuit.limited, per_amp * circuit.limit, force)
        slope = ops.select(circuit.limited, unit.viscous, slope)
    return force, slope


def current_at(ops: Arithmetic, circuit: Circuit, bus_v: Value, speed: Value) -> Value:
    """Current of all the unit's motors at the new speed, in A."""
    unit = circuit.unit
    if not unit.motors:
        return 0.0
    current = (circuit.duty * bus_v - circuit.dead - unit.per_amp * speed) * circuit.siemens
    if circuit.limited is None:
        return current
    return ops.select(circuit.limited, circuit.limit, current)
