"""The electrical side of a step: each unit's circuit, the bus volts that satisfy all, the currents.

Kirchhoff's laws over a battery with series resistance and averaged bridges (see `driver`, `battery`).
At one instant a unit that moves at u takes I = clamp(g·(e - clamp(e, ±drop)), ±limit) with e = d·V - K·u:
the drop always stands against the current, and a channel at its limit lowers its own duty until the
current fits. Its share of the battery's current is the power over the volts, which without a limit is d·I;
with one it is less, so that the battery never gives more than the sum of duty x limit.
"""

from typing import NamedTuple

from mixer.plant.parts.robot import Robot
from mixer.plant.step.trace import Arithmetic, Value
from mixer.plant.step.units import Unit

AT_REST_MPS = 1e-5
"""Slower than this a unit is about to turn round: what pushes it drives it, no gearing holds it."""
DIODE_V = 0.7
"""Volts across the diode that lets a stopped actuator back."""


class Circuit(NamedTuple):
    """A unit's circuit in one step."""

    unit: Unit
    duty: Value
    ohm: Value
    """Winding resistance of one motor, warm."""
    siemens: Value
    """Of all its motors together, 0 while open."""
    drop: Value
    """Volts that bridge and diode keep back."""

    @property
    def all_ohm(self) -> Value:
        """Resistance in the path of the unit's whole current."""
        return (self.ohm + self.unit.channel_ohm) * (1 / self.unit.motors)

    def copper(self, current: Value) -> Value:
        """Heat in the windings, W."""
        return current * current * self.ohm * (1 / self.unit.motors)

    def bridge(self, current: Value) -> Value:
        """Heat in bridge and diode, W."""
        return current * current * (self.unit.channel_ohm / self.unit.motors) + abs(current) * self.drop

    def driving(self, bus_v: Value, speed: Value) -> Value:
        """Volts that drive the current: d·V - K·u."""
        return self.duty * bus_v - self.unit.per_amp * speed

    def current(self, ops: Arithmetic, bus_v: Value, speed: Value) -> Value:
        """Current of all the unit's motors at an instant, in A."""
        if not self.unit.motors:
            return 0.0
        volts = self.driving(bus_v, speed)
        free = (volts - ops.clamp(volts, -self.drop, self.drop)) * self.siemens
        limit = self.unit.limit
        return free if limit is None else ops.clamp(free, -limit, limit)

    def power(self, current: Value, speed: Value) -> Value:
        """What the bus gives at a current and a speed, in W; negative while it is charged."""
        return current * (self.unit.per_amp * speed) + self.copper(current) + self.bridge(current)


def circuit_of(
    ops: Arithmetic, unit: Unit, duty: Value, warm: Value, driving: Value,
    ends: tuple[Value, Value] | None,
) -> Circuit:  # fmt: skip
    """The circuit of a step; `ends` are (in, out) switches with diodes in the circuit.

    `driving` is the direction of the current to be expected, as the last step's driving volts.
    """
    if not unit.motors:
        return Circuit(unit, 0.0, 1.0, 0.0, 0.0)
    ohm = unit.cold_ohm * warm
    siemens, drop = unit.motors / (ohm + unit.channel_ohm), unit.driver.drop_v
    if not unit.driver.brakes:
        siemens = ops.select(duty * duty > 1e-12, siemens, 0.0)
    if ends is not None:
        at_in, at_out = ends
        siemens = ops.select((at_out & (driving > 0)) | (at_in & (driving < 0)), 0.0, siemens)
        drop = ops.select(at_out | at_in, drop + DIODE_V, drop)
    return Circuit(unit, duty, ohm, siemens, drop)


def solve_bus(
    robot: Robot, ops: Arithmetic, circuits: list[Circuit], speeds: list[Value], rest_v: Value,
    guess: Value, rounds: int,
) -> Value:  # fmt: skip
    """Volts at the end of the leads that agree with the currents they cause at these speeds (Newton)."""
    ohm = robot.battery.series_ohm
    if not ohm:
        return rest_v
    volts = guess
    for _ in range(rounds):
        slope: Value = 0.0
        given: Value = robot.idle_a
        for circuit, speed in zip(circuits, speeds, strict=True):
            if circuit.unit.motors:
                drawn, rise = _draw_line(ops, circuit, volts, speed)
                given, slope = given + drawn, slope + rise
        volts = (rest_v - ohm * given) / (1.0 + ohm * slope)
    return volts


def _draw_line(ops: Arithmetic, circuit: Circuit, volts: Value, speed: Value) -> tuple[Value, Value]:
    """(a, b): the unit's share of the battery's current is a + b·V near these volts."""
    unit, duty, limit = circuit.unit, circuit.duty, circuit.unit.limit
    emf = unit.per_amp * speed
    over = duty * volts - emf
    dead = ops.clamp(over, -circuit.drop, circuit.drop)
    share = duty * circuit.siemens
    drawn, rise = -(share * (emf + dead)), share * duty
    if limit is None:
        return drawn, rise
    free = (over - dead) * circuit.siemens
    held = ops.clamp(free, -limit, limit)
    limited = abs(free) > limit
    amps = held * (emf + dead + held * circuit.all_ohm) / volts
    return ops.select(limited, amps, drawn), ops.select(limited, 0.0, rise)


def force_line(ops: Arithmetic, circuit: Circuit, bus_v: Value, speed: Value) -> tuple[Value, Value]:
    """(f, b): force f - b·u of the unit's motors before gear losses near a speed, viscous loss included."""
    unit = circuit.unit
    if not unit.motors:
        return 0.0, 0.0
    volts = circuit.driving(bus_v, speed)
    dead = ops.clamp(volts, -circuit.drop, circuit.drop)
    force = unit.per_amp * circuit.siemens * (circuit.duty * bus_v - dead)
    slope = unit.per_amp * circuit.siemens * unit.per_amp
    limit = unit.limit
    if limit is not None:
        free = (volts - dead) * circuit.siemens
        limited = abs(free) > limit
        force = ops.select(limited, unit.per_amp * ops.clamp(free, -limit, limit), force)
        slope = ops.select(limited, 0.0, slope)
    return force, slope


class Drive(NamedTuple):
    """What a unit's motors do in a step: force f - b·u behind the gearing, with the friction they bring."""

    force: Value
    slope: Value
    gear: Value
    """Factor from force before the gearing to force behind it: its efficiency, 1 while the load drives."""
    rub: Value
    """Dry friction in N: rotor, gearing, rolling loss, motors dragged along."""


def drive_of(ops: Arithmetic, circuit: Circuit, bus_v: Value, speed: Value) -> Drive:
    """The drive near a speed.

    The motor drives while its force has the way's sign and exceeds its own friction; else the load drives
    what is left of both backwards through the gearing.
    """
    unit, gearing = circuit.unit, circuit.unit.gearing
    carried = unit.rolling + unit.dragged
    if not unit.motors:
        return Drive(0.0, 0.0, 1.0, carried)
    force, slope = force_line(ops, circuit, bus_v, speed)
    if gearing.efficiency == 1:
        return Drive(force, slope + unit.viscous, 1.0, unit.rotor_rub + carried)
    push = unit.per_amp * circuit.current(ops, bus_v, speed)
    against = push * speed < -AT_REST_MPS * abs(push)
    drives = ops.select(against, 0.0, ops.select(abs(push) < unit.rotor_rub, 0.0, 1.0)) > 0.5
    held = unit.rotor_rub + ops.select(against, abs(push), -abs(push))
    held = ops.select(held > 0, held, 0.0) * gearing.holding + unit.rotor_rub
    gear = ops.select(drives, gearing.efficiency, 1.0)
    rub = ops.select(drives, gearing.efficiency * unit.rotor_rub, held) + carried
    return Drive(force * gear, slope * gear + unit.viscous, gear, rub)


class Moved(NamedTuple):
    """A unit after a step."""

    speed: Value
    middle: Value
    """The speed at which its current was taken."""
    current: Value


def moved_by(
    ops: Arithmetic, circuit: Circuit, drive: Drive, bus_v: Value, ways: tuple[Value, Value],
    taken: Value, seconds: float,
) -> Moved:  # fmt: skip
    """The unit whose line took it from `ways[0]` to `ways[1]` against the forces `taken`, in N.

    Its speed follows from the current it really has at the step's middle, where a limit, a drop and the
    volts may have bent the line.
    """
    unit, (before, after) = circuit.unit, ways
    middle = unit.halfway(before, after, seconds)
    current = circuit.current(ops, bus_v, middle)
    if unit.motors:
        push = unit.per_amp * current * drive.gear - unit.viscous * middle - taken
        after = before + push * (seconds / unit.mass)
    return Moved(after, middle, current)
