"""A robot's own image on a simulated chip under the bench: what moves the sticks moves its pins.

The chip stands between the bench's inputs and its robot. Hands, a log or a pad put pulses on its pins, and
what is broken is broken there; the robot runs on what its image has read, its body on what the pins show.
That takes some ticks, as a receiver does: `late_ms`.

A chip has no state that could be set: after a jump or another tuning there is nothing to compare until it
is switched off and on, and the body follows the core meanwhile.
"""

from mixer.board.engine.flashed import Flashed
from mixer.board.engine.parity import Account
from mixer.core.plan import Plan
from mixer.core.rest import contact_levels
from mixer.errors import ChipError
from mixer.live.listen.events import EventLog
from mixer.live.robot.damage import FaultBoard
from mixer.live.robot.on_chip import ImageLoop
from mixer.live.robot.robot import LiveRobot, Source
from mixer.live.views.status import BoardView, LinkView

STATE = "chip"
"""The state of a link that is a simulated chip."""
OFF_AND_ON = "switch the board off and on"
RECORDED = ("replay", "link")
"""Sources that give contacts as they were, whatever the body presses."""


class ChipLink:
    """One image under the bench."""

    def __init__(self, flashed: Flashed, robot: LiveRobot, faults: FaultBoard) -> None:
        """Power up under a robot. Raises as `Flashed.power_up` does."""
        self.flashed = flashed
        self.loop = ImageLoop(flashed, robot, faults)
        self._robot, self._plan = robot, flashed.plan
        self._told = 0
        self.power_up()

    def power_up(self) -> None:
        """Another chip of the same image, from power-up; comparing begins anew."""
        self.loop.power_up()
        plan = self.flashed.plan
        idle = [0] * len(plan.channels) + contact_levels(plan)
        self.loop.prime([idle] * self.loop.run.ahead)
        self._waits, self._told = "", 0
        self._robot.driven_by = self.loop.commands
        if self._plan != plan:
            self.change_plan(self._plan)

    @property
    def late_ms(self) -> int:
        """How long after the inputs the robot obeys them."""
        return self.loop.run.ahead * self.flashed.plan.tick_ms

    def lose(self, why: str) -> None:
        """The robot is somewhere else than the image: nothing is compared from now on."""
        self._waits = self._waits or f"{why}: {OFF_AND_ON} to compare"
        self.loop.compares = False
        self._robot.driven_by = None

    def change_plan(self, plan: Plan) -> None:
        """The bench goes on with another tuning; what is flashed stays."""
        self._plan = plan
        if plan != self.flashed.plan:
            self.lose("the image is flashed with the tuning of the file, and another is in use")

    def account(self) -> Account:
        """What was compared since power-up, and what differs."""
        return self.loop.account()

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
        identity = self.loop.run.identity
        view = BoardView(
            name=board.name,
            started=identity.story if identity is not None else "",
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
            "wires and guard are held against it, the robot moves as its pins say, every other number is "
            "the core's on what it read"
        )
        if account.not_played:
            words += f"; {account.not_played} pulses that no wire carries were left out, or shortened"
        return LinkView(STATE, words, board=view, frames=account.ticks)

    def close(self) -> None:
        """Switch it off."""
        self.loop.close()


class ImageSlot:
    """Where an image stands between a bench's inputs and its robot, or none does."""

    def __init__(self, robot: LiveRobot, faults: FaultBoard, events: EventLog) -> None:
        self.chip: ChipLink | None = None
        self._robot, self._faults, self._events = robot, faults, events
        self._jumps = 0

    def mount(self, flashed: Flashed) -> None:
        """From now on what moves the sticks, or is broken, does so at the pins of an image.

        The robot has to be switched off and on after this, so that both begin at power-up. Raises as
        `Flashed.power_up` does.
        """
        self.chip = chip = ChipLink(flashed, self._robot, self._faults)
        self._robot.faults = chip.loop
        self._faults.put_on_chip(True)
        self._robot.add(chip.loop)
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
        self.chip.loop.follows_body = source.mode not in RECORDED
        try:
            self._robot.play(source, ticks)
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
            self._robot.remove(self.chip.loop)
            self._robot.faults, self._robot.driven_by = self._faults, None
            self._faults.put_on_chip(False)
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
