"""Contradictions of the guard: what it promises against what it can keep."""

from collections.abc import Iterator

from mixer.profile.checks.channels import position_of_switch
from mixer.profile.integers.quantize import q14_share, step, stop_ticks, ticks
from mixer.profile.integers.usage import mixed_names
from mixer.profile.read.complaint import Complaint
from mixer.profile.schema.channels import Switch
from mixer.profile.schema.root import Robot


def check_guard(robot: Robot) -> Iterator[Complaint]:
    """Every complaint about guard timings and the arm switch."""
    guard, tick_ms = robot.guard, robot.robot.tick_ms
    frame = robot.receiver.frame_ms
    if guard.lost_after_ms < frame + tick_ms:
        said = (
            f"{guard.lost_after_ms:g} ms is shorter than a frame of {frame:g} ms and a tick of {tick_ms} ms"
        )
        remedy = f"allow a few frames, such as {12 * frame:g}, or every frame would look like a loss"
        yield Complaint(("guard", "lost_after_ms"), said, remedy)
    soonest = soonest_stop_ms(robot)
    if guard.stop_within_ms is not None and guard.stop_within_ms < soonest:
        said = f"{guard.stop_within_ms:g} ms cannot be kept: {_reckoning(robot)} make {soonest} ms"
        slower = ", shorten slew_down_ms, or stop by cut" if guard.stop == "ramp" else ""
        remedy = f"promise {soonest} or more, shorten lost_after_ms{slower}"
        yield Complaint(("guard", "stop_within_ms"), said, remedy)
    if guard.arm is not None:
        yield from position_of_switch(("guard", "arm"), guard.arm.switch, guard.arm.position, robot)
        yield from _arm_at_rest(robot.switch.get(guard.arm.switch), robot)


def soonest_stop_ms(robot: Robot) -> int:
    """The least time from the last good pulse to zero that the firmware can promise, in ms.

    The pulse arrives up to a tick before the tick that sees it; the channel is lost `lost_after_ms`
    later, rounded up to ticks; a cut takes effect in that very tick, a ramp needs the slowest
    output's way down.
    """
    tick_ms = robot.robot.tick_ms
    slopes = [
        (q14_share(output.limit), step(output.slew_down_ms, tick_ms)) for output in robot.output.values()
    ]
    ramp = stop_ticks(slopes, ramps=robot.guard.stop == "ramp")
    return (ticks(robot.guard.lost_after_ms, tick_ms, 1) + ramp) * tick_ms


def _reckoning(robot: Robot) -> str:
    ramp = ", the slowest slew_down_ms" if robot.guard.stop == "ramp" else ""
    return f"lost_after_ms {robot.guard.lost_after_ms:g}{ramp} and a tick of {robot.robot.tick_ms} ms"


def _arm_at_rest(switch: Switch | None, robot: Robot) -> Iterator[Complaint]:
    arm = robot.guard.arm
    if switch is None or arm is None or arm.position not in switch.positions:
        return
    neutral = len(switch.positions) - 2
    if arm.switch in mixed_names(robot) and switch.positions.index(arm.position) != neutral:
        said = f"switch {arm.switch!r} drives the mix in the position that arms, so it is never at neutral"
        yield Complaint(("guard", "arm", "switch"), said, "arm by a switch of its own")
