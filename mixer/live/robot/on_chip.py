"""A live robot on a board's image: inputs and faults go to a chip's pins, and its pins move the body.

    loop = ImageLoop(flashed, robot)           # the robot's faults, from now on, go through it
    loop.power_up()
    loop.prime(rows)                           # `ahead` of them: what the wires carry before the first tick
    robot.play(source, ticks)                  # its source gives what the wires carry `ahead` ticks later

What the robot's core runs on is what the image has read, tick by tick, and every tick the image's wires and
guard, and its pins, are held against it. Contacts that the body presses, and its battery's volts, reach the
chip before its next tick. A board that is reset, or too late for a tick, runs none for a while: the core
waits for it, and begins anew when it does.
"""

from collections import deque
from collections.abc import Iterable, Sequence

from mixer.board.chip.chip import HELD_US, Reset
from mixer.board.engine.driven import Driven
from mixer.board.engine.flashed import Flashed
from mixer.board.engine.parity import Account, Parity
from mixer.board.engine.run import Anew, BoardTick, ImageRun
from mixer.core.layout import layout_of
from mixer.live.robot.damage import Faults, Hit, Unharmed
from mixer.live.robot.robot import LiveRobot
from mixer.plant.parts.damage import Damage
from mixer.runs.play.stretch import Stretch

SHOWN_EVERY = 250
"""So many ticks of pins are looked at together."""
AMID_SIXTEENTHS = 9
"""Where in a tick contacts change: once its frame is usually through, and well before the next is read."""
RECOVERS_MS = 300
"""So long after what was done to it a board may begin anew: a watchdog's wait, the start, and some."""


class ImageLoop:
    """One image under one robot."""

    def __init__(self, flashed: Flashed, robot: LiveRobot, faults: Faults | None = None) -> None:
        """`faults` are whoever breaks things; what they do is done to the chip."""
        self.flashed = flashed
        self.follows_body = False
        """Whether contacts that the body presses are given as they are now, instead of with their row."""
        self.compares = True
        self.early = 0
        """How many ticks before its turn a fault is asked for: where rows are those of a log, `ahead`."""
        self._robot, self._faults = robot, faults or Unharmed()
        places = layout_of(flashed.plan).places
        self._obeyed = [*(output.wire for output in places.outputs), places.guard.state]
        self._run: ImageRun | None = None

    @property
    def run(self) -> ImageRun:
        """The chip that runs it."""
        assert self._run is not None
        return self._run

    def power_up(self) -> None:
        """Another chip of the same image; comparing begins anew. Raises as `Flashed.power_up`."""
        self.close()
        self._run = run = self.flashed.power_up()
        run.receiver.shortens = type(self._faults) is not Unharmed
        self._parity = Parity(run, self.flashed.plan)
        self._driven = Driven(run.pins, self.flashed.plan, run.chip.hz)
        run.watchers.append(self._driven.add)
        self._levels: deque[Sequence[int]] = deque()
        self._read: deque[BoardTick | None] = deque()
        self._unseen, self._now, self._halted = 0, run.chip.cycle, -1
        self._told: tuple[int, Sequence[int]] = -1, ()
        self.compares = True

    def prime(self, rows: Iterable[Sequence[int]]) -> None:
        """The first `ahead` rows, before the robot's first tick; with faults if they are a log's."""
        for number, row in enumerate(rows):
            whole = Hit(list(row), resets=False, misses=False)
            self._put(self._faults.apply(number, whole.inputs, self.commands()) if self.early else whole)

    def apply(self, tick: int, inputs: list[int], commands: Sequence[int]) -> Hit:
        """Give a tick's inputs with what breaks in it; what the image has read of an earlier one."""
        del commands  # what a battery bears is a matter of what the pins show
        self._put(self._faults.apply(tick + self.early, inputs, self.commands()))
        read = self.run.through()
        self._read.append(read)
        self._now += self.run.tick
        if read is None:
            levels = inputs[len(self.flashed.plan.channels) :]
            gap = [0] * len(self.flashed.plan.channels)
            return Hit([*gap, *levels], resets=False, misses=True, dark=self.run.stopped is not None)
        self._now = read.at
        self._parity.read([read])
        reset, late = (read.anew is which for which in (Anew.RESET, Anew.LATE))
        return Hit(list(read.inputs), resets=reset, misses=False, late=int(late))

    def damage(self) -> tuple[Damage, ...]:
        """What is broken below the firmware."""
        return self._faults.damage()

    def commands(self) -> Sequence[int]:
        """What the drivers at its pins are told, Q14."""
        if self._told[0] != self._now:
            self._told = self._now, self._driven.commands(self._now, self.run.tick)
        return self._told[1]

    def add(self, stretch: Stretch) -> None:
        """What the core made of it, as a sink of the robot."""
        ticks = [self._read.popleft() for _ in range(min(len(stretch.inputs), len(self._read)))]
        if not self.compares or len(ticks) < len(stretch.inputs):
            return
        ran = [number for number, tick in enumerate(ticks) if tick is not None]
        core = stretch.signals[:, self._obeyed].tolist()
        self._parity.obeyed([tick for tick in ticks if tick is not None], [core[number] for number in ran])
        self._unseen += len(ticks)
        if self._unseen >= SHOWN_EVERY:
            self._parity.shown()
            self._unseen = 0

    def account(self) -> Account:
        """What was compared since power-up, and what differs."""
        return self._parity.account()

    def finish(self) -> None:
        """Look at the pins of the last ticks as well."""
        self.run.settle()
        self._parity.shown()

    def close(self) -> None:
        """Switch it off."""
        if self._run is not None:
            self._run.chip.close()

    def _put(self, hit: Hit) -> None:
        """A tick's inputs onto the wires, and what breaks in it done to the chip in time for that."""
        run, count = self.run, len(self.flashed.plan.channels)
        number = run.plan(hit.inputs)
        self._levels.append(hit.inputs[count:])
        self._give(run)
        if hit.resets or hit.hangs or hit.misses:
            run.excuse(run.time_of(number) + RECOVERS_MS * run.chip.hz // 1000)
        if hit.resets:
            reason = Reset.POWER if hit.off else Reset.PIN
            run.do(
                number, run.tick // 2, lambda: run.chip.reset(reason, HELD_US * run.chip.hz // 1_000_000)
            )
        if hit.hangs:
            run.do(number, run.tick // 2, run.chip.hang)
        if hit.misses:
            run.do(number, run.tick * 3 // 10, lambda: self._halt(number))

    def _halt(self, number: int) -> None:
        """The chip's program stands still until the tick that is due is a whole one late.

        One that is beginning anew has no tick that could be missed.
        """
        if self.run.in_step(number) or self._halted == number - 1:
            self.run.chip.halt(self.run.tick * 14 // 10)
            self._halted = number

    def _give(self, run: ImageRun) -> None:
        """Contacts and volts for the chip's next tick."""
        levels = list(self._levels[0])
        if len(self._levels) > run.ahead:
            self._levels.popleft()
        if self.follows_body:
            for number in self._robot.pressed:
                levels[number] = self._levels[-1][number]
        place = run.tick * AMID_SIXTEENTHS // 16
        passed = -((run.time_of(0) + place - run.chip.cycle) // run.tick)
        run.contacts(levels, run.time_of(passed) + place)
        volts = self._robot.body.bus_v
        if volts is not None:
            run.volts(max(round(volts * 1000), 0))
