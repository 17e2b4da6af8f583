"""The divider that brings a pack's volts down to what a pin may see."""

from dataclasses import dataclass

from mixer.board.kinds.kind import Use
from mixer.board.wiring.fit import Wiring
from mixer.profile.schema.physical import Battery

FULL_CELL_V = 4.2
"""A full lithium cell, where the profile's curve says nothing (common practice)."""
ROOM = 1.15
"""How far above the full pack the divider's full scale lies: braking motors lift it."""
LOWER_KOHM = 10.0
E12 = (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)
"""The series of preferred values (IEC 60063)."""


@dataclass(frozen=True, slots=True)
class Divider:
    """Two resistors, in kΩ, and the volts of the pack that they bring to full scale, in mV."""

    upper_kohm: float
    lower_kohm: float
    full_scale_mv: int


def full_pack_v(battery: Battery) -> float:
    """Volts of a full pack at rest."""
    return battery.cells * (battery.curve[-1][1] if battery.curve else FULL_CELL_V)


def divider_of(wiring: Wiring) -> Divider | None:
    """The profile's divider, else one that suits the pack; None where the battery has no wire."""
    battery, volts = wiring.robot.battery, wiring.board.volts
    if battery is None or all(wire.use != Use.BATTERY for wire in wiring.places):
        return None
    upper, lower = battery.divider_kohm or (suited_kohm(full_pack_v(battery), volts), LOWER_KOHM)
    return Divider(upper, lower, round(1000 * volts * (upper + lower) / lower))


def suited_kohm(pack_v: float, volts: float) -> float:
    """The smallest preferred resistor above `LOWER_KOHM`'s that keeps a full pack below full scale."""
    least = LOWER_KOHM * (pack_v * ROOM / volts - 1)
    values = (value * 10**power for power in range(3) for value in E12)
    return float(next(value for value in values if value >= least))
