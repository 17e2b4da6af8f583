"""The list of a robot's steps in the pit, and what of an earlier check still holds."""

import hashlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial

from mixer.core.plan import Plan
from mixer.link.pit.by_hand import Lifted, contact_step, lift_wheels, press_stop, tick_off, twitch
from mixer.link.pit.measured import ask_firmware, compare_mix, measure_battery, weigh
from mixer.link.pit.report import PitResult, PitStep
from mixer.link.rehearse.guided import Guided, Scene
from mixer.link.rehearse.hands_on import confirm_ready, find_signal, flip_switch, sweep_stick
from mixer.link.rehearse.lights_out import switch_off
from mixer.link.rehearse.report import Outcome, StepVerdict
from mixer.link.rehearse.script import Step
from mixer.link.rehearse.stand import Stand
from mixer.link.watch import BoardWatch
from mixer.profile.aboard import Tunings
from mixer.profile.schema.root import Robot

GATES = frozenset({"ready", "signal"})
"""With a board, nothing goes on past these; without one, each of its steps says that it was left out."""


@dataclass(frozen=True, slots=True)
class Subject:
    """Which robot stands in the pit."""

    tunings: Tunings
    chosen: str
    """Loadout and the like, as on the command line."""
    checks: Mapping[str, str]
    """What is to be ticked by hand, by key."""
    watch: BoardWatch | None = None
    """What hears the board, where one is there to be asked."""

    @property
    def robot(self) -> Robot:
        """As the profile describes it."""
        return self.tunings.profile.robot(self.tunings.loadout)

    @property
    def plan(self) -> Plan:
        """The same in integers."""
        return self.tunings.plan

    @property
    def fingerprint(self) -> str:
        """Of that."""
        return self.tunings.profile.fingerprint(self.tunings.loadout)

    @property
    def connected(self) -> bool:
        """Whether a board is there to be asked."""
        return self.watch is not None


@dataclass(frozen=True, slots=True)
class _Part:
    """One entry of the list."""

    name: str
    begin: Callable[[Scene], Step]
    basis: object = None
    """What of the profile it is about; None: it is about the moment, and never taken over."""
    needs_board: bool = False
    again: bool = False
    """Asked anew when the check is taken up again: hands are about to be near the robot."""

    @property
    def digest(self) -> str:
        """Of the basis."""
        return "" if self.basis is None else hashlib.sha256(repr(self.basis).encode()).hexdigest()[:12]


class Pit(Guided):
    """One check from the scale to the last box."""

    def __init__(
        self,
        subject: Subject,
        begun: str,
        *,
        before: PitResult | None = None,
        since: PitResult | None = None,
        now_us: Callable[[], int] | None = None,
    ) -> None:
        """`before` is the same check, left unfinished; `since` an earlier one, for what has not changed."""
        self._subject, self._begun = subject, begun
        stand = Stand(subject.plan)
        self._parts = list(_parts(subject, stand))
        self._done: dict[str, PitStep] = {}
        """Steps as they were taken over, or stamped, by name."""
        scenes = [Scene(_begun_by(part, subject), self._taken(part, before, since)) for part in self._parts]
        gates = GATES if subject.connected else frozenset[str]()
        super().__init__(stand, scenes, gates=gates, now_us=now_us)

    def _taken(self, part: _Part, before: PitResult | None, since: PitResult | None) -> list[StepVerdict]:
        """What is known already of a part."""
        found = [] if before is None or part.again else [s for s in before.steps if s.part == part.name]
        if not found and since is not None and part.digest:
            old = [s for s in since.steps if s.part == part.name and s.basis == part.digest]
            passed = all(step.outcome is Outcome.PASSED for step in old)
            found = [step.model_copy(update={"kept": True}) for step in old] if passed else []
        self._done |= {step.step: step for step in found}
        return [StepVerdict(s.step, s.outcome, s.said, tuple(s.facts.items())) for s in found]

    def result(self, now: str) -> PitResult:
        """What has been found so far; what was judged since the last call is stamped with `now`."""
        steps = []
        for part, scene in zip(self._parts, self._scenes, strict=True):
            for verdict in map(self._holes.judged, scene.verdicts):
                known = self._done.get(verdict.step)
                if known is None or (known.outcome, known.said) != (verdict.outcome, verdict.said):
                    known = PitStep(
                        step=verdict.step,
                        part=part.name,
                        outcome=verdict.outcome,
                        said=verdict.said,
                        facts=dict(verdict.facts),
                        at=now,
                        basis=part.digest,
                    )
                    self._done[verdict.step] = known
                steps.append(known)
        subject = self._subject
        return PitResult(
            robot=subject.plan.name,
            fingerprint=subject.fingerprint,
            chosen=subject.chosen,
            begun=self._begun,
            complete=self.complete,
            steps=tuple(steps),
        )


def _begun_by(part: _Part, subject: Subject) -> Callable[[Scene], Step]:
    """The part's step; one that needs a board says so where none is connected."""
    if part.needs_board and not subject.connected:
        return lambda _: _not_connected(part.name)
    return part.begin


def _not_connected(name: str) -> Step:
    yield from ()
    return [StepVerdict(name, Outcome.SKIPPED, "no board is connected: give --port")]


def _of(
    name: str, step: Callable[[], Step], about: object = None, *, board: bool = True, again: bool = False
) -> _Part:
    return _Part(name, lambda _: step(), about, board, again)


def _parts(subject: Subject, stand: Stand) -> Iterator[_Part]:
    """In the order of a pit: the robot on the scale and cold first, moving things last."""
    yield from _cold(subject, stand)
    yield from _by_radio(subject.plan, stand)
    lifted = Lifted()
    yield _of("before outputs", partial(lift_wheels, stand, lifted), again=True)
    for output in subject.plan.outputs:
        about = output, subject.plan.sources
        yield _of(f"output {output.name}", partial(twitch, stand, output, lifted), about)
    if subject.watch is not None:
        yield _of("mix against the core", partial(compare_mix, subject.watch))


def _cold(subject: Subject, stand: Stand) -> Iterator[_Part]:
    """What needs no radio."""
    robot, prints, there = subject.robot, subject.fingerprint, subject.connected
    if (chassis := robot.chassis) is not None:
        weighed = (chassis.mass_kg, chassis.class_limit_kg, robot.part)
        yield _of("weight", partial(weigh, stand, chassis), weighed, board=False)
    if (battery := robot.battery) is not None:
        yield _of("battery", partial(measure_battery, stand, battery, connected=there), board=False)
    yield _of("firmware", partial(ask_firmware, stand, subject.tunings, connected=there), board=False)
    for at, contact in enumerate(subject.plan.contacts):
        yield _of(contact_step(subject.plan, at), partial(press_stop, stand, at), contact)
    for key, words in subject.checks.items():
        yield _of(f"by hand: {key}", partial(tick_off, stand, key, words), (words, prints), board=False)


def _by_radio(plan: Plan, stand: Stand) -> Iterator[_Part]:
    yield _of("ready", partial(confirm_ready, stand), again=True)
    yield _of("signal", partial(find_signal, stand), again=True)
    for stick in plan.sticks:
        wire = plan.channels[stick.channel]
        yield _of(f"stick {stick.name}", partial(sweep_stick, stand, stick), (stick, wire))
    for switch in plan.switches:
        wire = plan.channels[switch.channel]
        yield _of(f"switch {switch.name}", partial(flip_switch, stand, switch), (switch, wire))
    yield _Part(
        "off while driving",
        lambda scene: switch_off(stand, driving=True, found=scene.found),
        (plan.guard, plan.channels),
        needs_board=True,
    )
