"""What drivers say of a robot, and what to turn for it. Every first step is small: drive, then turn again.

How much a first step is, is common practice without a source throughout; where the way it acts follows from
a formula, the formula is named.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from mixer.errors import OptionError, nearest
from mixer.profile.feel.steps import (
    Step,
    of_braking,
    of_clipping_groups,
    of_guard,
    of_mix,
    of_outputs,
    of_own_shapes,
    of_shapes,
    of_turning_end,
)

COULOMB = "Coulomb's law of friction: a wheel grips up to grip x its load; the step is common practice"
BENT = "the slope of the shape at its centre is (1 - expo) x rate; the step is common practice"
SHORTED = "a shorted motor brakes with torque K²w/R, an open one only by friction; Kirchhoff's law"
STARTING = "current follows from volts less K x speed, and the slew lets speed grow first; Kirchhoff's law"


@dataclass(frozen=True, slots=True)
class Feeling:
    """One thing that drivers say."""

    words: str
    figure: str
    """What shows whether the step did what it should, and which way that moves."""
    steps: tuple[Step, ...]
    """The first one that the robot has keys for is proposed; the rest are what else would help."""


def _more(value: float) -> float:
    """Half as long again, and from nothing a noticeable slope."""
    return max(1.5 * value, value + 60)


BRAKE_AT_ZERO = Step(
    of_outputs("drives", "at_zero"), lambda _: "brake",
    "at zero the bridge shorts the motor instead of letting it run on", SHORTED,
)  # fmt: skip
SOONER_TO_ZERO = Step(
    of_braking("drives", "slew_down_ms"), lambda value: 0.5 * value,
    "the command is gone in half the time, and the brake at zero begins sooner",
)  # fmt: skip


def _pulls(way: str, faster: str) -> Feeling:
    """It does not drive straight: the other side is the faster one."""
    why = f"the {faster} side is the faster one: a little less of every command on it"
    step = Step(of_outputs(faster, "gain"), lambda value: 0.97 * value, why)
    return Feeling(f"pulls to the {way}", f"way aside to the {way} in a straight drive: less", (step,))


def _turns_faster(way: str, other: str) -> Feeling:
    """Its sticks give more one way round."""
    why = f"the stick's end for {way} lies further out than the profile says: see `calibrate`"
    step = Step(
        of_turning_end(left=way == "left"), lambda value: value + math.copysign(25, value - 1500), why
    )
    figure = f"turn rate to the {way} at the same pulse of the stick: less"
    return Feeling(f"turns faster to the {way} than to the {other}", figure, (step,))


FEELINGS: tuple[Feeling, ...] = (
    Feeling(
        "twitchy at the centre", "the turn that a quarter of the turning stick asks for: less",
        (
            Step(of_own_shapes("expo", "around"), lambda value: value + 0.15,
                 "more expo makes the turning stick softer around its centre and leaves full stick alone",
                 BENT),
            Step(of_mix("drives", "around"), lambda value: 0.85 * value,
                 "less of the turning stick on each side turns less at every stick"),
            Step(of_shapes("expo", "around"), lambda value: value + 0.15,
                 "more expo makes the stick softer around its centre, every stick that shares the shape",
                 BENT),
        ),
    ),
    Feeling(
        "sluggish to turn", "turn rate at full stick: more",
        (
            Step(of_own_shapes("rate", "around"), lambda value: 1.2 * value,
                 "a higher rate gives more command at full turning stick"),
            Step(of_mix("drives", "around"), lambda value: math.copysign(min(1.2 * abs(value), 1), value),
                 "more of the turning stick on each side turns faster, as far as a side has more to give"),
        ),
    ),
    Feeling(
        "turns too fast", "turn rate at full stick: less",
        (
            Step(of_own_shapes("rate", "around"), lambda value: 0.8 * value,
                 "a lower rate gives less command at full turning stick"),
            Step(of_mix("drives", "around"), lambda value: 0.8 * value,
                 "less of the turning stick on each side turns more slowly"),
        ),
    ),
    Feeling(
        "nervous at full speed", "turn rate at full throttle with half of the turning stick: less",
        (
            Step(of_mix("drives", "around"), lambda value: 0.85 * value,
                 "the faster it drives, the further a turn goes before the hand is back: less of steering "
                 "in the mix"),
        ),
    ),
    Feeling(
        "does not turn at full throttle", "turn rate with both sticks at full: more",
        (
            Step(of_clipping_groups("over_range"), lambda _: "scale",
                 "clipping cuts the faster side only, so the turn is lost; scaling shrinks all alike"),
            Step(of_mix("drives", "around"), lambda value: 1.2 * value,
                 "more of the turning stick in the mix keeps more of the turn"),
        ),
    ),
    Feeling(
        "jerks off the line", "speed a twentieth of a second after full stick: less",
        (
            Step(of_outputs("drives", "slew_up_ms"), _more,
                 "a longer way from zero to full lets gears and tyres take up the load"),
        ),
    ),
    Feeling(
        "slow off the line", "way in the first third of a second: more",
        (
            Step(of_outputs("drives", "slew_up_ms"), lambda value: 0.6 * value,
                 "a shorter way from zero to full brings the command sooner; wheels may spin"),
        ),
    ),
    Feeling(
        "wheels spin off the line", "slip of the wheels after full stick: less",
        (
            Step(of_outputs("drives", "slew_up_ms"), _more,
                 "torque grows more slowly while the robot gathers speed, and stays below the grip",
                 COULOMB),
            Step(of_outputs("drives", "limit"), lambda value: 0.85 * value,
                 "less of full command is less torque at standstill", COULOMB),
        ),
    ),
    Feeling(
        "battery sags off the line", "highest battery current after full stick: less",
        (
            Step(of_outputs("drives", "slew_up_ms"), _more,
                 "motors draw most at standstill: the command should not be full before they turn",
                 STARTING),
        ),
    ),
    Feeling(
        "does not stop", "way from top speed to rest with the sticks let go: less",
        (
            BRAKE_AT_ZERO, SOONER_TO_ZERO,
        ),
    ),
    Feeling(
        "stops too hard", "hardest deceleration with the sticks let go: less",
        (
            Step(of_outputs("drives", "slew_down_ms"), lambda value: value + 300,
                 "the command goes to zero more slowly, and the nose dips less; the way to rest grows"),
        ),
    ),
    Feeling(
        "runs on after a turn", "angle that it turns after the turning stick is let go: less",
        (
            SOONER_TO_ZERO, BRAKE_AT_ZERO,
        ),
    ),
    _pulls("left", "right"), _pulls("right", "left"),
    _turns_faster("left", "right"), _turns_faster("right", "left"),
    Feeling(
        "too fast for the pit side", "top speed: less",
        (
            Step(of_outputs("drives", "limit"), lambda value: 0.6 * value,
                 "less of full command at every stick; a loadout of its own keeps the full one beside it"),
        ),
    ),
    Feeling(
        "weak at low stick", "speed at a quarter of the stick: more",
        (
            Step(of_outputs("drives", "breakaway"), lambda value: value + 0.03,
                 "commands begin where the motor overcomes its friction, so that small ones move it too"),
            Step(of_shapes("expo", "ahead"), lambda value: value - 0.15,
                 "less expo gives more command at small stick"),
        ),
    ),
    Feeling(
        "creeps with the sticks let go", "command with a stick a little out of its middle: less",
        (
            Step(of_shapes("deadband", "ahead", "around"), lambda value: value + 0.02,
                 "a wider deadband does nothing where worn sticks come to rest"),
        ),
    ),
    Feeling(
        "bangs when it reverses", "highest battery current in a reversal at full stick: less",
        (
            Step(of_outputs("drives", "slew_down_ms"), _more,
                 "the old direction goes down more slowly: the motors are slower when the new one comes",
                 STARTING),
            Step(of_outputs("drives", "slew_up_ms"), _more,
                 "the new direction comes more slowly"),
        ),
    ),
    Feeling(
        "tool moves too fast", "time of the actuator's way: more",
        (
            Step(of_outputs("tools", "limit"), lambda value: 0.8 * value,
                 "less of full command on the actuator"),
        ),
    ),
    Feeling(
        "tool is hard to place", "speed of the actuator at half stick: less",
        (
            Step(of_shapes("expo", "handling"), lambda value: value + 0.3,
                 "more expo makes small movements of the stick smaller still", BENT),
        ),
    ),
    Feeling(
        "goes live too slowly", "time from the arm switch to live: less",
        (
            Step(of_guard("arm_hold_ms"), lambda value: max(0.6 * value, 200),
                 "neutral sticks have to rest for less time; below 200 ms a passing stick would arm"),
        ),
    ),
)  # fmt: skip
"""In the order in which a drive meets them."""


def find_feelings(words: str) -> Sequence[Feeling]:
    """Those whose words hold all that was said. Raises OptionError, with the nearest, where none does."""
    wanted = words.lower().split()
    found = [feeling for feeling in FEELINGS if all(word in feeling.words for word in wanted)]
    if not found:
        near = nearest(words, {word for feeling in FEELINGS for word in feeling.words.split()})
        hint = f"did you mean {near!r}? " if near else ""
        said = f"no driver here says {words!r} of a robot"
        raise OptionError(said, f"{hint}`stickwright feel PROFILE` lists what they say")
    return found
