"""The robot on its stand: measured frames through the firmware, and what the steps want to know of both.

A frame's pulses belong to the tick in which the frame's device time falls; ticks without a frame bring no
pulse. With a tick longer than a frame the newest pulse counts, as on a board.
"""

from collections.abc import Sequence

from mixer.board.frames import BoardMix, Frame, Identity
from mixer.core.layout import layout_of
from mixer.core.plan import Guard, Plan, StickPlan
from mixer.link.device_time import DeviceTime
from mixer.live.robot.firmware import PlainBoard

SILENT_US = 500_000
LONGEST_GAP_US = 10_000_000
"""What a board that was away for longer is taken to have been away; nothing changes after that."""


class Stand:
    """Fed with frames; asked by the steps."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self._places = layout_of(plan).places
        self._board = PlainBoard(plan, "direct")
        self._time = DeviceTime()
        self.pulses = [0] * len(plan.channels)
        """The last pulse of each channel in µs, 0 before the first."""
        self.came_us = [-(10**12)] * len(plan.channels)
        """When each channel's last pulse came."""
        self.identity: Identity | None = None
        """What the board has said of itself, once it has."""
        self.levels: list[int] = []
        """What the contacts read in the last frame; empty before the first."""
        self.battery_mv: int | None = None
        """What the board measured last; None where it does not."""
        self.mix: BoardMix | None = None
        """What a mix on the board made of the last frame; None where none runs."""
        self.power_up()

    def power_up(self) -> None:
        """The firmware starts anew."""
        self._board.power_up()
        self._signals: Sequence[int] = [0] * len(layout_of(self.plan).signals)
        self._pending = [0] * len(self.plan.channels)
        self._next_tick_us = self._time.now_us
        self.neutral_since_us = self._time.now_us

    @property
    def now_us(self) -> int:
        """Device time since the rehearsal began."""
        return self._time.now_us

    def take(self, frame: Frame) -> None:
        """One more frame: time passes, pulses arrive, the firmware runs."""
        now = self._time.at(frame)
        self.levels = [frame.level(contact) for contact in range(len(self.plan.contacts))]
        self.battery_mv, self.mix = frame.battery_mv, frame.mix
        self._tick_before(now)
        for channel, pulse in enumerate(frame.pulses_us[: len(self.pulses)]):
            if pulse:
                self.pulses[channel] = self._pending[channel] = pulse
                self.came_us[channel] = now

    def _tick_before(self, now: int) -> None:
        self._next_tick_us = max(self._next_tick_us, now - LONGEST_GAP_US)
        while self._next_tick_us <= now:
            self._signals = self._board.step([*self._pending, *self.levels])
            self._pending = [0] * len(self._pending)
            if any(self._signals[output.command] for output in self._places.outputs):
                self.neutral_since_us = -1
            elif self.neutral_since_us < 0:
                self.neutral_since_us = self._next_tick_us
            self._next_tick_us += self.plan.tick_ms * 1000

    @property
    def guard(self) -> Guard:
        """The firmware's guard."""
        return Guard(self._signals[self._places.guard.state])

    @property
    def has_signal(self) -> bool:
        """Whether the firmware trusts every channel now."""
        return bool(self._signals[self._places.guard.signal])

    @property
    def drives(self) -> bool:
        """Whether any output is not neutral."""
        return self.neutral_since_us < 0

    def silent_channels(self) -> list[int]:
        """Channels without a pulse for half a second."""
        return [k for k, came in enumerate(self.came_us) if self.now_us - came >= SILENT_US]

    def away_us(self, stick: StickPlan) -> int:
        """How far a stick stands from its centre, in µs."""
        return self.pulses[stick.channel] - stick.centre_us
