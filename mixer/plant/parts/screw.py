"""A power screw: torque to raise and to lower, efficiency, whether it holds by itself.

    T_R = (F·dm/2)·(l + pi·f·dm·sec a)/(pi·dm - f·l·sec a) + F·fc·dc/2
    T_L = (F·dm/2)·(pi·f·dm·sec a - l)/(pi·dm + f·l·sec a) + F·fc·dc/2        e = F·l/(2·pi·T_R)

a = half the thread's angle: 0 square, 14.5 Acme, 15 ISO trapezoidal, 30 ISO metric.
Sources: Shigley (Budynas & Nisbett), Mechanical Engineering Design, sec. 8-2; ISO 68-1/724 for the pitch
diameter d - 0.649519·p; ISO 261/262 for coarse pitches; ISO 2904 for trapezoidal threads, d - p/2.
"""

import math
from dataclasses import dataclass

from mixer.plant.parts.quantities import require

METRIC_COARSE_MM = (
    ("M2", 2.0, 0.4), ("M2.5", 2.5, 0.45), ("M3", 3.0, 0.5), ("M4", 4.0, 0.7), ("M5", 5.0, 0.8),
    ("M6", 6.0, 1.0), ("M8", 8.0, 1.25), ("M10", 10.0, 1.5), ("M12", 12.0, 1.75),
)  # fmt: skip
"""Name, outer diameter, coarse pitch (ISO 261/262)."""


@dataclass(frozen=True, slots=True)
class Screw:
    """Measures in m; friction coefficients of thread and collar; half angle in rad."""

    mean_diameter: float
    lead: float
    friction: float
    half_angle: float = math.radians(30)
    collar_friction: float = 0.0
    collar_diameter: float = 0.0

    def __post_init__(self) -> None:
        for key in ("mean_diameter", "lead"):
            value = getattr(self, key)
            require(value > 0, f"screw.{key}", f"{value:g} m is not above zero", "give a positive measure")
        require(self.friction >= 0, "screw.friction", f"{self.friction:g} is negative", "give zero or more")
        slope = self._sliding * self.lead
        require(
            slope < math.pi * self.mean_diameter,
            "screw.friction",
            f"with friction {self.friction:g} this lead jams: no torque would raise the load",
            "give a smaller lead or less friction",
        )

    @property
    def _sliding(self) -> float:
        return self.friction / math.cos(self.half_angle)

    @property
    def collar_torque_per_newton(self) -> float:
        """Torque of the collar's friction, N·m per N of load."""
        return self.collar_friction * self.collar_diameter / 2

    @property
    def thread_raising(self) -> float:
        """Torque of the thread alone against a load, N·m per N."""
        turn = math.pi * self.mean_diameter
        top, bottom = self.lead + self._sliding * turn, turn - self._sliding * self.lead
        return self.mean_diameter / 2 * top / bottom

    @property
    def thread_lowering(self) -> float:
        """Torque of the thread alone to lower a load, N·m per N; negative: it runs down alone."""
        turn = math.pi * self.mean_diameter
        top, bottom = self._sliding * turn - self.lead, turn + self._sliding * self.lead
        return self.mean_diameter / 2 * top / bottom

    @property
    def locks(self) -> bool:
        """Whether the thread alone holds a load: f·sec a >= tan(lead angle)."""
        return self.thread_lowering >= 0

    def torque_to_raise(self, newtons: float) -> float:
        """Torque in N·m that moves a load against its force."""
        return newtons * (self.thread_raising + self.collar_torque_per_newton)

    def torque_to_lower(self, newtons: float) -> float:
        """Torque in N·m that lets a load down; negative: it must be held back."""
        return newtons * (self.thread_lowering + self.collar_torque_per_newton)

    @property
    def efficiency(self) -> float:
        """Share of the work that raises the load."""
        return self.lead / (2 * math.pi * (self.thread_raising + self.collar_torque_per_newton))


def metric_screw(thread: str, friction: float, starts: int = 1) -> Screw:
    """An ISO metric coarse thread by its name. Raises ProfileError for a thread not in the table."""
    for name, diameter, pitch in METRIC_COARSE_MM:
        if name == thread:
            mean = diameter - 0.649519 * pitch
            return Screw(mean / 1000, pitch * starts / 1000, friction)
    names = ", ".join(name for name, _, _ in METRIC_COARSE_MM)
    require(False, "screw.thread", f"{thread!r} is not a coarse thread known here", f"one of {names}")
    raise AssertionError


def screw_by_measures(
    diameter_mm: float, pitch_mm: float, starts: int, friction: float, half_angle_deg: float
) -> Screw:
    """A screw by outer diameter and pitch: mean d - 0.65·p for metric threads, else d - p/2."""
    sharp = abs(half_angle_deg - 30) < 0.5
    mean = diameter_mm - (0.649519 if sharp else 0.5) * pitch_mm
    return Screw(mean / 1000, pitch_mm * starts / 1000, friction, math.radians(half_angle_deg))
