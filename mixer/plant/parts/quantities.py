"""Constants and conversions that every part of the physics shares, and the check of impossible data."""

import math

from mixer.errors import Problem, ProfileError

GRAVITY = 9.80665
"""m/s²; standard gravity (ISO 80000-3)."""
COPPER_PER_K = 0.00393
"""Rise of copper's resistance per kelvin, referred to 20 °C (IEC 60028)."""
REFERENCE_C = 20.0
"""°C to which resistances refer."""
RADIANS_PER_RPM = 2 * math.pi / 60
"""rad/s in one turn a minute."""
CREEP = 0.01
"""m/s of slip at which a tyre has about 70 % of its grip."""


def require(condition: bool, key: str, said: str, remedy: str) -> None:
    """Refuse impossible data. Raises ProfileError naming the quantity, its value and what is right."""
    if not condition:
        raise ProfileError([Problem("physical data", key, said, remedy)])
