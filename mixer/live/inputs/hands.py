"""Hands on sticks and switches: values set by mouse or keys, sent as a receiver would send them.

A stick's value is what the driver wants, -1 to 1 in the robot's own sense: +1 is full command whichever way
round the channel is. It goes out as a pulse on every frame, all channels at once, like any receiver. Three
ways to move a stick: `set` and `release` (a mouse: there at once, springs back on release), `hold` and
`let_go` (keys whose release is seen: runs out, springs back), `nudge` (keys whose release is not: stays).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from mixer.core.plan import Plan, StickPlan
from mixer.core.rest import (
    frame_ticks,
    good_pulse,
    neutral_pulse,
    position_pulse,
    resting_position,
)
from mixer.errors import OptionError

HELD_PER_S = 4.0
"""How fast a held key moves a stick: full in a quarter of a second."""
SPRING_PER_S = 10.0
"""How fast a stick springs back: full in a tenth."""


@dataclass(slots=True)
class _Stick:
    value: float = 0.0
    towards: float | None = None
    """Where it is moving; None while it stays."""
    per_s: float = 0.0


class HandSticks:
    """The source ``hand``."""

    mode = "hand"

    def __init__(self, plan: Plan, frame_ms: float) -> None:
        self._sticks: dict[str, _Stick] = {}
        self._positions: dict[str, int] = {}
        self.change_plan(plan, frame_ms)

    def change_plan(self, plan: Plan, frame_ms: float) -> None:
        """Go on with a changed plan: sticks and switches of the same name stay where they are."""
        self._plan = plan
        self._frame_ticks = frame_ticks(plan, frame_ms)
        self._frame_s = self._frame_ticks * plan.tick_ms / 1000
        self._neutral = {stick: neutral_pulse(plan, stick) for stick in plan.sticks}
        for stick in plan.sticks:
            self._sticks.setdefault(stick.name, _Stick())
        if any(switch.name not in self._positions for switch in plan.switches):
            self._positions = {**resting_positions(plan), **self._positions}

    @property
    def names(self) -> Sequence[str]:
        """The sticks, in the plan's order."""
        return tuple(stick.name for stick in self._plan.sticks)

    def value(self, name: str) -> float:
        """Where a stick is, -1 to 1. Raises OptionError for an unknown one."""
        return self._stick(name).value

    def set(self, name: str, value: float) -> None:
        """Move a stick there at once; it stays."""
        stick = self._stick(name)
        stick.value, stick.towards = min(max(value, -1.0), 1.0), None

    def release(self, name: str) -> None:
        """Let a stick go: it springs back to neutral."""
        stick = self._stick(name)
        stick.towards, stick.per_s = 0.0, SPRING_PER_S

    def hold(self, name: str, direction: int) -> None:
        """A key is down: the stick runs that way (-1 or 1) to its end."""
        stick = self._stick(name)
        stick.towards, stick.per_s = float(direction), HELD_PER_S

    def let_go(self, name: str, direction: int) -> None:
        """That key is up again: spring back, unless the other direction is held by now."""
        if self._stick(name).towards in (float(direction), None):
            self.release(name)

    def nudge(self, name: str, by: float) -> None:
        """Add to a stick's value; it stays. Small remains of binary fractions are rounded away."""
        self.set(name, round(self._stick(name).value + by, 6))

    def centre(self) -> None:
        """All sticks to neutral at once (the window lost its focus, or `c`)."""
        for stick in self._sticks.values():
            stick.value, stick.towards = 0.0, None

    def position(self, name: str) -> int:
        """Where a switch is. Raises OptionError for an unknown one."""
        if name not in self._positions:
            raise OptionError(f"there is no switch {name!r}", f"one of {', '.join(self._positions)}")
        return self._positions[name]

    def turn(self, name: str, position: int) -> None:
        """Put a switch into a position, by its number from the low end."""
        self.position(name)
        switch = next((item for item in self._plan.switches if item.name == name), None)
        last = len(switch.edges_us) if switch else 1
        self._positions[name] = min(max(position, 0), last)

    def cycle(self, name: str) -> None:
        """The next position, after the last the first."""
        self.position(name)
        switch = next((item for item in self._plan.switches if item.name == name), None)
        count = len(switch.edges_us) + 1 if switch else 2
        self._positions[name] = (self._positions[name] + 1) % count

    def sends(self, tick: int) -> bool:
        """Whether a frame goes out in this tick."""
        return tick % self._frame_ticks == 0

    def inputs(self, tick: int, readings: Sequence[int]) -> list[int]:
        """What the board reads in a tick; `readings` is what the robot's movement presses."""
        if not self.sends(tick):
            pulses = [0] * len(self._plan.channels)
        else:
            self._move()
            pulses = self._frame()
        return [*pulses, *readings]

    def _stick(self, name: str) -> _Stick:
        if name not in self._sticks:
            raise OptionError(f"there is no stick {name!r}", f"one of {', '.join(self._sticks)}")
        return self._sticks[name]

    def _move(self) -> None:
        for stick in self._sticks.values():
            if stick.towards is None:
                continue
            step = stick.per_s * self._frame_s
            way = stick.towards - stick.value
            stick.value += min(max(way, -step), step)
            if stick.value == stick.towards == 0.0:
                stick.towards = None

    def _frame(self) -> list[int]:
        pulses = [channel.rest_us for channel in self._plan.channels]
        for stick, neutral in self._neutral.items():
            pulses[stick.channel] = pulse_for(stick, self._sticks[stick.name].value, neutral)
        for switch in self._plan.switches:
            last = len(switch.edges_us)
            pulses[switch.channel] = position_pulse(
                self._plan, switch, min(self._positions[switch.name], last)
            )
        return [good_pulse(self._plan, channel, pulse) for channel, pulse in enumerate(pulses)]


def pulse_for(stick: StickPlan, value: float, neutral: int) -> int:
    """The pulse of a stick held at a share of full command, -1 to 1, with `neutral` as its pulse for 0."""
    high = (value > 0) != stick.reverse
    end = stick.centre_us + stick.high_span_us if high else stick.centre_us - stick.low_span_us
    return neutral + round((end - neutral) * abs(value))


def resting_positions(plan: Plan) -> Mapping[str, int]:
    """Where each switch stands on a robot switched on with care: disarmed, upright, mixed ones off."""
    return {
        switch.name: resting_position(plan, number, armed=False)
        for number, switch in enumerate(plan.switches)
    }
