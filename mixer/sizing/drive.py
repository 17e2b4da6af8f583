"""Speed, sprint, stop, turn and push of the live robot, for each shape that a switch chooses.

Level floor, full pack, cold. A standing push is a
run against something that does not move.
"""

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from mixer.plant.at_zero import at_zero
from mixer.plant.from_profile import Prepared
from mixer.plant.parts.quantities import GRAVITY
from mixer.plant.parts.robot import Opponent, Robot
from mixer.plant.step.advance import LOW_VOLTAGE_S
from mixer.sizing.finding import Finding, Verdict, judged, told
from mixer.sizing.trial import AHEAD, AROUND, LEFT, Course, Pace, Sticks, Trial, paces_of, sticks_for

DEFAULT_WAY_M = 3.0
"""Way of the sprint where the profile names no arena."""
LONGEST_S = 20.0
LOOK_S = 0.1
STEADY = 1e-3
"""Settled once it changes by less than this share in `LOOK_S`."""
AT_REST_MPS = 2e-3
WALL = Opponent(1e5, 1e3)
STRAIGHT = 0.002
"""Sideways by less than this share of the way is straight: two millimetres a metre."""
PULLS = 0.02
"""By more than this it takes a hand to keep it on its way."""
MOVES_MPS = 0.02
PUSH_S = 0.8
"""Long enough for any slew and for every motor to come to its stall."""
GRIPPED = 0.9
LEAST_N = 1e-3
"""A push below this is none: what is left of an iteration."""


def drive_findings(trial: Trial, prepared: Prepared) -> Iterator[Finding]:
    """For the fastest choice under plain keys, for every other under ``key.choice``."""
    ways = {name: sticks_for(trial.plan, trial.whole, way) for name, way in WAYS.items()}
    best = fastest(trial)
    for pace in sorted(paces_of(trial.plan), key=lambda pace: pace != best):
        first = pace == best
        run = _straight(trial, pace, ways["ahead"], prepared)
        moves = abs(run.top) > MOVES_MPS
        yield from (
            _speed(trial, pace, run, ways, first=first) if moves else [_still(trial, pace, first=first)]
        )
        if first and moves:
            yield from _side(trial, pace, ways["left"])
            yield from _nose(trial.whole, prepared, hardest_stop(run))
        yield from _push(trial, pace, ways["ahead"], prepared, first=first)


def fastest(trial: Trial) -> Pace:
    """The choice that is furthest ahead after a moment at full stick."""
    ahead, ways = sticks_for(trial.plan, trial.whole, AHEAD), {}
    paces = paces_of(trial.plan)
    for pace in paces if len(paces) > 1 else ():
        trial.begin(pace)
        ways[pace] = trial.hold(ahead, 5 * LOOK_S).last("x")
    return max(paces, key=lambda pace: ways.get(pace, 0.0))


def _nose(robot: Robot, prepared: Prepared, braking: float) -> Iterator[Finding]:
    """Whether the hardest stop stands it on its nose: braking/g against reach/height of the centre."""
    height = prepared.stance.centre[2]
    ahead = max([wheel.x for wheel in robot.wheels] + [skid.x for skid in robot.skids], default=0.0)
    if height <= 0 or ahead <= 0:
        return
    limit, value = ahead / height, braking / GRAVITY
    words = ("all wheels stay on the floor", "its rear nearly lifts", "its rear wheels lift")
    yield judged("drive", "braking", "hardest stop", value, "g", limit, words)


def _still(trial: Trial, pace: Pace, *, first: bool) -> Finding:
    """Of a robot that full stick does not move."""
    key, label = named("top_speed", "top speed", pace, first=first)
    words = "it cannot move itself: its motors do not overcome their own friction and the floor's"
    if trial.value("low_s") >= LOW_VOLTAGE_S:
        words = "it cannot move itself: the low-voltage stop cuts the drives"
    return Finding("drive", key, label, 0.0, "m/s", None, Verdict.OVER, words)


WAYS = {"ahead": AHEAD, "left": LEFT, "around": AROUND}


def named(key: str, label: str, pace: Pace, *, first: bool) -> tuple[str, str]:
    """Key and label of a number that belongs to a choice."""
    if not pace.name:
        return key, label
    return key if first else f"{key}.{pace.name.replace(', ', '_')}", f"{label}, {pace.name}"


class _Run:
    """A sprint to the top speed and the stop from it."""

    def __init__(self, way_m: float) -> None:
        self.way_m, self.top, self.seconds, self.end = way_m, 0.0, math.inf, 0.0
        self.peak_a, self.lowest_v, self.aside, self.yaw = 0.0, math.inf, 0.0, 0.0
        self.stops: dict[str, tuple[float, float]] = {}
        """By what the controllers do: way in m, hardest deceleration in m/s²."""

    def look(self, seen: Course, before_s: float) -> None:
        """Take in a piece of the sprint."""
        way = seen.of("x")
        self.peak_a = max(self.peak_a, float(seen.of("battery_first_a").max()))
        self.lowest_v = min(self.lowest_v, float(seen.of("lowest_v").min()))
        if self.seconds == math.inf and way[-1] >= self.way_m:
            tick = int(np.argmax(way >= self.way_m))
            self.seconds, self.end = before_s + (tick + 1) * seen.tick_s, float(seen.of("vx")[tick])
        self.top, self.yaw = seen.last("vx"), seen.last("yaw")
        self.aside = seen.last("y")
        if abs(self.top) > AT_REST_MPS and (rest := self.way_m - seen.last("x")) > 0:
            # The rest of the way on the circle that it has settled to.
            bend = seen.last("turn") / self.top * rest
            self.aside, self.yaw = self.aside + rest * (self.yaw + bend / 2), self.yaw + bend


def top_speed(trial: Trial, pace: Pace) -> float:
    """The speed in m/s that full stick settles to."""
    run = _Run(DEFAULT_WAY_M)
    _sprint(trial, pace, sticks_for(trial.plan, trial.whole, AHEAD), run)
    return run.top


def _sprint(trial: Trial, pace: Pace, ahead: Sticks, run: _Run) -> float:
    """From standstill until the speed has settled; the seconds that takes."""
    trial.begin(pace)
    seconds, before = 0.0, math.inf
    while seconds < LONGEST_S:
        run.look(trial.hold(ahead, LOOK_S), seconds)
        seconds += LOOK_S
        if abs(run.top - before) < STEADY * abs(run.top) + 1e-5 and seconds > 0.5:
            break
        before = run.top
    return seconds


def _straight(trial: Trial, pace: Pace, ahead: Sticks, prepared: Prepared) -> _Run:
    run = _Run(prepared.arena_m or DEFAULT_WAY_M)
    seconds = _sprint(trial, pace, ahead, run)
    if run.seconds == math.inf and run.top > 0.01:
        # The rest of the way at the speed it has settled to.
        run.seconds, run.end = seconds + (run.way_m - trial.value("x")) / run.top, run.top
    moment = trial.moment()
    for word, body in at_zero(trial.whole, prepared.unsaid_at_zero):
        trial.back(moment, body)
        run.stops[word] = _stop(trial)
    return run


def _stop(trial: Trial) -> tuple[float, float]:
    """Way in m and hardest deceleration in m/s² with all sticks let go."""
    way, hardest, seconds = 0.0, 0.0, 0.0
    pace = math.hypot(trial.value("vx"), trial.value("vy"))
    while pace > AT_REST_MPS and seconds < LONGEST_S:
        before = trial.value("vx")
        speeds = np.concatenate(([before], (seen := trial.hold({}, LOOK_S)).of("vx")))
        window = max(1, round(0.02 / seen.tick_s))
        falls = (speeds[:-window] - speeds[window:]) / (window * seen.tick_s)
        hardest, seconds = max(hardest, float(falls.max())), seconds + LOOK_S
        paces = np.hypot(seen.of("vx"), seen.of("vy"))
        way += float(paces.sum() + (pace - paces[-1]) / 2) * seen.tick_s
        pace = float(paces[-1])
    return way, hardest


def _speed(
    trial: Trial, pace: Pace, run: _Run, ways: dict[str, Sticks], *, first: bool
) -> Iterator[Finding]:
    key, label = named("top_speed", "top speed", pace, first=first)
    yield told("drive", key, label, run.top, "m/s", f"{run.top * 3.6:.1f} km/h, full pack")
    key, label = named("sprint", f"time over {run.way_m:g} m", pace, first=first)
    if run.seconds < math.inf:
        words = f"from standstill, {run.end:.2f} m/s at the end, up to {run.peak_a:.3g} A"
        yield told("drive", key, label, run.seconds, "s", words)
    else:
        yield Finding("drive", key, label, None, "s", None, Verdict.OVER, "it does not get there")
    for word, (way, _) in run.stops.items():
        key, label = named(f"stopping.{word}", f"stopping distance, {word}", pace, first=first)
        words = "; [output.NAME] at_zero says which" if len(run.stops) > 1 else ""
        yield told("drive", key, label, way, "m", f"sticks let go at top speed{words}")
    key, label = named("turn_rate", "turn rate", pace, first=first)
    rate, slip, half = _turn(trial, pace, ways["around"])
    words = f"{math.degrees(rate):.0f} degrees a second on the spot; tyres scrub at up to {slip:.2f} m/s"
    yield told("drive", key, label, rate, "rad/s", words)
    if half is not None:
        key, label = named("half_turn", "half a turn", pace, first=first)
        yield told("drive", key, label, half, "s", "on the spot, from standstill")
    if first and abs(run.aside) > STRAIGHT * run.way_m:
        yield _aside(run)


def _aside(run: _Run) -> Finding:
    """The pull of the robot as it is, once it is more than a straight run has."""
    side, aside, label = (
        "left" if run.aside > 0 else "right",
        abs(run.aside),
        f"aside after {run.way_m:g} m",
    )
    if abs(run.yaw) > math.pi / 4:
        words = f"turns away to the {side} before it gets there"
        return Finding("drive", "aside", label, None, "m", None, Verdict.TIGHT, words)
    words = f"pulls to the {side}; `calibrate --drift` finds the gain that cures it"
    verdict = Verdict.TIGHT if aside > PULLS * run.way_m else Verdict.TOLD
    return Finding("drive", "aside", label, aside, "m", None, verdict, words)


def hardest_stop(run: _Run) -> float:
    """The hardest deceleration of any way to stop, in m/s²."""
    return max(hardest for _, hardest in run.stops.values())


def _turn(trial: Trial, pace: Pace, around: Sticks) -> tuple[float, float, float | None]:
    """Turn rate in rad/s, the fastest scrub in m/s, and the time of half a turn in s."""
    trial.begin(pace)
    seconds, before, rate, slip, half = 0.0, math.inf, 0.0, 0.0, None
    while seconds < LONGEST_S / 4:
        before, seen = rate, trial.hold(around, LOOK_S)
        turned = abs(seen.of("yaw")) >= math.pi
        if half is None and turned.any():
            half = seconds + float(np.argmax(turned) + 1) * seen.tick_s
        rate, seconds = seen.last("turn"), seconds + LOOK_S
        slip = max(abs(seen.last(f"wheel.{wheel.name}.slip")) for wheel in trial.whole.wheels)
        if half is not None and abs(rate - before) <= STEADY * abs(rate) + 1e-5:
            break
    return rate, slip, half


def _side(trial: Trial, pace: Pace, left: Sticks) -> Iterator[Finding]:
    if not left:
        return
    trial.begin(pace)
    for _ in range(round(2.0 / LOOK_S)):
        seen = trial.hold(left, LOOK_S)
    speed = abs(seen.last("vy"))
    yield told("drive", "side_speed", "speed sideways", speed, "m/s", f"{speed * 3.6:.1f} km/h, full pack")


def _push(trial: Trial, pace: Pace, ahead: Sticks, prepared: Prepared, *, first: bool) -> Iterator[Finding]:
    robot = trial.whole
    trial.begin(pace, replace(robot, opponent=WALL))
    seen = trial.hold(ahead, PUSH_S)
    newtons = grip = 0.0
    for wheel in robot.wheels:
        newtons += seen.last(f"wheel.{wheel.name}.force") * math.cos(wheel.angle)
        grip += wheel.most_n * abs(math.cos(wheel.angle)) if robot.motors_at(wheel) else 0.0
    newtons = newtons if abs(newtons) > LEAST_N else 0.0
    key, label = named("push", "standing push", pace, first=first)
    amps = f"draws {seen.last('battery_a'):.3g} A meanwhile"
    if newtons >= GRIPPED * grip:
        yield Finding("push", key, label, newtons, "N", grip, Verdict.TOLD, f"grip ends it; {amps}")
    else:
        words = f"torque ends it, the motors stall; the floor would take {grip:.3g} N; {amps}"
        yield Finding("push", key, label, newtons, "N", grip, Verdict.TIGHT, words)
    if first and prepared.opponent is not None:
        yield _opponent(trial, pace, ahead, prepared.opponent)


def _opponent(trial: Trial, pace: Pace, ahead: Sticks, opponent: Opponent) -> Finding:
    trial.begin(pace, replace(trial.whole, opponent=opponent))
    speed, before, seconds = 0.0, math.inf, 0.0
    while seconds < LONGEST_S / 2 and abs(speed - before) > STEADY * abs(speed) + 1e-5:
        before, seen = speed, trial.hold(ahead, 2 * LOOK_S)
        speed, seconds = seen.last("vx"), seconds + 2 * LOOK_S
    moves = speed > MOVES_MPS
    words, verdict = ("moves it", Verdict.FINE) if moves else ("does not move it", Verdict.OVER)
    label = f"speed pushing {opponent.mass_kg:g} kg"
    return Finding("push", "pushing_speed", label, speed if moves else 0.0, "m/s", None, verdict, words)
