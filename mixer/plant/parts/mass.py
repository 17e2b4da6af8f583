"""Parts, their sum against the class limit, the centre of gravity, and the weight on each wheel.

A rigid chassis on more than three wheels is statically undetermined; wheels are taken as equally
springy, so that the loads are the least-squares solution that carries weight and moments. Source:
statics, any text (Meriam & Kraige, Statics, ch. 5); an undetermined foundation on equal springs.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from mixer.plant.parts.quantities import GRAVITY, require

Place = tuple[float, float, float]


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
    """Weight on each wheel in N on level ground; negative where the robot would tip off that wheel.

    `places` and `centre` are (x, y) in m. With all wheels in a line across, the moment along x is left
    to whatever skid carries it.
    """
    if not places:
        return ()
    weight = mass_kg * GRAVITY
    rows = np.array([[1.0, x - centre[0], y - centre[1]] for x, y in places]).T
    loads, *_ = np.linalg.lstsq(rows, np.array([weight, 0.0, 0.0]), rcond=None)
    off = weight - float(np.sum(loads))
    return tuple(float(load) + off / len(places) for load in loads)


def plate_yaw_inertia(mass_kg: float, length_m: float, width_m: float) -> float:
    """Inertia of a uniform plate about its upright axis, m·(a² + b²)/12 in kg·m²."""
    return mass_kg * (length_m**2 + width_m**2) / 12
