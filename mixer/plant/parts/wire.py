"""Copper leads by American wire gauge.

d = 0.127 mm · 92^((36 - n)/39) (ASTM B258); resistivity 0.017241 ohm·mm²/m at 20 °C and its rise with
temperature (IEC 60028, International Annealed Copper Standard).
"""

import math

from mixer.plant.parts.quantities import COPPER_PER_K, REFERENCE_C, require

COPPER_OHM_MM2_PER_M = 0.017241


def gauge_diameter_mm(gauge: float) -> float:
    """Diameter of a solid conductor in mm; 0000 is gauge -3."""
    return float(0.127 * 92 ** ((36 - gauge) / 39))


def gauge_area_mm2(gauge: float) -> float:
    """Cross-section of the conductor in mm²."""
    return math.pi / 4 * gauge_diameter_mm(gauge) ** 2


def lead_resistance(gauge: float, length_m: float, celsius: float = REFERENCE_C) -> float:
    """Ohms of a lead, `length_m` counting both ways."""
    require(length_m >= 0, "battery.lead_length_m", f"{length_m:g} is negative", "give zero or more")
    warm = 1 + COPPER_PER_K * (celsius - REFERENCE_C)
    return COPPER_OHM_MM2_PER_M * length_m / gauge_area_mm2(gauge) * warm
