"""What the floor lets a wheel do: traction limit, magnets, rolling loss.

Coulomb's law F <= mu·N with N the weight on the wheel plus the pull of magnets; magnets add to N, not to
the mass that has to be moved, and only over steel. Ideal pull of a gapless pole, F = B²·A/(2·mu0) (Maxwell
stress, any text on fields). Values of mu: rubber on dry concrete about 0.8 sliding (Serway & Beichner,
table 5.2).
"""

import math

from mixer.plant.robot import Robot

VACUUM_PERMEABILITY = 4e-7 * math.pi


def traction_limit(grip: float, weight_n: float, magnet_n: float = 0.0) -> float:
    """The most a wheel can push along the floor, in N."""
    return grip * max(weight_n + magnet_n, 0.0)


def rolling_loss(robot: Robot) -> float:
    """Force that rolling takes, in N."""
    return sum(wheel.rolling * wheel.normal_n for wheel in robot.wheels)


def magnet_pull(tesla: float, area_m2: float) -> float:
    """Ideal pull of a pole without gap, in N; a real gap of a millimetre takes most of it."""
    return tesla**2 * area_m2 / (2 * VACUUM_PERMEABILITY)
