"""What stands where in the step's flat state and observations, so that lanes stay plain arrays."""

from dataclasses import dataclass
from functools import lru_cache

from mixer.plant.parts.robot import Robot

ENERGIES = (
    "battery", "copper", "driver", "inner", "idle", "gearing", "friction", "rolling", "slip", "push",
    "lift",
)  # fmt: skip
"""Joules since the start. `battery` is what the cells gave (open-circuit volts x current); the others are
where it went: windings, bridges, the pack's own resistance with its leads, idle draw, gear losses,
friction in motors and screws, rolling, slipping tyres, the opponent, and the raised load."""


@dataclass(frozen=True, slots=True)
class PlantLayout:
    """Slots by name. State: `state`; observations follow the new state in a step's results."""

    state: tuple[str, ...]
    start: tuple[float, ...]
    seen: tuple[str, ...]
    kinds: tuple[str, ...]
    """How an observation of several steps comes together: ``mean``, ``most``, ``least``, ``last``."""

    def state_index(self, name: str) -> int:
        """Where a state stands."""
        return self.state.index(name)


def heated_outputs(robot: Robot) -> tuple[int, ...]:
    """Outputs whose motors have thermal data."""
    return tuple(
        index
        for index, output in enumerate(robot.outputs)
        if output.motor is not None and output.heat is not None
    )


@lru_cache(maxsize=64)
def plant_layout_of(robot: Robot) -> PlantLayout:
    """The layout of one robot."""
    slots: list[tuple[str, float]] = [("charge", 1.0), ("pair_v", 0.0), ("low_s", 0.0)]
    slots += [("bus_v", robot.battery.rest_volts(1.0))]
    slots += [(name, 0.0) for name in ("vx", "vy", "turn", "x", "y", "yaw")]
    slots += [(name, 0.0) for name in ("change_vx", "change_vy", "change_turn")]
    slots += [(f"wheel.{wheel.name}.speed", 0.0) for wheel in robot.wheels]
    for actuator in robot.actuators:
        slots += [
            (f"actuator.{actuator.name}.extension", actuator.start),
            (f"actuator.{actuator.name}.speed", 0.0),
        ]
    for index in heated_outputs(robot):
        name = robot.outputs[index].name
        slots += [(f"output.{name}.winding_rise", 0.0), (f"output.{name}.case_rise", 0.0)]
    slots += [(f"energy.{name}", 0.0) for name in ENERGIES]
    seen = [("battery_a", "mean"), ("battery_first_a", "most"), ("lowest_v", "least")]
    for output in robot.outputs:
        name = output.name
        seen += [(f"output.{name}.current", "mean"), (f"output.{name}.volts", "last")]
        seen += [(f"output.{name}.peak", "most")]
    for wheel in robot.wheels:
        seen += [(f"wheel.{wheel.name}.{what}", "last") for what in ("slip", "force")]
    names, starts = zip(*slots, strict=True)
    return PlantLayout(names, starts, tuple(name for name, _ in seen), tuple(kind for _, kind in seen))
