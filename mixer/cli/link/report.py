"""What a recording was like: the counts, each wire's noise and gaps, and the board's own frames."""

from typing import Any

from mixer.cli.link.quiet import QuietWatch, WireRegularity
from mixer.cli.shared.console import Console
from mixer.core.plan import Plan
from mixer.link.jitter import ChannelJitter
from mixer.link.recorder import Progress

COLUMNS = ["channel", "pulses>", "a second>", "longest gap>", "at rest>", "noise (rms)>", "noise (range)>",
           "suggested deadband>"]  # fmt: skip
NOTHING = "-"


def show_counts(progress: Progress, quiet: QuietWatch, console: Console) -> None:
    """Rows, losses and bad frames, and how regularly the board sent."""
    counts = progress.counts
    console.heading(f"{progress.rows} rows, {progress.seconds:.1f} s of the board's clock")
    console.say(
        f"frames: {quiet.frames_hz:.1f} a second, longest gap {quiet.worst_frame_gap_ms:.0f} ms; "
        f"lost {counts.lost} ({counts.drop_rate:.2%}), bad {counts.bad}, {counts.noise_bytes} stray bytes"
    )
    if counts.unplugged:
        console.say(
            f"times unplugged: {counts.unplugged}; the log has gaps there, and rates have them counted in"
        )
    if counts.late:
        console.say(
            f"ticks that came late on the board: {counts.late}; each time its mix began anew, at rest"
        )
    if progress.resets:
        console.say(
            f"times the board's clock began anew: {progress.resets}; how long it was away is not known"
        )


def show_jitter(plan: Plan, quiet: QuietWatch, console: Console) -> None:
    """A line for each channel, and how its noise was measured."""
    rest = quiet.rest()
    noise = rest.channels if rest else (None,) * len(plan.channels)
    spans = _spans(plan)
    lines = (_line(wire, at_rest, spans) for wire, at_rest in zip(quiet.wires(), noise, strict=True))
    console.table(COLUMNS, lines)
    if not any(wire.pulses for wire in quiet.wires()):
        console.say(
            "no pulse came on any channel: see that the receiver is on and hears its transmitter, and that "
            "its wires are where the board reads them; a pulse-sum train of another length is refused"
        )
    elif rest:
        console.say(
            f"noise: from {rest.seconds:.1f} s in which no wire moved; deadband is a key of a stick's shape"
        )
    else:
        console.say("no noise: nothing rested for a second. Leave all sticks alone for a while, and record")


def to_dict(progress: Progress, quiet: QuietWatch) -> dict[str, Any]:
    """The counts and the jitter report as data."""
    return {
        "rows": progress.rows,
        "seconds": progress.seconds,
        "clock_resets": progress.resets,
        "counts": progress.counts,
        "frames_hz": quiet.frames_hz,
        "worst_frame_gap_ms": quiet.worst_frame_gap_ms,
        "wires": quiet.wires(),
        "rest": quiet.rest(),
    }


def _line(wire: WireRegularity, at_rest: ChannelJitter | None, spans: dict[str, int]) -> list[str]:
    cells = [wire.name, str(wire.pulses), f"{wire.rate_hz:.1f}", f"{wire.worst_gap_ms:.0f} ms"]
    if at_rest is None or not at_rest.pulses:
        return [*cells, *(NOTHING,) * 4]
    span, band = spans.get(wire.name), at_rest.deadband_us
    suggested = f"{band} µs = {band / span:.3f}" if span else NOTHING
    noise = [f"{at_rest.middle_us:.1f} µs", f"{at_rest.deviation_us:.2f} µs",
             f"{at_rest.peak_to_peak_us:.1f} µs"]  # fmt: skip
    return [*cells, *noise, suggested]


def _spans(plan: Plan) -> dict[str, int]:
    """Each stick's shorter side in µs: a deadband in the profile is a share of it."""
    return {
        plan.channels[stick.channel].name: min(
            span for span in (stick.low_span_us, stick.high_span_us) if span
        )
        for stick in plan.sticks
    }
