"""What a live bench needs of the parts below, under one roof: the screen imports from here.

Nothing is defined here but two short helpers; each name is documented where it comes from.
"""

from mixer.core.layout import Layout, layout_of
from mixer.core.ops import ONE
from mixer.core.plan import Guard, OutputPlan, OverRange, Plan, StickPlan, SwitchPlan, Wire
from mixer.core.shape import shape
from mixer.plant.from_profile import Prepared, prepare
from mixer.plant.parts.robot import Robot as PhysicalRobot
from mixer.plant.parts.robot import flipped
from mixer.plant.plant import Plant, contact_readings
from mixer.plant.plant import Snapshot as PlantSnapshot
from mixer.profile import Profile

__all__ = [
    "ONE",
    "Guard",
    "Layout",
    "OutputPlan",
    "OverRange",
    "PhysicalRobot",
    "Plan",
    "Plant",
    "PlantSnapshot",
    "Prepared",
    "StickPlan",
    "SwitchPlan",
    "Wire",
    "bend",
    "contact_readings",
    "flipped",
    "layout_of",
    "physics_of",
    "prepare",
]


def bend(stick: StickPlan, number: int, scaled: int) -> int:
    """What a stick's shape (by its number among `stick.shapes`) makes of a scaled command, Q14."""
    return shape(stick.shapes[number], scaled).rated


def physics_of(profile: Profile, loadout: str | None) -> Prepared:
    """The physics of a loadout; its `robot` is None where the profile says too little."""
    return prepare(profile.robot(loadout))
