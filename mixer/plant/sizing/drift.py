"""Side gains that make a robot run straight, from one run with both sides told the same.

Over an arc of length L the robot that ends e to the left has turned about a radius R with e = L²/(2·R)
for e << L (exactly R = (L² + e²)/(2·e) by the chord of a circle). Its sides ran at v·(1 ± W/(2·R)), so that
the faster side's gain is the quotient (1 - W/2R)/(1 + W/2R). Source: circle geometry and differential drive
(Siegwart & Nourbakhsh, sec. 3.2). Assumes speed proportional to command, which holds near full command.
"""

from dataclasses import dataclass

from mixer.plant.parts.quantities import require

STRAIGHT_M = 1e-6
"""Sideways by less than this is straight."""


@dataclass(frozen=True, slots=True)
class SideGains:
    """Factors for the outputs of each side; the slower side keeps 1."""

    left: float
    right: float
    radius_m: float | None
    """Of the arc, None when it ran straight."""


def side_gains(length_m: float, sideways_m: float, track_m: float) -> SideGains:
    """Gains from the way forward and the way to the left (negative: to the right) of a drift run.

    Raises ProfileError when the numbers cannot be an arc of less than a quarter circle.
    """
    require(length_m > 0, "drift.length", f"{length_m:g} m", "give the way driven forward, above zero")
    require(track_m > 0, "chassis.track_m", f"{track_m:g} m", "give the distance between the sides")
    require(
        abs(sideways_m) < length_m,
        "drift.sideways",
        f"{sideways_m:g} m over {length_m:g} m is more than a quarter circle",
        "take a shorter run, or measure again",
    )
    if abs(sideways_m) < STRAIGHT_M:
        return SideGains(1.0, 1.0, None)
    radius = (length_m**2 + sideways_m**2) / (2 * abs(sideways_m))
    bend = track_m / (2 * radius)
    require(
        bend < 1,
        "drift.sideways",
        f"the arc's radius of {radius:g} m lies inside the robot",
        "measure again",
    )
    factor = (1 - bend) / (1 + bend)
    # Drifting left means that the right side is the faster one.
    return SideGains(1.0, factor, radius) if sideways_m > 0 else SideGains(factor, 1.0, radius)
