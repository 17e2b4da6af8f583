"""What an actuator raises: lever, cam or wedge, as height of the load over extension of the actuator.

The force at the actuator follows from virtual work, F = W·dh/dx, so that one curve h(x) is all a linkage
is. Friction in the linkage's own joints is left out; the screw's is not. Source: principle of virtual
work, any statics text (Meriam & Kraige, Statics, ch. 7).
"""

import math
from dataclasses import dataclass
from typing import Literal

from mixer.plant.parts.quantities import require

POINTS = 41
"""Points of the tabulated curve; straight lines between them stay within 0.1 % of a lever's arc."""


@dataclass(frozen=True, slots=True)
class Linkage:
    """`kind` and measures in m and rad.

    lever: a rigid arm about a pivot, the load at `arm`, the actuator upright throughout at `lever` from
    the pivot. cam: extension turns a round cam by x/`lever`, whose centre is `arm` off its axle. wedge: a
    slope of `slope` is driven under the load.
    """

    kind: Literal["lever", "cam", "wedge"]
    travel: float
    arm: float = 0.0
    lever: float = 0.0
    start: float = 0.0
    slope: float = 0.0

    def __post_init__(self) -> None:
        require(self.travel > 0, "actuator.travel_mm", f"{self.travel * 1000:g} mm", "give more than zero")
        if self.kind == "wedge":
            ok = 0 < self.slope < math.pi / 2
            require(ok, "lift.wedge_deg", f"{math.degrees(self.slope):g}", "give a slope between 0 and 90")
            return
        for key in ("arm", "lever"):
            value = getattr(self, key)
            require(value > 0, f"lift.{key}_mm", f"{value * 1000:g} is not above zero", "give a length")
        if self.kind == "lever":
            reach = self.lever * math.sin(self.start) + self.travel
            ok = abs(self.lever * math.sin(self.start)) <= self.lever and reach <= self.lever * 0.999
            require(
                ok,
                "lift.lever_mm",
                f"a travel of {self.travel * 1000:g} mm would turn the arm past upright",
                "give a longer lever, a lower start or less travel",
            )

    def height(self, extension: float) -> float:
        """How far the load has risen in m."""
        if self.kind == "wedge":
            return extension * math.tan(self.slope)
        if self.kind == "cam":
            angle = self.start + extension / self.lever
            return self.arm * (math.sin(angle) - math.sin(self.start))
        return self.arm / self.lever * extension

    def ratio(self, extension: float) -> float:
        """dh/dx: metres the load rises for a metre of extension, and newtons of push for one of load."""
        if self.kind == "wedge":
            return math.tan(self.slope)
        if self.kind == "cam":
            return self.arm / self.lever * math.cos(self.start + extension / self.lever)
        return self.arm / self.lever

    def force_curve(self) -> tuple[tuple[float, float], ...]:
        """(extension, push in N per N of load), tabulated for the coupled step."""
        steps = (self.travel * number / (POINTS - 1) for number in range(POINTS))
        return tuple((x, self.ratio(x)) for x in steps)

    def capacity(self, push: float) -> float:
        """The heaviest load in N that a push in N raises over the whole travel (the worst point counts)."""
        worst = max(ratio for _, ratio in self.force_curve())
        return push / worst if worst > 0 else math.inf


@dataclass(frozen=True, slots=True)
class Spring:
    """A load that grows with the way, for trying what an actuator pushes: `rate` in N/m per N of load."""

    travel: float
    rate: float

    def ratio(self, extension: float) -> float:
        """Push in N for one N of load."""
        return self.rate * extension

    def force_curve(self) -> tuple[tuple[float, float], ...]:
        """(extension, push in N per N of load)."""
        return (0.0, 0.0), (self.travel, self.rate * self.travel)

    def height(self, extension: float) -> float:
        """What the push has done by there, as metres of the load."""
        return self.rate * extension**2 / 2

    def capacity(self, push: float) -> float:
        """The heaviest load in N that a push in N takes over the whole travel."""
        return push / (self.rate * self.travel)
