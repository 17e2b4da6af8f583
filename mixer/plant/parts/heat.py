"""Motor heating with two nodes: winding, case, air.

    Cw·dTw/dt = P - (Tw - Tc)/Rwc        Cc·dTc/dt = (Tw - Tc)/Rwc - (Tc - Ta)/Rca

For power that is constant over a step the update is exact (matrix exponential of the 2 x 2 system), so
that any step is stable. Time constants as data sheets print them: tau_w = Rwc·Cw, tau_c = Rca·Cc.

Sources: thermal network as in maxon's catalogue; copper's resistance over temperature from IEC 60028 and,
as (k + T2)/(k + T1) with k = 235, from IEC 60034-1 (resistance method).
"""

import math
from dataclasses import dataclass

from mixer.plant.parts.quantities import COPPER_PER_K, REFERENCE_C, require


@dataclass(frozen=True, slots=True)
class HeatPath:
    """Thermal data of one motor, K/W and s."""

    winding_to_case: float
    case_to_air: float
    winding_tau_s: float
    case_tau_s: float
    limit_c: float | None = None

    def __post_init__(self) -> None:
        for key in ("winding_to_case", "case_to_air", "winding_tau_s", "case_tau_s"):
            value = getattr(self, key)
            require(value > 0, f"motor.{key}", f"{value:g} is not above zero", "give a positive number")

    @property
    def case_capacity(self) -> float:
        """Heat capacity of the case in J/K."""
        return self.case_tau_s / self.case_to_air

    def steady_rise(self, watts: float) -> tuple[float, float]:
        """Final rises of winding and case over the air, in K."""
        return watts * (self.winding_to_case + self.case_to_air), watts * self.case_to_air


@dataclass(frozen=True, slots=True)
class HeatStep:
    """The exact update of (winding, case) rises over one step: rise' = own x rise + gain x watts."""

    ww: float
    wc: float
    cw: float
    cc: float
    gain_w: float
    gain_c: float

    def after(self, winding: float, case: float, watts: float) -> tuple[float, float]:
        """Rises over the air at the end of the step."""
        return (
            self.ww * winding + self.wc * case + self.gain_w * watts,
            self.cw * winding + self.cc * case + self.gain_c * watts,
        )


def heat_step(path: HeatPath, seconds: float) -> HeatStep:
    """The update for a step length, by exp(A t) = e^(mean t)·(cosh(d t)·1 + sinh(d t)/d·(A - mean·1))."""
    a = -1 / path.winding_tau_s
    b = 1 / path.winding_tau_s
    c = 1 / (path.winding_to_case * path.case_capacity)
    d = -c - 1 / path.case_tau_s
    mean = (a + d) / 2
    spread = math.sqrt(((a - d) / 2) ** 2 + b * c)
    slow, quick = math.exp((mean + spread) * seconds), math.exp((mean - spread) * seconds)
    even, odd = (slow + quick) / 2, (slow - quick) / (2 * spread)
    ww, wc = even + odd * (a - mean), odd * b
    cw, cc = odd * c, even + odd * (d - mean)
    steady_w, steady_c = path.steady_rise(1.0)
    return HeatStep(
        ww, wc, cw, cc, steady_w - ww * steady_w - wc * steady_c, steady_c - cw * steady_w - cc * steady_c
    )


def copper_factor(celsius: float, per_k: float = COPPER_PER_K) -> float:
    """Resistance at a temperature over resistance at 20 °C."""
    return 1 + per_k * (celsius - REFERENCE_C)


def seconds_to_limit(
    path: HeatPath, cold_watts: float, limit_c: float, air_c: float = 25.0
) -> float | None:
    """How long a constant current may flow until the winding reaches its limit; None if it never does.

    `cold_watts` is I²R with the winding at 20 °C; the loss grows with temperature as it warms.
    Searched in steps of tau_w/50 for an hour.
    """
    if limit_c <= air_c:
        return 0.0
    seconds = path.winding_tau_s / 50
    step = heat_step(path, seconds)
    winding = case = elapsed = 0.0
    while elapsed < 3600.0:
        before = winding
        winding, case = step.after(winding, case, cold_watts * copper_factor(air_c + winding))
        if air_c + winding >= limit_c:
            return elapsed + seconds * (limit_c - air_c - before) / (winding - before)
        elapsed += seconds
    return None
