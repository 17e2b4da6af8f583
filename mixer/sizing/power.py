"""Findings about currents, battery and heat."""

from collections.abc import Iterator
from dataclasses import dataclass

from mixer.plant.parts.damage import seized
from mixer.plant.parts.heat import seconds_to_limit
from mixer.plant.parts.robot import Output, Robot
from mixer.plant.step.advance import LOW_VOLTAGE_S
from mixer.sizing.finding import Finding, Verdict, judged, told
from mixer.sizing.match import MatchResult
from mixer.sizing.trial import AHEAD, AROUND, LEFT, Pace, Trial, sticks_for, sticks_moving

USABLE = 0.8
"""Share of the charge that should be planned with; the rest spares the cells (common practice)."""


MOST_NOMINAL = 1.5
STALL_S = 0.6
"""Long enough for any usual slew; the copper hardly warms by then."""


@dataclass(frozen=True, slots=True)
class Stalls:
    """Everything held fast, at full stick."""

    amps: tuple[float, ...]
    """The most of each output."""
    lowest_v: float


def stalled(trial: Trial, pace: Pace) -> Stalls:
    """Hold everything fast and drive it every way, actuators out all the while."""
    robot = trial.whole
    for index in range(len(robot.outputs)):
        robot = seized(robot, index)
    screws = sticks_moving(trial.plan, sorted({item.output for item in robot.actuators}))
    amps, lowest = [0.0] * len(robot.outputs), robot.battery.rest_volts(1.0)
    for way in (AHEAD, LEFT, AROUND):
        trial.begin(pace, robot)
        seen = trial.hold({**screws, **sticks_for(trial.plan, trial.whole, way)}, STALL_S)
        ends = [round(abs(seen.last(f"output.{output.name}.current")), 9) for output in robot.outputs]
        amps = [max(pair) for pair in zip(amps, ends, strict=True)]
        lowest = min(lowest, float(seen.of("lowest_v").min()))
    return Stalls(tuple(amps), lowest)


def current_findings(robot: Robot, stalls: Stalls, match: MatchResult) -> Iterator[Finding]:
    """Stall and typical current of each output against its driver's rating, its gearing's torque."""
    said = ("well within the rating", "close to the rating", "more than the driver carries for long")
    yield from _nominal(robot)
    for index, (output, stall) in enumerate(zip(robot.outputs, stalls.amps, strict=True)):
        if output.motor is None:
            continue
        yield _stall_finding(output, stall)
        typical = match.effective_a[index]
        key, label = f"typical_a.{output.name}", f"{output.name} typical"
        if output.driver.rated_a is None:
            yield told("currents", key, label, typical, "A")
        else:
            yield judged("currents", key, label, typical, "A", output.driver.rated_a, said)
        yield from _gearing(output, max(stall, match.peak_output_a[index]))


def _nominal(robot: Robot) -> Iterator[Finding]:
    """What the full pack is to each motor's nominal volts; half as much again is common practice."""
    by_motor = {output.motor_name: output.nominal_v for output in robot.outputs if output.motor is not None}
    words = ("within what motors usually bear", "much for this motor", "more than this motor is made for")
    for name, nominal in by_motor.items():
        if nominal is not None:
            share = 100 * robot.battery.rest_volts(1.0) / nominal
            label = f"{name}: full pack to nominal volts"
            yield judged("currents", f"nominal.{name}", label, share, "%", 100 * MOST_NOMINAL, words)


def _gearing(output: Output, amps: float) -> Iterator[Finding]:
    if output.gear_torque_nm is None or output.motor is None:
        return
    torque = output.gearing.output_torque(output.motor.constant * amps / output.count)
    words = ("the gearing stands it", "close to what the gearing stands", "more than the gearing stands")
    key, label = f"gear_nm.{output.name}", f"{output.name} gearing, most torque"
    yield judged("currents", key, label, torque, "N·m", output.gear_torque_nm, words)


def _stall_finding(output: Output, stall: float) -> Finding:
    key, label, rated = f"stall_a.{output.name}", f"{output.name} stalled", output.driver.rated_a
    if rated is None:
        return told("currents", key, label, stall, "A", "no rating given")
    carries = stall <= rated
    words = "the driver carries even a stall" if carries else "a stall is more than it carries for long"
    if output.driver.limit_a is not None:
        held = stall >= 0.99 * output.driver.limit_a
        words += f"; it limits itself {'here' if held else f'at {output.driver.limit_a:g} A only'}"
    return Finding(
        "currents", key, label, stall, "A", rated, Verdict.FINE if carries else Verdict.TIGHT, words
    )


def battery_findings(robot: Robot, stalls: Stalls, match: MatchResult, minutes: float) -> Iterator[Finding]:
    """Charge used, highest current against the C rating, lowest volts against the low-voltage stop."""
    battery = robot.battery
    used = match.charge_ah / battery.capacity_ah
    lasts = minutes * USABLE / used if used > 0 else float("inf")
    words = (
        f"lasts {lasts:.0f} min at this pace",
        f"lasts {lasts:.0f} min at this pace: little is left",
        f"lasts {lasts:.1f} min at this pace: it runs empty first",
    )
    yield judged("battery", "charge", "charge used", 100 * used, "%", 100 * USABLE, words, 0.85)
    if battery.most_current is None:
        yield told("battery", "peak_a", "highest current, match", match.peak_a, "A", "no C rating given")
    else:
        said = ("within the C rating", "close to the C rating", "more than the pack's C rating allows")
        yield judged(
            "battery", "peak_a", "highest current, match", match.peak_a, "A", battery.most_current, said
        )
    yield _all_stalled(battery.low_v, stalls.lowest_v)
    yield from _volts(battery.low_v, match, minutes)
    holds = f"of {battery.energy_wh():.4g} Wh in a full pack"
    yield told("battery", "left", "charge left", 100 * match.charge_left, "%", holds)


def _all_stalled(low: float | None, lowest: float) -> Finding:
    key, label = "all_stalled_v", "volts, everything stalled"
    if low is None or lowest >= low:
        words, verdict = "full pack", Verdict.TOLD if low is None else Verdict.FINE
    else:
        words = f"full pack; held there for {LOW_VOLTAGE_S:g} s the low-voltage stop cuts the drives"
        verdict = Verdict.TIGHT
    return Finding("battery", key, label, lowest, "V", low, verdict, words)


def _volts(low: float | None, match: MatchResult, minutes: float) -> Iterator[Finding]:
    if match.cut_after_s is not None:
        words_cut = "the low-voltage stop cuts the drives by then"
        cut = match.cut_after_s
        yield Finding("battery", "cut", "drives cut after", cut, "s", 60 * minutes, Verdict.OVER, words_cut)
    if low is None:
        yield told("battery", "lowest_v", "lowest volts, match", match.lowest_v, "V")
    else:
        fine = match.lowest_v > low
        words_low = "above the low-voltage stop" if fine else "dips below the low-voltage stop"
        verdict = Verdict.FINE if fine else Verdict.TIGHT
        yield Finding(
            "battery", "lowest_v", "lowest volts, match", match.lowest_v, "V", low, verdict, words_low
        )


def heat_findings(robot: Robot, stalls: Stalls, match: MatchResult) -> Iterator[Finding]:
    """Hottest winding of each output over the match, and how long a stall may last."""
    for index, output in enumerate(robot.outputs):
        warmest = match.hottest_c[index]
        if output.heat is None or output.motor is None or warmest is None:
            continue
        key, label = f"winding_c.{output.name}", f"{output.name} winding, hottest"
        limit = output.heat.limit_c
        if limit is None:
            yield told("heat", key, label, warmest, "°C", "no limit given")
            continue
        said = ("stays cool enough", "close to its limit", "too hot: it will not last")
        yield judged("heat", key, label, warmest, "°C", limit, said)
        cold = (stalls.amps[index] / output.count) ** 2 * output.motor.resistance_ohm
        time = seconds_to_limit(output.heat, cold, limit, robot.air_c)
        words = "from cold to the limit" if time else "never reaches its limit"
        yield told("heat", f"stall_s.{output.name}", f"{output.name} stall time", time, "s", words)
