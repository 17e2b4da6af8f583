"""Parts, their sum against the class limit, the centre of gravity, and the weight on each wheel.

A rigid chassis on more than three wheels is statically undetermined; wheels are taken as equally
springy, so that the loads are the least-squares solution that carries weight and moments. Source:
statics, any text (Meriam & Kraige, Statics, ch. 5); an undetermined foundation on equal springs.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from mixer.plant.parts.quantities import GRAVITY, require

Place = tuple[float, float, float]
ON_LINE_M = 1e-4
DIRECTIONS = 720
"""Looked at around a robot; half a degree apart, a hull is right to 0.01 % of its size."""


@dataclass(frozen=True, slots=True)
class Part:
    """Something that weighs; x forward, y left, z up in m."""

    name: str
    mass_kg: float
    at: Place = (0.0, 0.0, 0.0)

    def __post_init__(self) -> None:
        require(
            self.mass_kg > 0, f"part.{self.name}.mass_kg", f"{self.mass_kg:g} kg", "give more than zero"
        )


def total_mass(parts: Sequence[Part]) -> float:
    """Sum of the parts in kg."""
    return sum(part.mass_kg for part in parts)


def centre_of_gravity(parts: Sequence[Part]) -> Place:
    """Mass-weighted mean place of the parts in m."""
    mass = total_mass(parts)
    x, y, z = (sum(part.mass_kg * part.at[axis] for part in parts) / mass for axis in range(3))
    return x, y, z


def wheel_loads(
    places: Sequence[tuple[float, float]], mass_kg: float, centre: tuple[float, float]
) -> tuple[float, ...]:
    """Weight in N on each wheel or skid on level ground; what would have to pull hangs in the air instead.

    `places` and `centre` are (x, y) in m. Negative where no set of them carries the robot: it tips over
    (see `tips`). With all in a line across, the moment along x is left to whatever else carries it.
    """
    standing = list(range(len(places)))
    while standing:
        loads = _springy([places[index] for index in standing], mass_kg * GRAVITY, centre)
        lowest = min(range(len(standing)), key=loads.__getitem__)
        if loads[lowest] >= -1e-9 * mass_kg:
            if tips([places[index] for index in standing], centre):
                break
            return tuple(loads[standing.index(at)] if at in standing else 0.0 for at in range(len(places)))
        del standing[lowest]
    return tuple(_springy(places, mass_kg * GRAVITY, centre)) if places else ()


def _springy(
    places: Sequence[tuple[float, float]], weight_n: float, centre: tuple[float, float]
) -> list[float]:
    rows = np.array([[1.0, x - centre[0], y - centre[1]] for x, y in places]).T
    loads, *_ = np.linalg.lstsq(rows, np.array([weight_n, 0.0, 0.0]), rcond=None)
    off = weight_n - float(np.sum(loads))
    return [float(load) + off / len(places) for load in loads]


def tips(places: Sequence[tuple[float, float]], centre: tuple[float, float]) -> bool:
    """Whether a centre of gravity lies further than `ON_LINE_M` outside what the places span."""
    return bool(places) and _outside(tuple(places), centre) > ON_LINE_M


@lru_cache(maxsize=256)  # a robot being tuned is asked again and again and stands the same
def _outside(places: tuple[tuple[float, float], ...], centre: tuple[float, float]) -> float:
    """How far in m a point lies outside the hull of the places, in the worst of all directions."""
    worst = -math.inf
    for step in range(DIRECTIONS):
        angle = 2 * math.pi * step / DIRECTIONS
        x, y = math.cos(angle), math.sin(angle)
        furthest = max(x * px + y * py for px, py in places)
        worst = max(worst, x * centre[0] + y * centre[1] - furthest)
    return worst


def plate_yaw_inertia(mass_kg: float, length_m: float, width_m: float) -> float:
    """Inertia of a uniform plate about its upright axis, m·(a² + b²)/12 in kg·m²."""
    return mass_kg * (length_m**2 + width_m**2) / 12
