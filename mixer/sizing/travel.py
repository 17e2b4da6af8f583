"""Screws of the live robot: what they push, how long a travel takes, what they draw at its end."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from mixer.plant.from_profile import Prepared
from mixer.plant.parts.lift import Linkage, Spring
from mixer.plant.parts.quantities import GRAVITY
from mixer.plant.parts.robot import Lift, Robot
from mixer.sizing.crosscheck import most_push
from mixer.sizing.finding import Finding, Verdict, told
from mixer.sizing.trial import Pace, Trial, paces_of, sticks_moving

LOOK_S = 0.1
LONGEST_S = 60.0
AFTER_S = 0.3
SCALE_SHARE = 0.05
"""The way over which the spring of a push test rises past what the formula expects."""


def lift_findings(trial: Trial, prepared: Prepared) -> Iterator[Finding]:
    """Push of each actuator, its travel, and what each lift raises."""
    robot = trial.whole
    if not robot.actuators:
        return
    pace = paces_of(trial.plan)[-1]
    pushes = _pushes(trial, pace)
    for index, actuator in enumerate(robot.actuators):
        hold = "holds by itself" if actuator.screw.locks else "runs back under load when the motor is off"
        name = actuator.name
        yield told("lift", f"push.{name}", f"{name} pushes", pushes[index], "N", f"at full stick; {hold}")
    lifts = [lift.actuators for lift in robot.lifts]
    alone = [(index,) for index in range(len(robot.actuators)) if not any(index in lift for lift in lifts)]
    for together in (*lifts, *alone):
        yield from _travels(trial, pace, together)
    for lift in robot.lifts:
        yield _lift(lift, min(pushes[index] for index in lift.actuators))
    yield from _tipping(prepared)


def _outputs(robot: Robot, together: Sequence[int]) -> list[int]:
    return sorted({robot.actuators[index].output for index in together})


def _pushes(trial: Trial, pace: Pace) -> list[float]:
    """What each screw holds in the end against a spring that stops it, all driven at once."""
    robot, springs = trial.whole, []
    for index, actuator in enumerate(robot.actuators):
        rate = 2 * most_push(robot, index) / (SCALE_SHARE * actuator.travel)
        springs.append(Lift(f"scale{index}", Spring(actuator.travel, rate), (index,), 1.0))
    trial.begin(pace, replace(robot, lifts=tuple(springs)))
    sticks = sticks_moving(trial.plan, _outputs(robot, range(len(robot.actuators))))
    before, seconds = [-1.0] * len(springs), 0.0
    while seconds < LONGEST_S:
        seen = trial.hold(sticks, 2 * LOOK_S)
        now = [seen.last(f"actuator.{actuator.name}.extension") for actuator in robot.actuators]
        seconds += 2 * LOOK_S
        if all(abs(a - b) < 1e-3 * a + 1e-9 for a, b in zip(now, before, strict=True)) and seconds > 0.5:
            break
        before = now
    return [spring.linkage.ratio(at) for spring, at in zip(springs, now, strict=True)]


def _travels(trial: Trial, pace: Pace, together: Sequence[int]) -> Iterator[Finding]:
    """One travel out of actuators that move together, with their lift's load."""
    robot, outputs = trial.whole, _outputs(trial.whole, together)
    sticks = sticks_moving(trial.plan, outputs)
    trial.begin(pace)
    arrived: dict[int, float] = {}
    peaks, apart, seconds = dict.fromkeys(together, 0.0), 0.0, 0.0
    while len(arrived) < len(together) and seconds < LONGEST_S:
        seen = trial.hold(sticks, LOOK_S)
        places = {index: seen.of(f"actuator.{robot.actuators[index].name}.extension") for index in together}
        apart = max([apart, *(abs(places[a] - places[b]).max() for a in together for b in together)])
        for index in together:
            actuator = robot.actuators[index]
            peak = float(seen.of(f"output.{robot.outputs[actuator.output].name}.peak").max())
            there = places[index] >= actuator.out_at
            if index not in arrived:
                peaks[index] = max(peaks[index], peak)
            if index not in arrived and there.any():
                arrived[index] = seconds + float(there.argmax() + 1) * seen.tick_s
        seconds += LOOK_S
    ended = trial.hold(sticks, AFTER_S)
    for index in together:
        output = robot.outputs[robot.actuators[index].output].name
        stays = abs(ended.last(f"output.{output}.current"))
        words = f"up to {peaks[index]:.2f} A on the way, {stays:.2f} A at the end with the stick still held"
        if len(together) > 1:
            words += f"; up to {1000 * apart:.1f} mm apart"
        yield _travel(robot.actuators[index].name, arrived.get(index), words)


def _travel(name: str, seconds: float | None, words: str) -> Finding:
    key, label = f"stroke.{name}", f"{name} travel"
    if seconds is not None:
        return told("lift", key, label, seconds, "s", words)
    words = f"does not reach its end in {LONGEST_S:g} s, or the firmware gives up before"
    return Finding("lift", key, label, None, "s", None, Verdict.OVER, words)


def _lift(lift: Lift, weakest: float) -> Finding:
    able = lift.linkage.capacity(weakest * len(lift.actuators)) / GRAVITY
    raised = lift.linkage.height(lift.linkage.travel) - lift.linkage.height(0.0)
    reach = f"raises it by {raised * 1000:.0f} mm{_swing(lift.linkage)}"
    load = lift.load_n / GRAVITY
    key, label = f"lift.{lift.name}", f"{lift.name} lifts at most"
    if not load:
        return told("lift", key, label, able, "kg", reach)
    verdict = Verdict.FINE if able > 1.3 * load else Verdict.TIGHT if able > load else Verdict.OVER
    return Finding("lift", key, label, able, "kg", load, verdict, f"has to lift {load:g} kg and {reach}")


def _swing(linkage: Linkage | Spring) -> str:
    """How the arm of a lever turns, in words."""
    if not isinstance(linkage, Linkage) or linkage.kind != "lever":
        return ""
    end = math.asin(math.sin(linkage.start) + linkage.travel / linkage.lever)
    return f", the arm from {math.degrees(linkage.start):.0f} to {math.degrees(end):.0f} degrees"


def _tipping(prepared: Prepared) -> Iterator[Finding]:
    for name, loaded in prepared.lifted:
        least = min((load for _, load in loaded.loads_n), default=0.0)
        key, label = f"tips.{name}", f"{name} loaded, least weight on a wheel"
        if loaded.tips:
            words = "the robot tips over as it lifts; a [skid.NAME] in front could carry it"
            yield Finding("lift", key, label, 0.0, "N", None, Verdict.OVER, words)
        elif least <= 0:
            yield Finding("lift", key, label, least, "N", None, Verdict.TIGHT, "wheels hang in the air")
        else:
            yield told("lift", key, label, least, "N", "all wheels stay on the floor")
