"""A robot's own image on a simulated chip under the bench: what moves the sticks moves its pins.

The chip stands between the bench's inputs and its robot. Hands, a log or a pad put pulses on its pins; the
robot runs on what its image has read, and every tick the image's wires and guard, and its pins, are held
against it. That takes some ticks, as a receiver and a serial line do: `late_ms`.

A chip has no state that could be set: after a jump, another tuning or a fault in between there is nothing
to compare until it is switched off and on.
"""

from collections import deque
from collections.abc import Sequence

from mixer.board.engine.flashed import Flashed
from mixer.board.engine.parity import Account, Parity
from mixer.board.engine.run import BoardTick, ImageRun
from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.core.rest import contact_levels
from mixer.errors import ChipError
from mixer.live.listen.events import EventLog
from mixer.live.robot.robot import LiveRobot, Source
from mixer.live.views.status import BoardView, LinkView
from mixer.runs.play.stretch import Stretch

STATE = "chip"
"""The state of a link that is a simulated chip."""
SPARE_TICKS = 2
"""Ticks that are ready before they are asked for: a frame that tells who the board is takes longer."""
SHOWN_EVERY = 250
"""So many ticks of pins are looked at together."""
OFF_AND_ON = "switch the board off and on"


class ChipLink:
    """One image under the bench."""

    def __init__(self, flashed: Flashed) -> None:
        """Power up. Raises as `Flashed.power_up` does."""
        self.flashed = flashed
        self._plan = flashed.plan
        places = layout_of(flashed.plan).places
        self._obeyed = [*(output.wire for output in places.outputs), places.guard.state]
        self._told = 0
        self._run: ImageRun | None = None
        self.power_up()

    def power_up(self) -> None:
        """Another chip of the same image, from power-up; comparing begins anew."""
        self.close()
        self._run = run = self.flashed.power_up()
        self._parity = Parity(run, self.flashed.plan)
        self._ready: deque[BoardTick] = deque()
        self._given: deque[list[int]] = deque()
        self._read: deque[BoardTick] = deque()
        self._unseen = 0
        self._waits = ""
        idle = [0] * len(self.flashed.plan.channels) + contact_levels(self.flashed.plan)
        self._late = 0
        while len(self._ready) < SPARE_TICKS:
            self._feed(idle)
            self._late += 1

    @property
    def late_ms(self) -> int:
        """How long after the inputs the robot obeys them."""
        return (self._late - 1) * self.flashed.plan.tick_ms

    def through(self, source: Source) -> Source:
        """The source as the image reads it."""
        return _Through(self, source)

    def lose(self, why: str) -> None:
        """The robot is somewhere else than the image: nothing is compared from now on."""
        self._waits = self._waits or f"{why}: {OFF_AND_ON} to compare"

    def change_plan(self, plan: Plan) -> None:
        """The bench goes on with another tuning; what is flashed stays."""
        self._plan = plan
        if plan != self.flashed.plan:
            self.lose("the image is flashed with the tuning of the file, and another is in use")

    def tick(self, inputs: Sequence[int]) -> list[int]:
        """Give a tick's inputs; those that the image has read of an earlier tick."""
        self._feed(list(inputs))
        if not self._ready:
            raise ChipError("the image's frames come later and later", "its serial line is too slow")
        tick = self._ready.popleft()
        self._parity.read([self._given.popleft()], [tick])
        self._read.append(tick)
        return list(tick.inputs)

    def _feed(self, inputs: list[int]) -> None:
        assert self._run is not None
        self._given.append(inputs)
        self._ready.extend(self._run.feed([inputs]))

    def add(self, stretch: Stretch) -> None:
        """What the robot made of it, as one of its sinks."""
        ticks = [self._read.popleft() for _ in range(min(len(stretch.inputs), len(self._read)))]
        if self._waits or len(ticks) < len(stretch.inputs):
            return
        if stretch.restarts or any(
            tuple(row) != tick.inputs for row, tick in zip(stretch.inputs.tolist(), ticks, strict=True)
        ):
            self.lose("a fault of the bench reaches the robot and not the pins")
            return
        self._parity.obeyed(ticks, stretch.signals[:, self._obeyed].tolist())
        self._unseen += len(ticks)
        if self._unseen >= SHOWN_EVERY:
            self._parity.shown()
            self._unseen = 0

    def account(self) -> Account:
        """What was compared since power-up, and what differs."""
        return self._parity.account()

    def news(self) -> list[tuple[str, str]]:
        """Differences not yet told of, as words and how bad they are."""
        found = self.account().differences
        new = [(f"the board's image: {each.words}", "bad") for each in found[self._told :]]
        self._told = max(self._told, len(found))
        return new

    def view(self) -> LinkView:
        """How it stands."""
        account, board = self.account(), self.flashed.board
        same = self._plan == self.flashed.plan
        view = BoardView(
            name=board.name,
            runs="this" if same else "other",
            told=f"its image is flashed with {'this tuning' if same else 'the tuning of the file'} "
            f"({self.flashed.fingerprint})",
            remedy="" if same else "save, and open the bench anew to flash what is tuned",
            compared=account.ticks,
            differing=max((each.count for each in account.differences), default=0),
            first=account.differences[0].words if account.differences else "",
            waits=self._waits,
        )
        words = (
            f"the image for the {board.name} on a simulated chip, {self.late_ms} ms behind the sticks; "
            "wires and guard are held against it, every number is the core's on what it read"
        )
        return LinkView(STATE, words, board=view, frames=account.ticks)

    def close(self) -> None:
        """Switch it off."""
        if self._run is not None:
            self._run.chip.close()


class _Through:
    """A source behind the chip."""

    def __init__(self, chip: ChipLink, source: Source) -> None:
        self._chip, self._source = chip, source

    @property
    def mode(self) -> str:
        """The source's own."""
        return self._source.mode

    def inputs(self, tick: int, readings: Sequence[int]) -> list[int]:
        """What the image has read."""
        return self._chip.tick(self._source.inputs(tick, readings))


class ImageSlot:
    """Where an image stands between a bench's inputs and its robot, or none does."""

    def __init__(self, robot: LiveRobot, events: EventLog) -> None:
        self.chip: ChipLink | None = None
        self._robot, self._events = robot, events
        self._jumps = 0

    def mount(self, chip: ChipLink) -> None:
        """From now on what moves the sticks moves the image's pins, and what that reads the robot.

        The robot has to be switched off and on after this, so that both begin at power-up.
        """
        self.chip = chip
        self._robot.add(chip)
        self._events.add(self._robot.time_s, "link", chip.view().words)

    def power_up(self) -> None:
        """The robot has been switched off and on; so is the chip."""
        if self.chip is not None:
            self.chip.power_up()
            self._jumps = self._robot.jumps

    def play(self, source: Source, ticks: int) -> None:
        """Run the robot, on what the image reads where one stands. One that ends is told of and left."""
        if self.chip is None:
            self._robot.play(source, ticks)
            return
        if self._robot.jumps != self._jumps:
            self.chip.lose("the robot was put into another state, and no chip can be")
        try:
            self._robot.play(self.chip.through(source), ticks)
        except ChipError as error:
            self.drop(str(error))
            return
        for words, level in self.chip.news():
            self._events.add(self._robot.time_s, "link", words, level)

    def change_plan(self, plan: Plan) -> None:
        """The bench goes on with another tuning."""
        if self.chip is not None:
            self.chip.change_plan(plan)

    def drop(self, why: str) -> None:
        """Go on without the image, where one stands."""
        if self.chip is not None:
            self._robot.remove(self.chip)
            self.close()
            self._events.add(self._robot.time_s, "link", f"no image runs any more: {why}", "bad")

    def view(self) -> LinkView | None:
        """How the image stands; None where there is none."""
        return None if self.chip is None else self.chip.view()

    def close(self) -> None:
        """Switch it off."""
        if self.chip is not None:
            self.chip.close()
        self.chip = None
