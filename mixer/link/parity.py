"""Board and Python, tick by tick: a mix on the board must give what the core gives, bit for bit.

With a mix on board each frame is one tick and holds its inputs, so the same tick is run here. Both must be
in the same state, which is known when the board has just started: at the first frame of a link or after a
restart or a late tick, when its sequence is 0 (one that wraps to 0 on the way is no start). After a lost
frame, a pulled plug, or when connected in the middle, nothing is compared until the next start, or until
what has come since leaves one state only that the board's mix can be in (`narrowing`).

The tick is the generated one: a few µs a frame, where the core itself takes a hundred.
"""

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass

from mixer.board.frames import BeganAnew, BoardMix, Frame, Lost, Restarted
from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.errors import WrongDeviceError
from mixer.link.narrowing import Narrowing
from mixer.link.session import Replugged, SessionEvent, Unplugged
from mixer.lower.graph.trace import trace
from mixer.lower.run.python import compile_graph

NARROWED_EVERY_MS = 8
"""A tick of intervals takes one or two ms: at most one for so many ms of the board's time."""
WAITING = 2000
"""Frames that may wait for being narrowed by; beyond them it begins anew, with the newest."""


@dataclass(frozen=True, slots=True)
class Mismatch:
    """A number on the board that is not the core's."""

    sequence: int
    time_us: int
    signal: str
    """``output.left.wire``, or ``guard.state``."""
    on_board: int
    expected: int
    most: int | None = None
    """Where the state is not known yet: it is from `expected` to this, and never what the board says."""

    def __str__(self) -> str:
        at = f"{self.time_us / 1e6:.3f} s, frame {self.sequence}"
        here = (
            f"{self.expected}" if self.most in (None, self.expected) else f"{self.expected} to {self.most}"
        )
        return f"{at}: {self.signal} is {self.on_board} on the board, {here} here"


class Parity:
    """Feed it a session's events, frames in the plan's order; it counts what agrees and gives the rest."""

    def __init__(self, plan: Plan) -> None:
        """For boards that run this plan's mix."""
        self._plan = plan
        layout = layout_of(plan)
        self._names = [layout.names.guard.state, *(output.wire for output in layout.names.outputs)]
        graph = trace(plan, self._names)
        self._tick = compile_graph(graph)
        self._start = tuple(layout.start)
        self._state = self._start
        self._in_step = False
        self._may_start = True
        """Whether a frame with sequence 0 would now be the first after a start."""
        self._narrowing = Narrowing(graph)
        self._waiting: deque[Frame] = deque()
        """Frames since the state was lost by which it has not been narrowed yet."""
        self._credit_ms = 0
        self.compared = 0
        """Ticks compared in full."""
        self.passed_over = 0
        """Ticks that could not be compared, because a frame before them was missing."""
        self.mismatched = 0
        """Ticks with at least one mismatch."""

    @property
    def in_step(self) -> bool:
        """Whether the next frame can be compared."""
        return self._in_step

    @property
    def unsettled(self) -> tuple[str, ...]:
        """What of the board's state is not known yet, by name, while nothing is compared."""
        return () if self._in_step else self._narrowing.unsettled

    def take(self, events: Iterable[SessionEvent]) -> list[Mismatch]:
        """Compare the frames among the events.

        Raises:
            WrongDeviceError: no mix runs on the board, or one for another robot.
        """
        found: list[Mismatch] = []
        for event in events:
            match event:
                case Frame():
                    found += self._heard(event)
                case Lost():
                    self._lose_step()
                case Restarted() | Unplugged() | Replugged() | BeganAnew():
                    self._lose_step()
                    self._may_start = True
        return found

    def _heard(self, frame: Frame) -> list[Mismatch]:
        self._check(frame)
        if frame.sequence == 0 and self._may_start:
            self._in_step, self._state = True, self._start
            self._waiting.clear()
        self._may_start = False
        if self._in_step:
            return self._compare(frame)
        self.passed_over += 1
        if len(self._waiting) >= WAITING:
            self._lose_step()
        self._waiting.append(frame)
        return self._catch_up()

    def _lose_step(self) -> None:
        self._in_step = False
        self._narrowing.begin()
        self._waiting.clear()
        self._credit_ms = 0

    def _catch_up(self) -> list[Mismatch]:
        """Narrow the state by frames that wait; compare those behind them once it is known.

        At most so much of it that the link keeps up with its frames.
        """
        self._credit_ms += self._plan.tick_ms
        while self._waiting and self._credit_ms >= NARROWED_EVERY_MS:
            self._credit_ms -= NARROWED_EVERY_MS
            frame = self._waiting.popleft()
            mix = self._check(frame)
            refuted = self._narrowing.take(self._inputs(frame), mix)
            if refuted is not None:
                self.compared, self.passed_over = self.compared + 1, self.passed_over - 1
                self.mismatched += 1
                name, told = self._names[refuted.number], (mix.guard, *mix.wires)[refuted.number]
                return [Mismatch(frame.sequence, frame.time_us, name, told, refuted.low, refuted.high)]
            state = self._narrowing.state
            if state is not None:
                self._in_step, self._state = True, tuple(state)
                behind, self._waiting = self._waiting, deque()
                self.passed_over -= len(behind)
                return [mismatch for frame in behind for mismatch in self._compare(frame)]
        return []

    def _compare(self, frame: Frame) -> list[Mismatch]:
        mix = self._check(frame)
        here, self._state = self._tick(self._inputs(frame), self._state)
        self.compared += 1
        theirs = mix.guard, *mix.wires
        if theirs == here:
            return []
        self.mismatched += 1
        return [
            Mismatch(frame.sequence, frame.time_us, name, their, our)
            for name, their, our in zip(self._names, theirs, here, strict=True)
            if their != our
        ]

    def _inputs(self, frame: Frame) -> list[int]:
        levels = (frame.level(contact) for contact in range(len(self._plan.contacts)))
        return [*frame.pulses_us[: len(self._plan.channels)], *levels]

    def _check(self, frame: Frame) -> BoardMix:
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
