"""A battery pack: rest volts over charge, inner resistance, one optional slow pair, leads, limits.

    V = OCV(z) - R0·I - v1        dv1/dt = I/C1 - v1/(R1·C1)        dz/dt = -I/(3600·Q)

Sources: first-order Thevenin model as in PyBaMM's equivalent-circuit models; pack of Ns x Np equal cells
from the Modelica Standard Library, Electrical.Batteries. The C rate is current over capacity (IEC 61960-3).
"""

import bisect
import itertools
import math
from dataclasses import dataclass, replace
from itertools import pairwise

from mixer.plant.parts.quantities import require

GENERIC_LITHIUM = (
    (0.0, 3.27), (0.05, 3.61), (0.1, 3.69), (0.2, 3.73), (0.3, 3.77), (0.4, 3.79), (0.5, 3.82), (0.6, 3.87),
    (0.7, 3.92), (0.8, 4.02), (0.9, 4.11), (1.0, 4.2),
)  # fmt: skip
"""Rest volts of a lithium-polymer cell over charge: common practice, no single source."""


@dataclass(frozen=True, slots=True)
class Battery:
    """One pack as seen at the end of its leads. `curve` is (charge share, rest volts of the whole pack)."""

    curve: tuple[tuple[float, float], ...]
    capacity_ah: float
    resistance_ohm: float = 0.0
    pair_ohm: float = 0.0
    pair_farad: float = 0.0
    lead_ohm: float = 0.0
    c_rating: float | None = None
    low_v: float | None = None

    def __post_init__(self) -> None:
        require(
            self.capacity_ah > 0, "battery.capacity_ah", f"{self.capacity_ah:g} Ah", "give more than zero"
        )
        shares = [share for share, _ in self.curve]
        rising = all(a < b for a, b in itertools.pairwise(shares))
        ok = len(shares) >= 2 and rising
        require(
            ok, "battery.curve", f"charge {shares} does not rise", "give two or more points, charge rising"
        )
        falls = any(a > b for (_, a), (_, b) in itertools.pairwise(self.curve))
        require(not falls, "battery.curve", "volts fall as charge rises", "give rest volts that never fall")
        least = min(self.resistance_ohm, self.pair_ohm, self.pair_farad, self.lead_ohm)
        require(least >= 0, "battery.resistance_ohm", f"{least:g} is negative", "give zero or more")

    @property
    def series_ohm(self) -> float:
        """Everything that drops at once with the current: cells and leads."""
        return self.resistance_ohm + self.lead_ohm

    @property
    def pair_time_constant(self) -> float:
        """R1·C1 in s; 0 without a pair."""
        return self.pair_ohm * self.pair_farad

    @property
    def most_current(self) -> float | None:
        """What the C rating allows, in A."""
        return None if self.c_rating is None else self.c_rating * self.capacity_ah

    def rest_volts(self, charge: float) -> float:
        """Open-circuit volts at a charge share, straight lines between the points, flat beyond."""
        return interpolate(self.curve, charge)

    def energy_wh(self) -> float:
        """What a full pack gives at rest volts, the area under the curve times the capacity, in Wh."""
        ends = (self.rest_volts(0.0), self.rest_volts(1.0))
        points = [(0.0, ends[0]), *(point for point in self.curve if 0 < point[0] < 1), (1.0, ends[1])]
        areas = ((q1 - q0) * (v0 + v1) / 2 for (q0, v0), (q1, v1) in pairwise(points))
        return self.capacity_ah * sum(areas)

    def volts(self, charge: float, current: float, pair_volts: float = 0.0) -> float:
        """Volts at the end of the leads under load."""
        return self.rest_volts(charge) - current * self.series_ohm - pair_volts

    def pair_after(self, pair_volts: float, current: float, seconds: float) -> float:
        """v1 after a time of constant current; exact."""
        if not self.pair_time_constant:
            return self.pair_ohm * current
        decay = math.exp(-seconds / self.pair_time_constant)
        return pair_volts * decay + self.pair_ohm * current * (1 - decay)

    def charge_after(self, charge: float, current: float, seconds: float) -> float:
        """Charge share after a time of constant current."""
        return charge - current * seconds / (3600 * self.capacity_ah)

    def packed(self, series: int, parallel: int) -> "Battery":
        """A pack of equal cells from this cell: volts x Ns, charge x Np, resistance x Ns/Np."""
        share = series / parallel
        return replace(
            self,
            curve=tuple((charge, volts * series) for charge, volts in self.curve),
            capacity_ah=self.capacity_ah * parallel,
            resistance_ohm=self.resistance_ohm * share,
            pair_ohm=self.pair_ohm * share,
            pair_farad=self.pair_farad / share,
            low_v=None if self.low_v is None else self.low_v * series,
        )


def interpolate(points: tuple[tuple[float, float], ...], x: float) -> float:
    """Straight lines between points of rising x, the end values beyond."""
    at = bisect.bisect_right(points, (x, math.inf))
    if at == 0:
        return points[0][1]
    if at == len(points):
        return points[-1][1]
    (x0, y0), (x1, y1) = points[at - 1], points[at]
    return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
