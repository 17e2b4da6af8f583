"""The whole commented profile of a robot from the answers about it."""

from collections.abc import Iterator, Sequence

from mixer.profile.begin.lines import heading, noted
from mixer.profile.begin.machine import machine_lines
from mixer.profile.begin.questions import UNUSED, Answers, tool_sticks
from mixer.profile.begin.wheels import Drive, drives_of
from mixer.profile.starter import checked_title

LOST_MS, SLEW_UP_MS, SLEW_DOWN_MS, SPARE_MS = 250, 120, 60, 10
DEADBAND, NEUTRAL = 0.05, 0.04
FIRST_PIN = 2


def profile_text(name: str, answers: Answers) -> str:
    """A profile that `check` accepts. Raises OptionError for a name that a profile could not hold."""
    drives = drives_of(answers)
    parts = (
        _head(checked_title(name)),
        _channels(answers),
        _shapes(answers),
        _outputs(answers, drives),
        _actuators(answers, len(drives)),
        _guard(answers),
        machine_lines(answers, drives),
    )
    text = "\n".join(line for part in parts for line in part) + "\n"
    return text.replace("\n\n\n", "\n\n")


def _head(name: str) -> Iterator[str]:
    yield "# Made from answers to questions. Numbers that were not asked for are usual ones, and say so."
    yield "# Change whatever you know better, then run: stickwright check THIS_FILE"
    yield "# `stickwright keys WORD` explains a key. Units stand in the key names; a share of 1.0 is full."
    yield from ("", "[robot]", f'name = "{name}"', "tick_ms = 2")


def _channels(answers: Answers) -> Iterator[str]:
    yield heading("What comes in, in the receiver's order")
    yield "# Pulses are nominal, 1000 to 2000 µs around 1500: `stickwright calibrate` finds yours."
    for number, name in enumerate(answers["receiver"], start=1):
        if name == UNUSED:
            continue
        kind = "switch" if name in ("arm", "pace") else "stick"
        yield from ("", f"[{kind}.{name}]", f"receiver = {number}")
        if kind == "stick":
            yield f"shape = {_shape_of(name, answers)}"
        else:
            positions = '["off", "on"]' if name == "arm" else '["gentle", "full"]'
            yield noted(f"positions = {positions}", "the low end of the pulse first")


def _shape_of(stick: str, answers: Answers) -> str:
    if stick in tool_sticks(answers):
        return '"tool"'
    return '{ switch = "pace", gentle = "gentle", full = "full" }' if answers["pace"] == "yes" else '"full"'


def _shapes(answers: Answers) -> Iterator[str]:
    if answers["pace"] == "yes":
        yield from ("", "[shape.gentle]", f"deadband = {DEADBAND}", "expo = 0.3")
        yield noted("rate = 0.5", "full stick gives half: for the pit side")
    yield from ("", "[shape.full]")
    yield noted(f"deadband = {DEADBAND}", "this share of the stick around its centre does nothing")
    yield noted("expo = 0.3", "0 is straight, more is softer around the centre")
    if answers["actuators"]:
        yield from ("", "[shape.tool]", "deadband = 0.1")


def _outputs(answers: Answers, drives: Sequence[Drive]) -> Iterator[str]:
    yield heading("What goes out: the wheels' motor channels")
    yield "# Numbers of pins are placeholders: write those of your board."
    for pin, drive in enumerate(drives, start=FIRST_PIN):
        mix = ", ".join(f"{stick} = {weight:g}" for stick, weight in drive.mix.items())
        yield from ("", f"[output.{drive.name}]", f"pin = {pin}", *_wire(answers), f"mix = {{ {mix} }}")
        if drive.side == "right":
            yield noted("reverse = true", "motors of this side are mounted the other way round")
        yield noted(f"slew_up_ms = {SLEW_UP_MS}", "usual: spares gears and battery")
        yield from (
            f"slew_down_ms = {SLEW_DOWN_MS}",
            "reversal_pause_ms = 20",
            f"motors = {len(drive.wheels)}",
        )
        yield from (
            'motor = "wheel"',
            'driver = "wheel"',
            *([f'side = "{drive.side}"'] if drive.side else []),
        )
    names = ", ".join(f'"{drive.name}"' for drive in drives)
    yield from ("", "[group.drive]", f"outputs = [{names}]")
    yield noted('over_range = "scale"', "all shrink together, so the turn stays what the stick asked")


def _wire(answers: Answers) -> Iterator[str]:
    yield f'wire = "{answers["wire"]}"'
    if answers["wire"] == "duty":
        yield noted("top = 255", "the count of the board's timer that means full")
        yield 'at_zero = "brake"'


def _actuators(answers: Answers, drives: int) -> Iterator[str]:
    if not answers["actuators"]:
        return
    yield heading("Actuators: positive commands extend")
    sticks, stops = tool_sticks(answers), _stops(answers)
    for number in range(1, answers["actuators"] + 1):
        name, stick = f"tool_{number}", sticks[min(number, len(sticks)) - 1]
        yield from ("", f"[output.{name}]", f"pin = {FIRST_PIN + drives + number - 1}", *_wire(answers))
        yield from (f"mix = {{ {stick} = 1 }}", f"slew_up_ms = {SLEW_DOWN_MS}")
        for place, stop in enumerate(stops):
            yield from ("", f"[contact.{name}_{stop}]", f'pin = "A{(number - 1) * len(stops) + place}"')
            yield noted(f"closed_reads = {int(answers['stop_switch'] == 'opens')}", _reads(answers))
        yield from ("", f"[actuator.{name}]", f'output = "{name}"')
        yield from (f'{stop}_stop = "{name}_{stop}"' for stop in stops)
        yield noted(f"full_travel_ms = {1000 * answers['travel_s']:g}", "measured, unloaded")
        yield f"travel_mm = {answers['travel_mm']:g}"
        if answers["end_stops"] == "circuit":
            yield noted("stops_in_circuit = true", "the motor stops itself; the board does not see it")
    yield "# With motor = ... and screw = { thread = ... } in it, `size` tells lift and currents as well."


def _stops(answers: Answers) -> Sequence[str]:
    ends = answers["end_stops"]
    return ("out", "in") if ends == "both" else () if ends in ("none", "circuit") else (ends,)


def _reads(answers: Answers) -> str:
    if answers["stop_switch"] == "opens":
        return "opens at its end, wired to ground: a broken wire reads like a reached end"
    return "closes to ground at its end: a broken wire is not seen"


def _guard(answers: Answers) -> Iterator[str]:
    ramp = SLEW_DOWN_MS if answers["stop"] == "ramp" else 0
    yield heading("When it may move")
    yield from (
        "[guard]",
        noted(f"lost_after_ms = {LOST_MS}", "a dozen frames: short gaps are bridged"),
    )
    yield noted(f"stop_within_ms = {LOST_MS + ramp + SPARE_MS}", "the promise that is tested and proven")
    yield from (f'stop = "{answers["stop"]}"', 'arm = { switch = "arm", position = "on" }')
    yield noted(f"neutral_within = {NEUTRAL}", "no wider than the deadbands: neutral is rest")
    yield from ("arm_hold_ms = 500", 'after_loss = "re-arm"')
