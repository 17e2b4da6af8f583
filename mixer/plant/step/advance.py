"""The coupled step: duties -> motor currents -> battery current -> sag -> forces -> speeds.

Written once over plain arithmetic (see `trace`). Per step, with everything of the last step known:

1. Bus volts, solved: V = (OCV - v1 - R·(I_lim + I_idle) + R·sum(g·d·(emf + drop)))/(1 + R·sum(g·d²)).
2. Each unit (motors with what they move) gives, at that V, a force that falls with its speed: f - b·u.
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
from mixer.plant.robot import Robot
from mixer.plant.step.balance import push_body
from mixer.plant.step.contact import reach
from mixer.plant.step.electric import Circuit, circuit_of, current_at, solve_bus
from mixer.plant.step.energy import Ledger, book_battery, book_circuit
from mixer.plant.step.layout import heated_outputs, layout_of
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


def take_apart(robot: Robot, state: Sequence[Value]) -> Parts:
    """Name the slots of a state (in the order of `layout_of`)."""
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
    if robot.battery.low_v:
        on = ops.select(parts.low_s < LOW_VOLTAGE_S, 1.0, 0.0)
        duties = [duty * on for duty in duties]
    circuits = _close_circuits(robot, ops, parts, duties)
    rest_v = ops.along(robot.battery.curve, parts.charge)
    rest_v = rest_v - parts.pair_v if robot.battery.pair_ohm else rest_v
    bus_v = solve_bus(robot, circuits, rest_v)
    ledger = Ledger(seconds)
    rolled = _roll(robot, ops, parts, circuits, bus_v, ledger)
    nuts = _extend(robot, ops, parts, circuits, bus_v, ledger)
    currents, battery_a = _draw(robot, ops, parts, circuits, bus_v, rolled, nuts, ledger)
    book_battery(robot, ledger, battery_a, rest_v, bus_v)
    after = _charge_after(robot, ops, parts, battery_a, bus_v, seconds)
    after += rolled.body.in_turned_axes(seconds / 2)
    after += pose_after(ops, parts.pose, middle(parts.body, rolled.body), seconds)
    after += [now - was for now, was in zip(rolled.body, parts.body, strict=True)]
    after += [wheel[0] for wheel in rolled.wheels]
    after += [value for nut in nuts for value in (nut.extension, nut.speed)]
    after += _warm(robot, parts, circuits, currents, seconds)
    after += ledger.joules_after(parts.energies)
    return after + _observe(circuits, currents, rolled, bus_v, battery_a, duties)


def trace_step(robot: Robot, seconds: float) -> tuple[Trace, list[Value]]:
    """The step of one robot at one step length as a graph with its results."""
    trace = Trace()
    state = trace.inputs("s", len(layout_of(robot).state))
    duties = trace.inputs("d", len(robot.outputs))
    return trace, advance(robot, trace, state, duties, seconds)


def _close_circuits(robot: Robot, ops: Arithmetic, parts: Parts, duties: Sequence[Value]) -> list[Circuit]:
    units = [wheel_unit(robot, wheel) for wheel in robot.wheels]
    units += [actuator_unit(robot, actuator) for actuator in robot.actuators]
    speeds = parts.wheels + [speed for _, speed in parts.nuts]
    ends: list[tuple[Value, Value] | None] = [None] * len(parts.wheels)
    for actuator, (extension, _) in zip(robot.actuators, parts.nuts, strict=True):
        in_circuit = actuator.stops == "circuit"
        ends.append((extension <= actuator.in_at, extension >= actuator.out_at) if in_circuit else None)
    circuits = []
    for unit, speed, stops in zip(units, speeds, ends, strict=True):
        rise = parts.rises[unit.output][0] if unit.output in parts.rises else 0.0
        warm = copper_factor(robot.air_c) + rise * COPPER_PER_K
        duty = duties[unit.output] if unit.output >= 0 else 0.0
        circuits.append(circuit_of(ops, unit, duty, speed, warm, parts.bus_v, stops))
    return circuits


class Rolled(NamedTuple):
    """Chassis and wheels after a step; each wheel as (speed, slip, force)."""

    body: Body
    wheels: list[tuple[Value, Value, Value]]


def _roll(
    robot: Robot, ops: Arithmetic, parts: Parts, circuits: list[Circuit], bus_v: Value, ledger: Ledger
) -> Rolled:
    contacts = [
        reach(robot, ops, wheel, circuit, bus_v, parts.body, parts.change, speed, ledger.seconds)
        for wheel, circuit, speed in zip(robot.wheels, circuits, parts.wheels, strict=False)
    ]
    body = push_body(robot, ops, contacts, parts.body, ledger)
    return Rolled(body, [contact.settle(ops, parts.body, body, ledger) for contact in contacts])


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
    robot: Robot, ops: Arithmetic, parts: Parts, circuits: list[Circuit], bus_v: Value,
    rolled: Rolled, nuts: list[Nut], ledger: Ledger,
) -> tuple[list[Value], Value]:  # fmt: skip
    """Current of every unit, and of the battery."""
    befores = parts.wheels + [speed for _, speed in parts.nuts]
    afters = [wheel[0] for wheel in rolled.wheels] + [nut.speed for nut in nuts]
    currents = []
    battery_a: Value = robot.idle_a
    for circuit, before, now in zip(circuits, befores, afters, strict=True):
        share = circuit.unit.implicitness(ledger.seconds)
        speed = now * share + before * (1 - share)
        current = current_at(ops, circuit, bus_v, speed)
        battery_a = battery_a + circuit.draw(ops, bus_v, current, speed)
        book_circuit(ledger, circuit, current, (before + now) * 0.5)
        currents.append(current)
    return currents, battery_a


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
        keep = battery.pair_after(1.0, 0.0, seconds)
        pair = pair * keep + battery_a * (battery.pair_ohm * (1 - keep))
    low_s = parts.low_s
    if battery.low_v:
        counted = ops.select(bus_v < battery.low_v, low_s + seconds, 0.0)
        low_s = ops.select(low_s < LOW_VOLTAGE_S, counted, low_s)
    return [parts.charge - battery_a * (seconds / (3600 * battery.capacity_ah)), pair, low_s, bus_v]


def _observe(
    circuits: list[Circuit], currents: list[Value], rolled: Rolled,
    bus_v: Value, battery_a: Value, duties: Sequence[Value],
) -> list[Value]:  # fmt: skip
    seen: list[Value] = [battery_a]
    for index, duty in enumerate(duties):
        own = [number for number, circuit in enumerate(circuits) if circuit.unit.output == index]
        seen.append(sum(currents[number] for number in own) if own else 0.0)
        seen.append(duty * bus_v - circuits[own[0]].dead if own else 0.0)
    for _, slip, force in rolled.wheels:
        seen += [slip, force]
    return seen
