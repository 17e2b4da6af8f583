"""Findings about mass, speed, push and lift."""

import math
from collections.abc import Iterator

from mixer.plant.from_profile import Prepared
from mixer.plant.parts.mass import centre_of_gravity, total_mass
from mixer.plant.parts.quantities import GRAVITY
from mixer.plant.parts.robot import Lift, Robot
from mixer.plant.sizing.actuator import most_push, stroke
from mixer.plant.sizing.finding import Finding, Verdict, judged, told
from mixer.plant.sizing.performance import (
    push,
    pushing_speed,
    sprint,
    stopping_distance,
    top_speed,
    turn_rate,
)

DEFAULT_WAY_M = 3.0
"""Way of the sprint where the profile names no arena."""


def mass_findings(prepared: Prepared) -> Iterator[Finding]:
    """Mass against the class, parts against the mass, centre of gravity, wheel loads."""
    if prepared.mass_kg is None:
        return
    if prepared.class_limit_kg is None:
        yield told("mass", "mass", "mass", prepared.mass_kg, "kg", "no class limit given")
    else:
        spare = prepared.class_limit_kg - prepared.mass_kg
        words = (f"{spare:.2f} kg to spare", f"only {spare:.2f} kg to spare", f"{-spare:.2f} kg too heavy")
        yield judged("mass", "mass", "mass", prepared.mass_kg, "kg", prepared.class_limit_kg, words, 0.97)
    if prepared.parts:
        listed = total_mass(prepared.parts)
        off = listed - prepared.mass_kg
        agrees = abs(off) <= 0.02 * prepared.mass_kg
        words_of_parts = "agrees with the mass" if agrees else f"differs from the mass by {off:+.2f} kg"
        yield Finding(
            "mass", "parts", "parts listed", listed, "kg", prepared.mass_kg,
            Verdict.FINE if agrees else Verdict.TIGHT, words_of_parts,
        )  # fmt: skip
        x, y, z = centre_of_gravity(prepared.parts)
        where = f"{x * 1000:+.0f} mm ahead, {y * 1000:+.0f} mm left, {z * 1000:.0f} mm up"
        yield told("mass", "centre_of_gravity", "centre of gravity of the parts", None, "", where)
    for name, load in prepared.stance.loads_n:
        verdict = Verdict.OVER if prepared.stance.tips else Verdict.TOLD
        words_of_load = "it tips over" if prepared.stance.tips else "" if load > 0 else "in the air"
        yield Finding(
            "mass", f"wheel_load.{name}", f"weight on {name}", load, "N", None, verdict, words_of_load
        )


def motion_findings(prepared: Prepared, robot: Robot) -> Iterator[Finding]:
    """Speeds, sprint, stopping, turning, pushing; nothing without a driven wheel."""
    if any(robot.motors_at(wheel) for wheel in robot.wheels):
        yield from _speed_findings(prepared, robot)
        yield from _push_findings(prepared, robot)


def _speed_findings(prepared: Prepared, robot: Robot) -> Iterator[Finding]:
    fastest = top_speed(robot)
    yield told("drive", "top_speed", "top speed", fastest, "m/s", f"{fastest * 3.6:.1f} km/h, full pack")
    way = prepared.arena_m or DEFAULT_WAY_M
    run = sprint(robot, way)
    if run is None:
        words = "not reached in 20 s"
        yield Finding("drive", "sprint", f"time over {way:g} m", None, "s", None, Verdict.OVER, words)
    else:
        words = f"from standstill, {run.speed:.2f} m/s at the end, up to {run.peak_a:.0f} A"
        yield told("drive", "sprint", f"time over {way:g} m", run.seconds, "s", words)
    stop = stopping_distance(robot)
    yield told("drive", "stopping", "stopping distance", stop, "m", "from top speed, zero command")
    rate = turn_rate(robot)
    words = f"{math.degrees(rate):.0f} degrees a second on the spot, scrub included"
    yield told("drive", "turn_rate", "turn rate", rate, "rad/s", words)


def _push_findings(prepared: Prepared, robot: Robot) -> Iterator[Finding]:
    standing = push(robot)
    words = (
        f"grip ends it; the motors could push {standing.torque_n:.0f} N"
        if standing.limited_by == "grip"
        else f"torque ends it, the motors stall; the floor would take {standing.grip_n:.0f} N"
    )
    verdict = Verdict.TOLD if standing.limited_by == "grip" else Verdict.TIGHT
    yield Finding("push", "push", "standing push", standing.newtons, "N", standing.grip_n, verdict, words)
    if prepared.opponent is not None:
        speed = pushing_speed(robot, prepared.opponent)
        words = "moves it" if speed else "does not move it"
        label = f"speed pushing {prepared.opponent.mass_kg:g} kg"
        verdict = Verdict.FINE if speed else Verdict.OVER
        yield Finding("push", "pushing_speed", label, speed, "m/s", None, verdict, words)


def lift_findings(robot: Robot) -> Iterator[Finding]:
    """Push of each actuator, what each lift raises, how long it takes and what it draws at the stop."""
    for index, actuator in enumerate(robot.actuators):
        hold = "holds by itself" if actuator.screw.locks else "runs back under load when the motor is off"
        newtons = most_push(robot, index)
        yield told("lift", f"push.{actuator.name}", f"{actuator.name} pushes", newtons, "N", hold)
        run = stroke(robot, index)
        if run is None:
            words = "does not reach its end in a minute"
            yield Finding(
                "lift",
                f"stroke.{actuator.name}",
                f"{actuator.name} travel",
                None,
                "s",
                None,
                Verdict.OVER,
                words,
            )
            continue
        draw = (
            f"up to {run.peak_a:.2f} A on the way, {run.stopped_a:.2f} A at the stop if the command stays"
        )
        yield told("lift", f"stroke.{actuator.name}", f"{actuator.name} travel", run.seconds, "s", draw)
    for lift in robot.lifts:
        yield _lift(robot, lift)


def _lift(robot: Robot, lift: Lift) -> Finding:
    weakest = min(most_push(robot, index) for index in lift.actuators)
    able = lift.linkage.capacity(weakest * len(lift.actuators)) / GRAVITY
    raised = lift.linkage.height(lift.linkage.travel) - lift.linkage.height(0.0)
    reach = f"raises it by {raised * 1000:.0f} mm"
    load = lift.load_n / GRAVITY
    key, label = f"lift.{lift.name}", f"{lift.name} lifts at most"
    if not load:
        return told("lift", key, label, able, "kg", reach)
    verdict = Verdict.FINE if able > 1.3 * load else Verdict.TIGHT if able > load else Verdict.OVER
    return Finding("lift", key, label, able, "kg", load, verdict, f"has to lift {load:g} kg and {reach}")
