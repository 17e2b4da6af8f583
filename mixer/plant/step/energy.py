"""Where the battery's energy went, step by step. Kinetic energy follows from the state itself.

First law over a step: cells = windings + bridges + inner resistance + idle + gears + friction + rolling +
slip + push + lift + change of kinetic energy, up to the integration's own error (under 1 %, see tests).
"""

from mixer.plant.parts.robot import Robot
from mixer.plant.step.electric import Circuit
from mixer.plant.step.layout import ENERGIES
from mixer.plant.step.trace import Value
from mixer.plant.step.units import actuator_unit, wheel_unit


class Ledger:
    """Joules of one step by their name in `ENERGIES`."""

    def __init__(self, seconds: float) -> None:
        self.seconds = seconds
        self.watts: dict[str, Value] = dict.fromkeys(ENERGIES, 0.0)

    def add(self, name: str, watts: Value) -> None:
        """Book a power."""
        self.watts[name] = self.watts[name] + watts

    def joules_after(self, before: list[Value]) -> list[Value]:
        """The account after the step."""
        return [was + self.watts[name] * self.seconds for name, was in zip(ENERGIES, before, strict=True)]


def book_circuit(ledger: Ledger, circuit: Circuit, gear: Value, current: Value, speed: Value) -> None:
    """Windings, bridge and gears of one unit."""
    if circuit.unit.motors:
        ledger.add("copper", circuit.copper(current))
        ledger.add("driver", circuit.bridge(current))
        ledger.add("gearing", current * speed * circuit.unit.per_amp * (1.0 - gear))


def book_battery(robot: Robot, ledger: Ledger, battery_a: Value, rest_v: Value, bus_v: Value) -> None:
    """What the cells gave, and what stayed in the pack, its leads and the electronics."""
    ledger.add("battery", rest_v * battery_a)
    ledger.add("inner", battery_a * battery_a * robot.battery.series_ohm)
    ledger.add("idle", bus_v * robot.idle_a)


def kinetic_joules(robot: Robot, state: dict[str, Value]) -> Value:
    """Kinetic energy of chassis, opponent, wheels with rotors, and actuators."""
    mass = robot.mass_kg + (robot.opponent.mass_kg if robot.opponent else 0.0)
    total = mass * (state["vx"] ** 2 + state["vy"] ** 2) + robot.yaw_inertia_kgm2 * state["turn"] ** 2
    for wheel in robot.wheels:
        total = total + wheel_unit(robot, wheel).mass * state[f"wheel.{wheel.name}.speed"] ** 2
    for actuator in robot.actuators:
        total = total + actuator_unit(robot, actuator).mass * state[f"actuator.{actuator.name}.speed"] ** 2
    return total / 2
