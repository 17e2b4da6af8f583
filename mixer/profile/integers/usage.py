"""Which channels and contacts of a robot anything uses, and the names a message may offer."""

from mixer.profile.integers.quantize import q14
from mixer.profile.schema.channels import Stick
from mixer.profile.schema.root import Robot


def mixed_names(robot: Robot) -> set[str]:
    """Names of sticks and switches that some output mixes with a weight that is not zero."""
    mixes = (output.mix for output in robot.output.values())
    return {name for mix in mixes for name, weight in mix.items() if q14(weight)}


def used_sticks(robot: Robot) -> list[str]:
    """Sticks that feed an output, in the order of the file."""
    mixed = mixed_names(robot)
    return [name for name in robot.stick if name in mixed]


def chooser_of(stick: Stick) -> str | None:
    """The switch that chooses a stick's shape."""
    return None if isinstance(stick.shape, str) else stick.shape.get("switch")


def used_switches(robot: Robot) -> list[str]:
    """Switches that are mixed, arm, tell of lying upside down or choose a used stick's shape."""
    wanted = mixed_names(robot) | {chooser_of(robot.stick[name]) for name in used_sticks(robot)}
    if robot.guard.arm is not None:
        wanted.add(robot.guard.arm.switch)
    if robot.flip is not None:
        wanted.add(robot.flip.switch)
    return [name for name in robot.switch if name in wanted]


def used_contacts(robot: Robot) -> list[str]:
    """Contacts that stop an actuator or tell of lying upside down."""
    wanted = {name for item in robot.actuator.values() for name in (item.out_stop, item.in_stop)}
    if robot.flip is not None:
        wanted.add(robot.flip.contact)
    return [name for name in robot.contact if name in wanted]
