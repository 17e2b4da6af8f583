"""The front door for programs: one robot to run, ask, size, prove and export.

    import mixer

    robot = mixer.load("profiles/tank_pair.toml")
    robot.arm()
    robot.drive(0.5, throttle=1.0)
    robot["output.left.wire"]

Names of channels, sticks, switches and signals are those of the profile; ``mixer.load(...).signals`` lists
the signals. Pulses are whole µs, times seconds, sticks -1 to 1 in the robot's own sense. Every error that
bad input brings is a `mixer.errors.StickwrightError` with its remedy.
"""

from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from mixer.board.project.project import project_of
from mixer.board.wiring.aboard import wired_as
from mixer.board.wiring.own import wiring_on
from mixer.core.layout import layout_of
from mixer.core.plan import Guard, Plan
from mixer.core.rest import contact_levels
from mixer.errors import OptionError, WriteError, offer
from mixer.failsafe.proof.theorems import ProofResult, prove_rules
from mixer.files import check_folder, write_folder
from mixer.live.inputs.hands import HandSticks
from mixer.live.listen.diary import Diary
from mixer.live.listen.events import EventLog
from mixer.live.robot.firmware import PlainBoard
from mixer.live.robot.robot import LiveRobot, build_of, with_physics
from mixer.live.views.status import EventView
from mixer.lower.c.export import MARKS, export_of
from mixer.lower.graph.ranges import checked_ranges
from mixer.plant.plant import PlantSnapshot
from mixer.profile.exported import keep
from mixer.profile.profile import Profile, load_profile
from mixer.profile.read.fitting import Fitting
from mixer.runs.log.mapping import parse_mapping
from mixer.runs.measure.measures import Measures, Summary
from mixer.runs.play.drive_log import DriveLog
from mixer.runs.play.stretch import Sink
from mixer.sizing.report import SizeReport, size

FRAME_S = 0.02
"""From one frame of a receiver to the next (common practice, no source)."""


def load(
    path: str | Path,
    loadout: str | None = None,
    *,
    driver: str = "",
    receiver: str = "",
    physics: bool = False,
) -> "Robot":
    """The robot of a profile, powered up.

    `loadout` is one of the profile's, None the base robot; `driver` one of its operators, `receiver` one of
    its spare receivers; each goes with each. `physics` puts battery, motors, floor and end
    stops below its outputs. Raises ProfileError with everything that is wrong, OptionError for an unknown
    loadout or where the profile says too little for physics.
    """
    fitting = Fitting(loadout or "", driver, receiver)
    return Robot(load_profile(Path(path)), fitting.name, physics=physics)


class Robot:
    """One robot running in time, judged by its rules. Not for sharing between threads."""

    def __init__(self, profile: Profile, loadout: str | None = None, *, physics: bool = False) -> None:
        """Power up. See `load`."""
        self.profile, self.loadout = profile, loadout
        build = build_of(profile, loadout)
        self._live = LiveRobot(with_physics(build) if physics else build, bodiless=not physics)
        self._has_physics = physics
        self._layout = layout_of(build.plan)
        self._hands = HandSticks(build.plan, FRAME_S * 1000)

    @property
    def plan(self) -> Plan:
        """The profile as the integers that the firmware sees."""
        return self._live.plan

    @property
    def signals(self) -> tuple[str, ...]:
        """Names of everything that can be read of a tick, such as ``output.left.wire``."""
        return self._layout.signals

    @property
    def time_s(self) -> float:
        """How long it has been running."""
        return self._live.time_s

    def __getitem__(self, signal: str) -> int:
        """A signal of the last tick: µs, Q14 (16384 = full), ticks or a flag. Raises OptionError."""
        if signal not in self._layout.signals:
            said = f"{self.plan.name} has no signal {signal!r}"
            raise OptionError(said, offer(signal, self._layout.signals, "signals"))
        return int(self._live.signals[self._layout.index(signal)])

    @property
    def guard(self) -> Guard:
        """Whether the outputs follow the sticks, and why not."""
        return Guard(self._layout.signals_of(self._live.signals).guard.state)

    @property
    def physics(self) -> PlantSnapshot | None:
        """Where it is, how fast, what it draws; None without physics."""
        plant = self._live.body.plant
        return plant.snapshot() if plant is not None and self._has_physics else None

    def power_up(self) -> None:
        """Board off and on, the robot at its start with a full battery."""
        self._live.power_up()

    def arm(self) -> bool:
        """Hands off, arm switch off and on; whether it is live now."""
        self._live.arm()
        if self.plan.guard.arm is not None:
            switch = self.plan.switches[self.plan.guard.arm.switch]
            self._hands.turn(switch.name, self.plan.guard.arm.position)
        return self.guard is Guard.LIVE

    def tick(self, pulses: Mapping[str, int], contacts: Mapping[str, bool] | None = None) -> None:
        """One run of the firmware, on the pulses in µs that came since the last one.

        Channels that are not named brought none. `contacts` says which switches are closed; without it
        they are as the physics presses them, else open. Raises OptionError for an unknown name.
        """
        plan = self.plan
        row = [0] * len(plan.channels)
        for name, pulse in pulses.items():
            row[_place(name, [channel.name for channel in plan.channels], "channels")] = pulse
        closed: list[bool] = []
        if contacts is not None:
            closed = [False] * len(plan.contacts)
            for name, state in contacts.items():
                closed[_place(name, [contact.name for contact in plan.contacts], "contacts")] = state
        levels = None if contacts is None else contact_levels(plan, closed)
        self._live.play(_Given(row, levels), 1)

    def drive(self, seconds: float, **sticks: float | str) -> None:
        """Hold sticks (-1 to 1) and switches (the names of their positions) for a time, as a radio would.

        What was set before stays as it was. Raises OptionError for an unknown name or position.
        """
        positions = {switch.name: switch.position_names for switch in self.plan.switches}
        for name, value in sticks.items():
            if isinstance(value, str):
                known = positions[[*positions][_place(name, [*positions], "switches")]]
                self._hands.turn(name, _place(value, known, "positions"))
            else:
                self._hands.set(name, value)
        self._live.play(self._hands, max(round(seconds * 1000 / self.plan.tick_ms), 1))

    def subscribe(self, tell: Callable[[EventView], None]) -> None:
        """Be told of losses, changes of the guard, vetoes and broken rules, with time and words."""
        self._live.add(Diary(self.plan, self._live.signals, EventLog(tell=tell)))

    def listen(self, sink: Sink) -> None:
        """Be given every tick's inputs and signals, a stretch at a time."""
        self._live.add(sink)

    def replay(self, log: str | Path, *columns: str) -> Summary:
        """A recorded drive through a fresh firmware of this robot: guard, losses, outputs, vetoes.

        `columns` say where a log from elsewhere has what, as `--map` does. Raises LogError, OptionError.
        """
        build = build_of(self.profile, self.loadout)
        unused = self.profile.unused(self.loadout)
        drive = DriveLog(build.plan, Path(log), mapping=parse_mapping(columns), unused=unused)
        live, measures = LiveRobot(build, PlainBoard(build.plan), bodiless=True), Measures(build.plan)
        live.add(measures)
        live.power_up(drive.start_state)
        for chunk in drive.chunks():
            live.take(chunk.inputs)
        return measures.summary()

    def size(self) -> SizeReport:
        """Will it last the match: speeds, push, currents, charge, heat, lift, each against its limit."""
        return size(self._live.build)

    def prove(self) -> ProofResult:
        """Every rule, for all inputs and all states. Raises MissingToolError without z3."""
        return prove_rules(self.plan)

    def export(
        self,
        folder: str | Path,
        *,
        board: str | None = None,
        tables: bool = True,
        overwrite: bool = False,
    ) -> tuple[Path, ...]:
        """The very same mix as C99 with its test vectors; the files written, all of them or none.

        With a board, such as ``"rp2040"``, its whole firmware, ready to build. Without `tables`, what
        sticks make of their travel is calculated instead of looked up in flash: smaller and slower.

        Raises WriteError where something stands there that no export wrote, OptionError for a robot that
        cannot go live or an unknown board, ProfileError where a number could leave 32 bits or the robot
        does not fit the board.
        """
        checked_ranges(self.plan, self.profile.where)
        wired = None
        if board is None:
            files = export_of(self.plan, self.profile.fingerprint(self.loadout), tables=tables).files
        else:
            wiring = wiring_on(self.profile, self.loadout, board)
            files, wired = (
                project_of(self.profile, self.loadout, wiring, Path(folder), tables=tables).files,
                wired_as(wiring),
            )
        check_folder(Path(folder), files, marks=MARKS, overwrite=overwrite)
        write_folder(Path(folder), files)
        with suppress(WriteError):  # an export that cannot be kept beside the profile is one all the same
            keep(self.profile, self.loadout, Path(folder), wired)
        return tuple(Path(folder) / name for name in files)


class _Given:
    """One tick's inputs as a source."""

    mode = "hand"

    def __init__(self, pulses: list[int], levels: list[int] | None) -> None:
        self._pulses, self._levels = pulses, levels

    def inputs(self, tick: int, readings: Sequence[int]) -> list[int]:
        """The pulses, and contacts as given or as the robot's movement presses them."""
        del tick
        return self._pulses + (list(readings) if self._levels is None else self._levels)


def _place(name: str, known: Sequence[str], what: str) -> int:
    if name not in known:
        raise OptionError(f"there is no {name!r} among the {what}", offer(name, known, what))
    return list(known).index(name)
