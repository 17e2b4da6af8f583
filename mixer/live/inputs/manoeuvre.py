"""A drive that nobody's hands do: the robot's own sticks moved by the clock, for a demonstration.

What a stick is for is read off the robot: the way its wheels point, where the physics knows them, else the
signs of its weights in the mix. Ahead swells to most of full, turn and sideways swing once to either side
and are back in the middle at the end, actuators run out and in. The hands stay on the sticks when the
radio goes, so that it is the firmware that stops the robot.
"""

from collections.abc import Callable, Sequence
from math import cos, pi, sin
from typing import NamedTuple

from mixer.core.plan import Plan, StickPlan, SwitchPosition
from mixer.core.rest import resting_position
from mixer.laws.expect import loss_ms
from mixer.live.inputs.hands import HandSticks
from mixer.live.views.snapshot import WheelView

WHOLE_S = 10.0
LEAST_DRIVE_S = 3.0
REST_S, BACK_S = 0.9, 2.0
"""Nothing moves yet; the radio is back and still nothing moves."""
SPARE_S = 0.3
"""For a frame to come and an eye to follow, beside each time that the profile sets."""
SWELL_S = 0.8
AHEAD, TURN, ASIDE, SCREW = "ahead", "turn", "aside", "screw"
REACH = {AHEAD: 0.85, TURN: 0.45, ASIDE: 0.6, SCREW: 0.9}
"""How far each kind of stick is moved, as a share of full."""


class Times(NamedTuple):
    """When what happens, in seconds from switching on."""

    arm_s: float
    go_s: float
    break_s: float
    back_s: float
    end_s: float


def times_of(plan: Plan) -> Times:
    """As `WHOLE_S` is shared out, unless arming or stopping this robot takes too long for that."""
    guard, tick_s = plan.guard, plan.tick_ms / 1000
    arm = max(REST_S, guard.off_ticks * tick_s + SPARE_S)
    go = arm + guard.hold_ticks * tick_s + SPARE_S
    stop = max(2.0, loss_ms(plan) / 1000 + 1.0)
    lasts = max(WHOLE_S - go - stop - BACK_S, LEAST_DRIVE_S)
    return Times(arm, go, go + lasts, go + lasts + stop, go + lasts + stop + BACK_S)


class Manoeuvre:
    """The source ``demo``: moves the hand sticks, frame by frame, from the tick it is first asked in."""

    mode = "demo"

    def __init__(
        self, plan: Plan, hands: HandSticks, wheels: Sequence[WheelView], radio: Callable[[int, bool], None]
    ) -> None:
        """`radio` is told the number of the very tick in which it breaks (False) and is back (True)."""
        self.times = times_of(plan)
        self._plan, self._hands, self._radio = plan, hands, radio
        self._uses = {stick.name: use_of(plan, number, wheels) for number, stick in enumerate(plan.sticks)}
        ticks = [round(at * 1000 / plan.tick_ms) for at in (self.times.break_s, self.times.back_s)]
        self._radio_at = dict(zip(ticks, (False, True), strict=True))
        self._first: int | None = None

    def inputs(self, tick: int, readings: Sequence[int]) -> list[int]:
        """What the moved sticks send."""
        if self._first is None:
            self._first = tick
        since = tick - self._first
        if since in self._radio_at:
            self._radio(tick, self._radio_at[since])
        if self._hands.sends(tick):
            self._move(since * self._plan.tick_ms / 1000)
        return self._hands.inputs(tick, readings)

    def _move(self, now_s: float) -> None:
        times = self.times
        for number, switch in enumerate(self._plan.switches):
            self._hands.turn(switch.name, self._position(number, armed=now_s >= times.arm_s))
        if now_s >= times.go_s:
            for name, (use, sign) in self._uses.items():
                self._hands.set(name, sign * moved(use, now_s - times.go_s, times.break_s - times.go_s))

    def _position(self, number: int, *, armed: bool) -> int:
        """Where a switch stands: what chooses between shapes, at the quickest; others as they rest."""
        plan = self._plan
        told = [plan.guard.arm, plan.flip.told_by if plan.flip else None]
        chosen = [stick for stick in plan.sticks if stick.chooser == number]
        taken = any(isinstance(item, SwitchPosition) and item.switch == number for item in told)
        if not chosen or taken or number in plan.mixed_switches:
            return resting_position(plan, number, armed=armed)
        rates = [sum(_rate(stick, place) for stick in chosen) for place in range(len(chosen[0].shapes))]
        return rates.index(max(rates))


def moved(use: str, since_s: float, lasts_s: float) -> float:
    """Where a stick of a use stands so long into a drive, a share of full; it stays at its last place."""
    share = min(since_s / lasts_s, 1.0)
    swell = min(since_s / SWELL_S, 1.0)
    if use == AHEAD:
        return REACH[use] * swell * (0.75 + 0.25 * share)
    turns = {TURN: 1.0, ASIDE: 1.5, SCREW: 1.0}[use]
    return REACH[use] * sin(2 * pi * turns * share)


def use_of(plan: Plan, number: int, wheels: Sequence[WheelView]) -> tuple[str, int]:
    """What stick `number` is for, and the direction (1 or -1) in which it is that."""
    screws = {actuator.output for actuator in plan.actuators}
    weights = {
        output.name: output.weights[number]
        for place, output in enumerate(plan.outputs)
        if place not in screws and output.weights[number]
    }
    if not weights:
        return SCREW, 1
    driven = [(wheel, weights[wheel.output]) for wheel in wheels if wheel.output in weights]
    if not driven:
        total = sum(weights.values())
        return (AHEAD if 2 * abs(total) > sum(map(abs, weights.values())) else TURN), -1 if total < 0 else 1
    pushes = {
        AHEAD: sum(weight * cos(wheel.angle_rad) for wheel, weight in driven),
        ASIDE: sum(weight * sin(wheel.angle_rad) for wheel, weight in driven),
        TURN: sum(weight * _leverage(wheel) for wheel, weight in driven),
    }
    use = max(pushes, key=lambda name: abs(pushes[name]))
    return use, -1 if pushes[use] < 0 else 1


def _leverage(wheel: WheelView) -> float:
    """How much of a wheel's push turns the robot, -1 to 1."""
    far = (wheel.x_m**2 + wheel.y_m**2) ** 0.5 or 1.0
    return (wheel.x_m * sin(wheel.angle_rad) - wheel.y_m * cos(wheel.angle_rad)) / far


def _rate(stick: StickPlan, place: int) -> int:
    return stick.shapes[min(place, len(stick.shapes) - 1)].rate
