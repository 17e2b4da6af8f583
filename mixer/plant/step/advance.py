"""The coupled step: duties -> motor currents -> battery current -> sag -> forces -> speeds.

Written once over plain arithmetic (see `trace`). Per step, with everything of the last step known:

1. Bus volts at the step's first instant, with the speeds and duties of that instant (see `electric`).
2. Each unit (motors with what they move) gives, at those volts, a force that falls with its speed: f - b·u.
3. Contacts: friction of the tyre is k·slip up to grip x normal force, linear in the new slip
   (see `contact`): a friction circle, smoothed at creep speed.
4. The chassis' three speeds are solved with all contact slopes implicit (3 x 3), then every unit's speed,
   in closed form including dry friction, which is a soft threshold. Stable for any step.
   Half of the step's turn is taken before, half after, so that all this happens at its middle heading.
5. Currents, heat, charge, energies from the new speeds.

Currents are quasi-static: inductance is neglected, right for steps and events much longer than L/R
(0.1 to 0.5 ms in the sheets of this size; switching ripple and its extra heat are outside). Weight does
not shift between wheels while accelerating. Sources: planar rigid body, any dynamics text; friction as in
the parts' own modules; linearly implicit Euler after Hairer & Wanner, Solving ODEs II, ch. IV.
"""

from collections.abc import Sequence
from typing import NamedTuple

from mixer.plant.parts.heat import copper_factor, heat_step
from mixer.plant.parts.quantities import COPPER_PER_K
from mixer.plant.parts.robot import Robot
from mixer.plant.step.balance import push_body
from mixer.plant.step.contact import Rolled, reach
from mixer.plant.step.electric import Circuit, Moved, circuit_of, solve_bus
from mixer.plant.step.energy import Ledger, book_battery, book_circuit
from mixer.plant.step.layout import heated_outputs, plant_layout_of
from mixer.plant.step.motion import Body, middle, pose_after
from mixer.plant.step.nut import Nut, move_nut, nut_loads
from mixer.plant.step.trace import Arithmetic, Trace, Value
from mixer.plant.step.units import actuator_unit, wheel_unit

LOW_VOLTAGE_S = 1.0
"""How long the bus must stay below low_v before the drives are cut for good (common practice)."""


class Parts(NamedTuple):
    """The flat state, taken apart."""

    charge: Value
    pair_v: Value
    low_s: Value
    bus_v: Value
    body: Body
    pose: list[Value]
    change: Body
    """How the chassis' speeds changed in the last step."""
    wheels: list[Value]
    nuts: list[tuple[Value, Value]]
    rises: dict[int, tuple[Value, Value]]
    energies: list[Value]

    @property
    def speeds(self) -> list[Value]:
        """Of every unit: wheels, then nuts."""
        return self.wheels + [speed for _, speed in self.nuts]


def take_apart(robot: Robot, state: Sequence[Value]) -> Parts:
    """Name the slots of a state (in the order of `plant_layout_of`)."""
    values = iter(state)
    charge, pair_v, low_s, bus_v = (next(values) for _ in range(4))
    body = Body(next(values), next(values), next(values))
    pose = [next(values) for _ in range(3)]
    change = Body(next(values), next(values), next(values))
    wheels = [next(values) for _ in robot.wheels]
    nuts = [(next(values), next(values)) for _ in robot.actuators]
    rises = {index: (next(values), next(values)) for index in heated_outputs(robot)}
    return Parts(charge, pair_v, low_s, bus_v, body, pose, change, wheels, nuts, rises, list(values))


def advance(
    robot: Robot, ops: Arithmetic, state: Sequence[Value], duties: Sequence[Value], seconds: float
) -> list[Value]:
    """One step. `duties` in [-1, 1], one an output. Returns the new state, then the observations."""
    parts = take_apart(robot, state)
    parts = parts._replace(body=parts.body.in_turned_axes(seconds / 2))
    duties = _obeyed(robot, ops, parts, duties)
    circuits = _close_circuits(robot, ops, parts, duties)
    rest_v = ops.along(robot.battery.curve, parts.charge)
    rest_v = rest_v - parts.pair_v if robot.battery.pair_ohm else rest_v
    first_v = solve_bus(robot, ops, circuits, parts.speeds, rest_v, parts.bus_v, 1)
    ledger = Ledger(seconds)
    body, wheels, bus_v = _roll(robot, ops, parts, circuits, (rest_v, first_v), ledger)
    nuts = _extend(robot, ops, parts, circuits, bus_v, ledger)
    moved = [wheel.moved for wheel in wheels] + [nut.moved for nut in nuts]
    gears = [wheel.gear for wheel in wheels] + [nut.gear for nut in nuts]
    battery_a = _draw(robot, parts, circuits, bus_v, moved, gears, ledger)
    volts = rest_v - battery_a * robot.battery.series_ohm
    book_battery(robot, ledger, battery_a, rest_v, bus_v)
    after = _charge_after(robot, ops, parts, battery_a, volts, seconds)
    after += body.in_turned_axes(seconds / 2)
    after += pose_after(ops, parts.pose, middle(parts.body, body), seconds)
    after += [now - was for now, was in zip(body, parts.body, strict=True)]
    after += [wheel.moved.speed for wheel in wheels]
    after += [value for nut in nuts for value in (nut.extension, nut.moved.speed)]
    after += _warm(robot, parts, circuits, [unit.current for unit in moved], seconds)
    after += ledger.joules_after(parts.energies)
    seen = _observe_battery(robot, ops, parts, circuits, first_v, (battery_a, volts))
    seen += _observe_outputs(ops, parts, circuits, first_v, moved, duties)
    return after + seen + [value for wheel in wheels for value in (wheel.slip, wheel.force)]


def trace_step(robot: Robot, seconds: float) -> tuple[Trace, list[Value]]:
    """The step of one robot at one step length as a graph with its results."""
    trace = Trace()
    state = trace.inputs("s", len(plant_layout_of(robot).state))
    duties = trace.inputs("d", len(robot.outputs))
    return trace, advance(robot, trace, state, duties, seconds)


def _obeyed(robot: Robot, ops: Arithmetic, parts: Parts, duties: Sequence[Value]) -> list[Value]:
    """The duties that controllers really put out: their own where they are stuck, none after the cut."""
    on = ops.select(parts.low_s < LOW_VOLTAGE_S, 1.0, 0.0) if robot.battery.low_v else 1.0
    return [
        on * (duty * output.share) if output.stuck is None else output.stuck
        for output, duty in zip(robot.outputs, duties, strict=True)
    ]


def _close_circuits(robot: Robot, ops: Arithmetic, parts: Parts, duties: Sequence[Value]) -> list[Circuit]:
    units = [wheel_unit(robot, wheel) for wheel in robot.wheels]
    units += [actuator_unit(robot, actuator) for actuator in robot.actuators]
    ends: list[tuple[Value, Value] | None] = [None] * len(parts.wheels)
    for actuator, (extension, _) in zip(robot.actuators, parts.nuts, strict=True):
        in_circuit = actuator.stops == "circuit"
        ends.append((extension <= actuator.in_at, extension >= actuator.out_at) if in_circuit else None)
    circuits = []
    for unit, speed, stops in zip(units, parts.speeds, ends, strict=True):
        rise = parts.rises[unit.output][0] if unit.output in parts.rises else 0.0
        warm = copper_factor(robot.air_c) + rise * COPPER_PER_K
        duty = duties[unit.output] if unit.output >= 0 else 0.0
        driving = duty * parts.bus_v - unit.per_amp * speed
        circuits.append(circuit_of(ops, unit, duty, warm, driving, stops))
    return circuits


def _roll(
    robot: Robot, ops: Arithmetic, parts: Parts, circuits: list[Circuit], volts: tuple[Value, Value],
    ledger: Ledger,
) -> tuple[Body, list[Rolled], Value]:  # fmt: skip
    """Chassis and wheels after the step, bus volts at its middle; `volts` are (at rest, at first)."""
    rest_v, first_v = volts
    contacts = [
        reach(robot, ops, wheel, circuit, first_v, parts.body, parts.change, speed, ledger.seconds)
        for wheel, circuit, speed in zip(robot.wheels, circuits, parts.wheels, strict=False)
    ]
    body = push_body(robot, ops, contacts, parts.body, ledger)
    lines = [contact.line(ops, body) for contact in contacts]
    rolled = list(zip(contacts, lines, strict=True))
    halfway = [contact.halfway(line, ledger.seconds) for contact, line in rolled]
    halfway += [speed for _, speed in parts.nuts]
    bus_v = solve_bus(robot, ops, circuits, halfway, rest_v, first_v, 1)
    wheels = [contact.settle(ops, line, bus_v, parts.body, body, ledger) for contact, line in rolled]
    return body, wheels, bus_v


def _extend(
    robot: Robot, ops: Arithmetic, parts: Parts, circuits: list[Circuit], bus_v: Value, ledger: Ledger
) -> list[Nut]:
    loads = nut_loads(robot, ops, [extension for extension, _ in parts.nuts])
    nuts = []
    own = circuits[len(robot.wheels) :]
    for actuator, circuit, was, load in zip(robot.actuators, own, parts.nuts, loads, strict=True):
        nut = move_nut(ops, actuator, circuit, bus_v, was, load, ledger.seconds)
        ledger.add("lift", nut.lifting)
        ledger.add("friction", nut.rubbing)
        nuts.append(nut)
    return nuts


def _draw(
    robot: Robot, parts: Parts, circuits: list[Circuit], bus_v: Value, moved: list[Moved],
    gears: list[Value], ledger: Ledger,
) -> Value:  # fmt: skip
    """The battery's current: every unit's power over the volts, and the electronics' own."""
    watts: Value = 0.0
    for circuit, unit, before, gear in zip(circuits, moved, parts.speeds, gears, strict=True):
        if circuit.unit.motors:
            watts = watts + circuit.power(unit.current, unit.middle)
            book_circuit(ledger, circuit, gear, unit.current, (before + unit.speed) * 0.5)
    return watts / bus_v + robot.idle_a


def _warm(
    robot: Robot, parts: Parts, circuits: list[Circuit], currents: list[Value], seconds: float
) -> list[Value]:
    rises: list[Value] = []
    for index, (winding, case) in parts.rises.items():
        path = robot.outputs[index].heat
        assert path is not None
        losses = [
            circuit.copper(current)
            for circuit, current in zip(circuits, currents, strict=True)
            if circuit.unit.output == index
        ]
        watts = sum(losses) * (1 / robot.outputs[index].count) if losses else 0.0
        rises += heat_step(path, seconds).after(winding, case, watts)
    return rises


def _charge_after(
    robot: Robot, ops: Arithmetic, parts: Parts, battery_a: Value, bus_v: Value, seconds: float
) -> list[Value]:
    battery = robot.battery
    pair = parts.pair_v
    if battery.pair_ohm:
        pair = battery.pair_after(pair, battery_a, seconds)
    low_s = parts.low_s
    if battery.low_v:
        counted = ops.select(bus_v < battery.low_v, low_s + seconds, 0.0)
        low_s = ops.select(low_s < LOW_VOLTAGE_S, counted, low_s)
    return [battery.charge_after(parts.charge, battery_a, seconds), pair, low_s, bus_v]


def _observe_battery(
    robot: Robot, ops: Arithmetic, parts: Parts, circuits: list[Circuit], bus_v: Value,
    ended: tuple[Value, Value],
) -> list[Value]:  # fmt: skip
    """Mean current, current at the step's first instant, and the lowest of the volts at both."""
    battery_a, volts = ended
    watts: Value = 0.0
    for circuit, speed in zip(circuits, parts.speeds, strict=True):
        if circuit.unit.motors:
            watts = watts + circuit.power(circuit.current(ops, bus_v, speed), speed)
    return [battery_a, watts / bus_v + robot.idle_a, ops.select(bus_v < volts, bus_v, volts)]


def _observe_outputs(
    ops: Arithmetic, parts: Parts, circuits: list[Circuit], bus_v: Value, moved: list[Moved],
    duties: Sequence[Value],
) -> list[Value]:  # fmt: skip
    """For each output its mean current, the volts at its motors, and the peak of its current."""
    seen: list[Value] = []
    for index, duty in enumerate(duties):
        own = [number for number, circuit in enumerate(circuits) if circuit.unit.output == index]
        if not own:
            seen += [0.0, 0.0, 0.0]
            continue
        mean = sum(moved[number].current for number in own)
        first = abs(sum(circuits[number].current(ops, bus_v, parts.speeds[number]) for number in own))
        volts, drop = duty * bus_v, circuits[own[0]].drop
        seen += [
            mean,
            volts - ops.clamp(volts, -drop, drop),
            ops.select(first > abs(mean), first, abs(mean)),
        ]
    return seen
