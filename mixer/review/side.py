"""Drives side by side: the same question answered for each, in one row."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from mixer.review.drive import DriveReview


@dataclass(frozen=True, slots=True)
class SideBySide:
    """One question and each drive's answer, in the order of the drives; ``-`` where there is none."""

    what: str
    answers: tuple[str, ...]


def side_by_side(drives: Sequence[DriveReview]) -> tuple[SideBySide, ...]:
    """Everything that can be compared of several drives, or told of one."""
    tables = [dict(_answers(drive)) for drive in drives]
    questions = dict.fromkeys(question for table in tables for question in table)
    return tuple(
        SideBySide(question, tuple(table.get(question, "-") for table in tables)) for question in questions
    )


def _answers(review: DriveReview) -> Iterator[tuple[str, str]]:
    drive, live = review.drive, review.live_s
    minutes = live / 60
    yield "length", f"{drive.duration_s:.1f} s"
    yield "live", f"{live:.1f} s, {_share(live, drive.duration_s)}"
    yield "stopped by a loss or fault", str(review.stops(by_hand=False))
    yield "disarmed by hand", str(review.stops(by_hand=True))
    yield "losses of signal", str(drive.guard.losses_total)
    worst = max(drive.channels, key=lambda channel: channel.longest_gap_ms)
    yield "longest gap", f"{worst.longest_gap_ms:.0f} ms, {worst.name}"
    came, bad = (sum(getattr(c, what) for c in drive.channels) for what in ("pulses", "bad_pulses"))
    missing = sum(channel.missing_pulses for channel in drive.channels)
    yield "bad or missing pulses", f"{(bad + missing) / max(came + bad + missing, 1):.2%}"
    for stick in review.sticks:
        if not stick.live_s:
            continue
        yield f"{stick.name} in deadband", f"{stick.in_deadband:.0%}"
        yield f"{stick.name} at full", f"{stick.at_full:.1%}"
        yield f"{stick.name} mean size", f"{stick.mean_size:.0%}"
    if drive.outputs and live:
        most = max(drive.outputs, key=lambda output: output.saturated_s)
        yield "most saturated", f"{_share(most.saturated_s, live)}, {most.name}"
        turned = max(drive.outputs, key=lambda output: output.reversals)
        yield "reversals a live minute", f"{turned.reversals / minutes:.1f}, {turned.name}"
        rested = max(output.reversal_rest_s for output in drive.outputs)
        yield "resting before reversals", f"{_share(rested, live)}"
    if drive.actuators:
        vetoes = sum(actuator.vetoes for actuator in drive.actuators)
        yield "actuators held back", f"{vetoes}, {sum(a.vetoed_s for a in drive.actuators):.1f} s"
    yield from _physics(review, minutes)


def _physics(review: DriveReview, minutes: float) -> Iterator[tuple[str, str]]:
    found = review.physics
    if found is None:
        return
    a_minute = f", {found.charge_ah * 1000 / minutes:.0f} a live minute" if minutes else ""
    yield "charge", f"{found.charge_ah * 1000:.0f} mAh{a_minute}"
    yield "most current", f"{found.peak_a:.1f} A"
    yield "lowest volts", f"{found.lowest_v:.2f} V"
    yield "distance", f"{found.distance_m:.1f} m"
    yield "top speed", f"{found.top_speed_mps:.2f} m/s"
    yield "wheels slipping", f"{found.slipping_s:.1f} s"
    stalled = max(found.outputs, key=lambda output: output.stalled_s)
    yield "near stall", f"{stalled.stalled_s:.1f} s, {stalled.name}"
    if found.hottest is not None:
        yield "hottest winding", f"{found.hottest[1]:.0f} °C, {found.hottest[0]}"


def _share(part: float, whole: float) -> str:
    return f"{part / whole:.0%}" if whole else "-"
