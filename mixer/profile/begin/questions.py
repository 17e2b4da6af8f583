"""What is asked about a robot before a profile is written, in order, and which answers will do.

Answers are texts, as typed or as a file gives them; each question makes a value of one, or refuses it with
a remedy. What is asked depends on what was answered before.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from mixer.errors import OptionError, listed, offer

Answers: TypeAlias = Mapping[str, Any]
"""Values by the questions' names; of every question that applies."""
Read: TypeAlias = Callable[[str, Answers], Any]

MOST_MOTORS, MOST_ACTUATORS, MOST_CHANNELS = 16, 4, 16
UNUSED = "-"
"""In the receiver's order: a channel that nothing uses."""


def always(_: Answers) -> bool:
    """Of a question that is asked of every robot."""
    return True


@dataclass(frozen=True, slots=True)
class Question:
    """One question."""

    name: str
    """Its key in a file of answers."""
    asks: str
    because: str
    """What the answer is for, and what may be answered."""
    default: Callable[[Answers], str]
    read: Read
    """The value of an answer; raises OptionError for one that will not do."""
    applies: Callable[[Answers], bool] = always


def answered(question: Question, text: str, before: Answers) -> Any:  # noqa: ANN401 - the question's own
    """The value of an answer, an empty one standing for the default. Raises OptionError."""
    return question.read(text.strip() or question.default(before), before)


def _number(low: float, high: float, unit: str = "") -> Read:
    def read(text: str, _: Answers) -> float:
        try:
            value = float(text.removesuffix(unit).replace(",", "."))
        except ValueError:
            raise OptionError(f"{text!r} is no number", f"give one from {low:g} to {high:g}") from None
        if not low <= value <= high:
            raise OptionError(f"{value:g} is out of reach", f"give a number from {low:g} to {high:g}")
        return value

    return read


def _whole(low: int, high: int, fits: Callable[[int, Answers], str] = lambda *_: "") -> Read:
    """`fits` says what is wrong with a number in reach, and what would be right; empty where it will do."""

    def read(text: str, before: Answers) -> int:
        if not text.isascii() or not text.isdigit():
            raise OptionError(f"{text!r} is no whole number", f"give one from {low} to {high}")
        remedy = "" if low <= int(text) <= high else f"give a whole number from {low} to {high}"
        remedy = remedy or fits(int(text), before)
        if remedy:
            raise OptionError(f"{text} will not do", remedy)
        return int(text)

    return read


def _choice(*choices: str) -> Read:
    def read(text: str, _: Answers) -> str:
        if text.lower() not in choices:
            raise OptionError(f"{text!r} is none of them", offer(text.lower(), choices, "answers"))
        return text.lower()

    return read


def _mass_or_none(text: str, before: Answers) -> float | None:
    return None if text.lower() == "none" else float(_number(0.05, 500)(text, before))


def _even(motors: int, _: Answers) -> str:
    return "each side has as many: give an even number" if motors % 2 else ""


def _shared(count: int, before: Answers) -> str:
    side = before["motors"] // 2
    fit = [str(each) for each in range(1, side + 1) if side % each == 0]
    return "" if side % count == 0 else f"a side has {side} motors, so give one of: {', '.join(fit)}"


def channel_names(before: Answers) -> Sequence[str]:
    """Every stick and switch of the robot, in the order in which receivers often have them."""
    sideways = () if before["layout"] == "sides" else ("sideways",)
    tools = tool_sticks(before)
    return (
        "steering",
        "throttle",
        *sideways,
        *tools,
        "arm",
        *(("pace",) if before["pace"] == "yes" else ()),
    )


def tool_sticks(before: Answers) -> Sequence[str]:
    """The sticks that move the actuators."""
    count = before["actuators"]
    each = count > 1 and before["actuator_sticks"] == "each"
    return tuple(f"tool_{number}" for number in range(1, count + 1)) if each else ("tool",) if count else ()


def _order(text: str, before: Answers) -> tuple[str, ...]:
    needed = channel_names(before)
    given = text.replace(",", " ").split()
    known = [*needed, UNUSED]
    for name in given:
        if name not in known:
            raise OptionError(f"there is no channel {name!r}", offer(name, known, "channels"))
    twice = sorted({name for name in given if name != UNUSED and given.count(name) > 1})
    missing = [name for name in needed if name not in given]
    if twice or missing:
        said = f"{listed(twice)} stands there twice" if twice else f"{listed(missing)} is missing"
        raise OptionError(said, f"name each of them once, in the receiver's order: {' '.join(needed)}")
    if len(given) > MOST_CHANNELS:
        raise OptionError(f"{len(given)} channels are too many", f"a receiver has {MOST_CHANNELS} at most")
    return tuple(given)


def _sides(before: Answers) -> bool:
    return bool(before["layout"] == "sides")


def _axles(before: Answers) -> int:
    return int(before["motors"]) // 2 if _sides(before) else 1


def _has_actuators(before: Answers) -> bool:
    return bool(before["actuators"])


def _wheelbase(before: Answers) -> str:
    return f"{1.15 * before['wheel_mm'] * (_axles(before) - 1):.0f}"


def _fixed(answer: str) -> Callable[[Answers], str]:
    return lambda _: answer


QUESTIONS: tuple[Question, ...] = (
    Question(
        "layout", "How do the wheels stand?",
        "sides: in a row on each side, it turns like a tank. trio: three that roll sideways too, a third "
        "of a turn apart. cross: four such wheels, a quarter of a turn apart.",
        _fixed("sides"), _choice("sides", "trio", "cross"),
    ),
    Question(
        "motors", "How many motors drive it, both sides together?",
        f"Each turns one wheel. An even number up to {MOST_MOTORS}.",
        _fixed("4"), _whole(2, MOST_MOTORS, _even), _sides,
    ),
    Question(
        "motors_per_channel", "How many of them hang on one motor channel?",
        "Motors on one channel get the same command; more channels give each axle a mix of its own.",
        _fixed("1"), _whole(1, MOST_MOTORS // 2, _shared), _sides,
    ),
    Question(
        "wire", "What is between board and motors?",
        "pulse: speed controllers that take a servo's pulse. duty: bridges that the board drives itself.",
        _fixed("pulse"), _choice("pulse", "duty"),
    ),
    Question(
        "wheel_mm", "How large are the wheels, in mm?", "Their diameter: speed and push follow from it.",
        _fixed("80"), _number(10, 1000, "mm"),
    ),
    Question(
        "track_mm", "How far apart are left and right wheels, in mm?",
        "From tread to tread across the robot: it decides how quickly the robot turns.",
        _fixed("300"), _number(30, 5000, "mm"),
    ),
    Question(
        "wheelbase_mm", "How far is it from the first axle to the last, in mm?",
        "The longer, the more the tyres scrub in a turn.",
        _wheelbase, _number(10, 8000, "mm"), lambda before: _axles(before) > 1,
    ),
    Question(
        "motor_rpm", "How fast does a wheel turn without load, in turns a minute?",
        "From the gearmotor's data sheet, at the nominal volts of the battery below.",
        _fixed("300"), _number(5, 20_000),
    ),
    Question(
        "stall_a", "How much current does one motor draw when it is held fast, in A?",
        "The data sheet's stall current: torque, push and the load of battery and wires follow from it.",
        _fixed("8"), _number(0.1, 500, "A"),
    ),
    Question(
        "cells", "How many cells has the battery, in series?", "Lithium, 3.7 V nominal each.",
        _fixed("3"), _whole(1, 14),
    ),
    Question(
        "capacity_ah", "How much charge does it hold, in Ah?", "2200 mAh are 2.2.",
        _fixed("2.2"), _number(0.05, 100, "Ah"),
    ),
    Question(
        "mass_kg", "What does the robot weigh, ready to drive, in kg?", "A guess will do to begin with.",
        _fixed("3"), _number(0.05, 500, "kg"),
    ),
    Question(
        "class_limit_kg", "What is the most that the event allows, in kg?", "none where there is no limit.",
        _fixed("none"), _mass_or_none,
    ),
    Question(
        "actuators", "How many actuators are there besides the wheels?",
        f"What goes out and in between two ends: a screw, a lifting arm. Up to {MOST_ACTUATORS}.",
        _fixed("0"), _whole(0, MOST_ACTUATORS),
    ),
    Question(
        "actuator_sticks", "Do they share one stick, or has each its own?", "one, or each.",
        _fixed("one"), _choice("one", "each"), lambda before: before["actuators"] > 1,
    ),
    Question(
        "end_stops", "Which ends have a switch that the board reads?",
        "both, out, in or none. circuit: switches with diodes in the motor's own circuit, unseen by the "
        "board. An end that the board does not see is watched by time alone.",
        _fixed("both"), _choice("both", "out", "in", "none", "circuit"), _has_actuators,
    ),
    Question(
        "stop_switch", "What does such a switch do at its end?",
        "opens: a broken wire then looks like a reached end, the safe way round. closes: it is not seen.",
        _fixed("opens"), _choice("opens", "closes"),
        lambda before: _has_actuators(before) and before["end_stops"] not in ("none", "circuit"),
    ),
    Question(
        "travel_mm", "How long is their way, in mm?", "Between the two ends.",
        _fixed("50"), _number(1, 2000, "mm"), _has_actuators,
    ),
    Question(
        "travel_s", "How long do they take for it, in s?",
        "Measured without load; one that drives half as long again without meeting its end is stopped.",
        _fixed("5"), _number(0.1, 50, "s"), _has_actuators,
    ),
    Question(
        "pace", "Is there a switch for a gentle and a full pace?",
        "yes or no. It chooses between two shapes of the driving sticks: half the speed, or all of it.",
        _fixed("no"), _choice("yes", "no"),
    ),
    Question(
        "receiver", "What is on the receiver's channels, from the first on?",
        f"These very names, in your receiver's order; {UNUSED} for a channel that nothing uses.",
        lambda before: " ".join(channel_names(before)), _order,
    ),
    Question(
        "stop", "How shall it stop when the radio goes?",
        "cut: every output to zero at once. ramp: down in 60 ms, for a robot that would stand on its nose.",
        _fixed("cut"), _choice("cut", "ramp"),
    ),
    Question(
        "minutes", "How long is a match, in minutes?", "Charge and heat are worked out for it.",
        _fixed("3"), _number(0.5, 120),
    ),
)  # fmt: skip
"""In the order in which they are asked; an answer may only depend on those before it."""
