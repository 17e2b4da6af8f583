"""Findings about currents, battery and heat."""

from collections.abc import Iterator

from mixer.plant.parts.heat import seconds_to_limit
from mixer.plant.parts.robot import Output, Robot
from mixer.plant.sizing.finding import Finding, Verdict, judged, told
from mixer.plant.sizing.measures import Measures

USABLE = 0.8
"""Share of the charge that should be planned with; the rest spares the cells (common practice)."""


def current_findings(robot: Robot, match: Measures) -> Iterator[Finding]:
    """Stall and typical current of each output against its driver's rating."""
    said = ("well within the rating", "close to the rating", "more than the driver carries for long")
    for index, (output, stall) in enumerate(zip(robot.outputs, robot.stall_currents(), strict=True)):
        if output.motor is None:
            continue
        yield _stall_finding(output, stall)
        key, label, typical = f"typical_a.{output.name}", f"{output.name} typical", match.effective_a(index)
        if output.driver.rated_a is None:
            yield told("currents", key, label, typical, "A")
        else:
            yield judged("currents", key, label, typical, "A", output.driver.rated_a, said)


def _stall_finding(output: Output, stall: float) -> Finding:
    key, label, rated = f"stall_a.{output.name}", f"{output.name} stalled", output.driver.rated_a
    if rated is None:
        return told("currents", key, label, stall, "A", "no rating given")
    carries = stall <= rated
    words = "the driver carries even a stall" if carries else "a stall is more than it carries for long"
    if output.driver.limit_a is not None and stall >= output.driver.limit_a:
        words += "; it limits itself here"
    return Finding(
        "currents", key, label, stall, "A", rated, Verdict.FINE if carries else Verdict.TIGHT, words
    )


def battery_findings(
    robot: Robot, match: Measures, minutes: float, charge_left: float
) -> Iterator[Finding]:
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
        yield told("battery", "peak_a", "highest current", match.peak_a, "A", "no C rating given")
    else:
        said = ("within the C rating", "close to the C rating", "more than the pack's C rating allows")
        yield judged("battery", "peak_a", "highest current", match.peak_a, "A", battery.most_current, said)
    together = _all_stalled(robot)
    yield told("battery", "all_stalled_v", "volts, everything stalled", together, "V", "full pack")
    low = battery.low_v
    if low is None:
        yield told("battery", "lowest_v", "lowest volts", match.lowest_v, "V")
    else:
        fine = match.lowest_v > low
        words_low = "above the low-voltage stop" if fine else "dips below the low-voltage stop"
        verdict = Verdict.FINE if fine else Verdict.TIGHT
        yield Finding("battery", "lowest_v", "lowest volts", match.lowest_v, "V", low, verdict, words_low)
    yield told("battery", "left", "charge left", 100 * charge_left, "%")


def _all_stalled(robot: Robot) -> float:
    siemens = 0.0
    for output in robot.outputs:
        if output.motor is not None:
            motor = output.motor.parallel(output.count)
            siemens += 1 / (motor.resistance_ohm + output.driver.resistance_ohm)
    volts = robot.battery.rest_volts(1.0)
    return volts / (1 + siemens * robot.battery.series_ohm)


def heat_findings(robot: Robot, match: Measures) -> Iterator[Finding]:
    """Hottest winding of each output over the match, and how long a stall may last."""
    stalls = robot.stall_currents()
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
        cold = (stalls[index] / output.count) ** 2 * output.motor.resistance_ohm
        time = seconds_to_limit(output.heat, cold, limit, robot.air_c)
        words = "from cold to the limit" if time else "never reaches its limit"
        yield told("heat", f"stall_s.{output.name}", f"{output.name} stall time", time, "s", words)
