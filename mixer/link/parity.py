"""Board and Python, tick by tick: a mix on the board must give what the core gives, bit for bit.

With a mix on board each frame is one tick and holds its inputs, so the same tick is run here. Both must
start from the same state, which is known only when the board has just started: comparison begins at the
first frame of a link or after a restart, when its sequence is 0. A sequence that wraps to 0 on the way is
no start. After a lost frame or a pulled plug it waits for the next restart.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from mixer.board.frames import BoardMix, Frame, Lost, Restarted
from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.core.tick import flat_tick
from mixer.errors import WrongDeviceError
from mixer.link.session import Replugged, SessionEvent, Unplugged


@dataclass(frozen=True, slots=True)
class Mismatch:
    """A number on the board that is not the core's."""

    sequence: int
    time_us: int
    signal: str
    """``output.left.wire``, or ``guard.state``."""
    on_board: int
    expected: int

    def __str__(self) -> str:
        at = f"{self.time_us / 1e6:.3f} s, frame {self.sequence}"
        return f"{at}: {self.signal} is {self.on_board} on the board, {self.expected} here"


class Parity:
    """Feed it a session's events; it counts what agrees and gives what does not."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        layout = layout_of(plan)
        self._names = [layout.names.guard.state, *(output.wire for output in layout.names.outputs)]
        self._shown = [layout.places.guard.state, *(output.wire for output in layout.places.outputs)]
        self._start = list(layout.start)
        self._state = list(layout.start)
        self._in_step = False
        self._may_start = True
        """Whether a frame with sequence 0 would now be the first after a start."""
        self.compared = 0
        """Ticks compared in full."""
        self.passed_over = 0
        """Ticks that could not be compared, because a frame before them was missing."""
        self.mismatched = 0
        """Ticks with at least one mismatch."""

    def take(self, events: Iterable[SessionEvent]) -> list[Mismatch]:
        """Compare the frames among the events.

        Raises:
            WrongDeviceError: no mix runs on the board, or one for another robot.
        """
        found: list[Mismatch] = []
        for event in events:
            match event:
                case Frame():
                    found += self._compare(event)
                case Lost():
                    self._in_step = False
                case Restarted() | Unplugged() | Replugged():
                    self._in_step, self._may_start = False, True
        return found

    def _compare(self, frame: Frame) -> list[Mismatch]:
        mix = self._mix_of(frame)
        if frame.sequence == 0 and self._may_start:
            self._in_step, self._state = True, list(self._start)
        self._may_start = False
        if not self._in_step:
            self.passed_over += 1
            return []
        levels = [frame.level(contact) for contact in range(len(self._plan.contacts))]
        pulses = frame.pulses_us[: len(self._plan.channels)]
        signals, self._state = flat_tick(self._plan, [*pulses, *levels], self._state)
        here = [signals[at] for at in self._shown]
        found = [
            Mismatch(frame.sequence, frame.time_us, name, theirs, ours)
            for name, theirs, ours in zip(self._names, (mix.guard, *mix.wires), here, strict=True)
            if theirs != ours
        ]
        self.compared += 1
        self.mismatched += bool(found)
        return found

    def _mix_of(self, frame: Frame) -> BoardMix:
        if frame.mix is None:
            said, remedy = (
                "no mix runs on the board",
                "export it, and build the pulse reader with MIX=folder",
            )
            raise WrongDeviceError(said, remedy)
        outputs, channels = len(frame.mix.wires), len(frame.widths)
        if outputs != len(self._plan.outputs) or channels < len(self._plan.channels):
            said = f"the board mixes {channels} channels to {outputs} outputs; {self._plan.name} has "
            said += f"{len(self._plan.channels)} and {len(self._plan.outputs)}"
            raise WrongDeviceError(said, "export this profile and loadout, and load it onto the board")
        return frame.mix
