"""What a reader of a profile should know although nothing is wrong."""

from collections.abc import Iterator

from mixer.profile.integers.quantize import q14, step, step_ms
from mixer.profile.integers.usage import used_contacts, used_sticks, used_switches
from mixer.profile.schema.outputs import Output
from mixer.profile.schema.root import Robot

SLEW_OFF_BY = 0.05


def notices_of(robot: Robot) -> Iterator[str]:
    """One sentence for each thing left out, rounded far, or chosen in a way that may surprise."""
    yield from _unused(robot)
    for name, output in robot.output.items():
        yield from _slews(name, output, robot.robot.tick_ms)
    yield from _guard(robot)
    yield from _sticks(robot)
    yield from _actuators(robot)


def _unused(robot: Robot) -> Iterator[str]:
    for section, used in (
        ("stick", used_sticks(robot)),
        ("switch", used_switches(robot)),
        ("contact", used_contacts(robot)),
    ):
        for name in getattr(robot, section):
            if name not in used:
                yield f"{section}.{name}: nothing uses it, so it is left out and its wire is not watched"


def _slews(name: str, output: Output, tick_ms: int) -> Iterator[str]:
    for key in ("slew_up_ms", "slew_down_ms"):
        wanted = getattr(output, key)
        real = step_ms(step(wanted, tick_ms), tick_ms)
        if wanted > tick_ms and abs(real - wanted) > SLEW_OFF_BY * wanted:
            yield f"output.{name}.{key}: {wanted:g} ms becomes {real} ms in whole steps of {tick_ms} ms"
        elif 0 < wanted <= tick_ms:
            yield f"output.{name}.{key}: {wanted:g} ms is within one tick, so it is at once"


def _guard(robot: Robot) -> Iterator[str]:
    guard = robot.guard
    if guard.arm is None:
        yield "guard.arm: without an arm switch the robot goes live whenever the sticks rest at neutral"
        if guard.after_loss == "re-arm":
            yield "guard.after_loss: without an arm switch, resting at neutral is all that re-arms"
    frames = guard.lost_after_ms / robot.receiver.frame_ms
    if frames < 3:
        yield f"guard.lost_after_ms: bridges only {frames:.1f} frames, so a short gap stops the robot"
    if guard.arm_hold_ms < 100:
        yield "guard.arm_hold_ms: under 100 ms, a stick passing through neutral is enough to go live"


def _sticks(robot: Robot) -> Iterator[str]:
    for name in used_sticks(robot):
        stick = robot.stick[name]
        if abs(q14(stick.trim)) > q14(robot.guard.neutral_within):
            yield (
                f"stick.{name}.trim: {stick.trim:g} is more than guard.neutral_within, so the robot "
                "goes live only if the stick rests away from centre_us"
            )


def _actuators(robot: Robot) -> Iterator[str]:
    for name, actuator in robot.actuator.items():
        if actuator.stops_in_circuit:
            yield f"actuator.{name}: the firmware cannot see stops that sit in the motor's circuit"
            continue
        for key, way in (("out_stop", "out"), ("in_stop", "in")):
            if getattr(actuator, key) is None and actuator.full_travel_ms is None:
                yield f"actuator.{name}.{key}: neither a stop nor full_travel_ms ends its way {way}"
