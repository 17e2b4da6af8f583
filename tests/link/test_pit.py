"""The check in the pit, with a person, a receiver, a scale and a board that are all simulated."""

from dataclasses import dataclass, field, replace

import pytest

from mixer.board.frames import FLOODED, LATE, BoardMix, Frame, Identity
from mixer.core.layout import layout_of
from mixer.core.plan import Guard
from mixer.core.tick import flat_tick
from mixer.errors import OptionError
from mixer.link.pit.pit import Pit, Subject
from mixer.link.pit.report import PitResult, PitStep
from mixer.link.rehearse.report import Outcome, Prompt, ReceiverKind
from mixer.link.watch import BoardWatch
from mixer.profile.aboard import Tunings
from mixer.profile.profile import parse_profile
from tests.link.identities import identity_of
from tests.link.receivers import ORDER, Person, Receiver

FERRY = """
[robot]
name = "ferry"
tick_ms = 20

[stick.throttle]
receiver = 1

[stick.steer]
receiver = 2

[switch.arm]
receiver = 3

[output.left]
pin = 9
mix = { throttle = 0.6, steer = 0.6 }

[output.right]
pin = 10
mix = { throttle = 0.6, steer = -0.6 }

[contact.up]
pin = 4
closed_reads = 0

[contact.down]
pin = 5
closed_reads = 0

[actuator.ramp]
output = "left"
out_stop = "up"
in_stop = "down"

[guard]
arm = { switch = "arm", position = "on" }

[battery]
cells = 2
capacity_ah = 2.2
curve = [[0.0, 3.3], [0.5, 3.8], [0.9, 4.05], [1.0, 4.2]]

[chassis]
mass_kg = 3.0
class_limit_kg = 3.2
"""
"""An invention."""
PROFILE = parse_profile(FERRY, "ferry.toml")
PLAN = PROFILE.plan()
CHECKS = {"switch": "Main switch in reach takes power from every motor."}


def subject() -> Subject:
    """The ferry with a board at its link, which nobody has heard yet."""
    return Subject(Tunings(PROFILE), "", CHECKS, BoardWatch(Tunings(PROFILE)))


@dataclass
class Crew(Person):
    """Follows the prompts of a pit as well: weighs, presses, pushes gently, looks at the wheels."""

    receiver: Receiver = field(default_factory=lambda: Receiver(ReceiverKind.STOPS))
    kg: str = "3.05"
    mv: int = 8_300
    runs: str = PROFILE.fingerprint()
    built_for: str | None = identity_of(PROFILE).wiring
    wires: dict[str, int] = field(default_factory=lambda: {"up": 0, "down": 1})
    """Which bit each end stop is really on."""
    mirrored: set[str] = field(default_factory=set)
    """Outputs whose motors are wired the wrong way round."""
    push_us: int = 120
    late: bool = False
    """Whether a tick has come late on the board."""
    flooded: bool = False
    """Whether noise has made it drop pulses."""
    off_by: int = 0
    """By how much a wire of the board's mix is wrong while it drives."""
    levels: int = 0b11
    pressed: str = ""

    def __post_init__(self) -> None:
        super().__init__(self.receiver)

    def act(self, prompt: Prompt, now_us: int) -> str:
        """As a person at a rehearsal, and more."""
        kind, _, name = prompt.step.rpartition(" ")
        if prompt.step in self.refuses:
            return super().act(prompt, now_us)
        if prompt.unit:
            return self.kg if prompt.unit == "kg" else "skip no meter"
        if kind == "end stop":
            self.levels = 0b11 ^ (1 << self.wires[name] if self._first_seconds(prompt, now_us) else 0)
            return "done" if now_us - self._since_us > 2_500_000 else ""
        if kind == "output":
            return self._push(prompt, name, now_us)
        if prompt.step == "before outputs":
            return "wheels up"
        return super().act(prompt, now_us)

    def _first_seconds(self, prompt: Prompt, now_us: int) -> bool:
        if prompt != self._prompt:
            self._prompt, self._since_us = prompt, now_us
        return 300_000 < now_us - self._since_us < 1_000_000

    def _push(self, prompt: Prompt, name: str, now_us: int) -> str:
        if "to arm" in prompt.text:
            return super().act(prompt, now_us)
        pushing = self._first_seconds(prompt, now_us)
        self.sticks |= {"throttle": 1500 + (self.push_us if pushing else 0), "steer": 1500, "arm": 2000}
        if now_us - self._since_us < 1_500_000:
            return ""
        return "no" if name in self.mirrored else "yes"


def gone_through(
    crew: Crew, *, mix: bool = True, stop_at: str = "", before: PitResult | None = None
) -> PitResult:
    """The whole list at 50 frames a second; a mix on the board runs the plan."""
    robot = subject()
    pit, watch = Pit(robot, "today", before=before), robot.watch
    state = list(layout_of(PLAN).start)
    places = layout_of(PLAN).places

    def hear(event: Identity | Frame) -> None:
        if watch is not None:
            watch.take([event])
        pit.hear(event)

    said = identity_of(PROFILE, started=1 | LATE * crew.late | FLOODED * crew.flooded)
    hear(replace(said, fingerprint=crew.runs if mix else "", wiring=crew.built_for))
    for n in range(400 * 50):
        prompt = pit.prompt
        if prompt is None or (stop_at and prompt.step == stop_at):
            return pit.result(f"second {n // 50}")
        answer = crew.act(prompt, n * 20_000)
        if answer and pit.waited_s >= 0.25:
            pit.answer(answer)
        pulses = crew.receiver.pulses(n * 20_000, crew.on_air())
        read = [pulses.get(name, 0) for name in ORDER]
        levels = [crew.levels >> bit & 1 for bit in range(2)]
        signals, state = flat_tick(PLAN, [*read, *levels], state)
        wires = tuple(signals[output.wire] for output in places.outputs)
        if signals[places.guard.state] == Guard.LIVE:
            wires = (wires[0] + crew.off_by, *wires[1:])
        board = BoardMix(signals[places.guard.state], wires) if mix else None
        widths = tuple(2 * pulse for pulse in read)
        hear(Frame(n & 0xFFFF, n * 20_000, widths, crew.levels, crew.mv, board))
    raise AssertionError(f"not finished: {pit.prompt}")


def steps(result: PitResult) -> dict[str, PitStep]:
    """By name."""
    return {step.step: step for step in result.steps}


def test_a_sound_robot_is_ready() -> None:
    """Every part of the list is gone through in the order of a pit, and everything passes."""
    result = gone_through(Crew())

    assert result.ready, list(result.open)
    assert result.verdict() == f"READY: {len(result.steps)} of {len(result.steps)} steps passed"
    assert list(steps(result)) == [
        "weight", "battery", "firmware", "end stop up", "end stop down", "by hand: switch", "ready",
        "signal", "stick throttle", "stick steer", "switch arm", "off while driving",
        "off while driving, on again", "before outputs", "output left", "output right",
        "mix against the core",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("crew", "step", "outcome", "words"),
    [
        (Crew(kg="3.3"), "weight", Outcome.FAILED, "allows 3.2 kg"),
        (Crew(kg="2.5"), "weight", Outcome.PASSED, "put the true mass there"),
        (Crew(mv=8_000), "battery", Outcome.FAILED, "nine tenths full is 8.10 V"),
        (Crew(mv=12_400), "battery", Outcome.FAILED, "another pack"),
        (Crew(mv=90), "battery", Outcome.SKIPPED, "no meter"),
        (Crew(runs="0123456789ab"), "firmware", Outcome.FAILED, "runs 0123456789ab"),
        (Crew(runs="0123456789ab"), "mix against the core", Outcome.UNCLEAR, "values of the tuning"),
        (
            Crew(built_for="0123456789ab"),
            "firmware",
            Outcome.FAILED,
            "its wires are those of another export",
        ),
        (Crew(built_for=None), "firmware", Outcome.UNCLEAR, "does not say for which wires"),
        (Crew(built_for=""), "firmware", Outcome.PASSED, "a bare reader that drives nothing"),
        (Crew(late=True), "firmware", Outcome.FAILED, "a tick has come late"),
        (Crew(flooded=True), "firmware", Outcome.FAILED, "has made it drop pulses"),
        (Crew(off_by=1), "mix against the core", Outcome.FAILED, "output.left.wire is"),
        (Crew(wires={"up": 1, "down": 0}), "end stop up", Outcome.FAILED, "down changed instead"),
        (Crew(mirrored={"right"}), "output right", Outcome.FAILED, "reverse"),
        (Crew(push_us=450), "output left", Outcome.UNCLEAR, "more gently"),
        (Crew(push_us=0), "output left", Outcome.UNCLEAR, "never moved it"),
        (Crew(Receiver(ReceiverKind.HOLDS)), "off while driving", Outcome.FAILED, "drives on"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_each_thing_that_is_wrong_is_found(crew: Crew, step: str, outcome: Outcome, words: str) -> None:
    """One thing wrong with the robot: that step says so, and unless it passed the whole is not ready."""
    result = gone_through(crew)

    assert (steps(result)[step].outcome, words in steps(result)[step].said) == (outcome, True)
    assert result.ready == (outcome is Outcome.PASSED)


def test_a_board_without_a_mix_is_not_asked_for_one() -> None:
    """A bare pulse reader has nothing to compare, and its list no such step."""
    result = gone_through(Crew(), mix=False)
    assert "mix against the core" not in steps(result)


def test_nothing_moves_before_the_words_are_typed() -> None:
    """Wheels up is typed in full; a no leaves every output alone, and the robot is not ready."""
    crew = Crew()
    prompt = Prompt("before outputs", "", ("wheels up", "no"), in_full=True)
    assert [prompt.meant(line) for line in ("w", "wheels", " Wheels  UP ")] == ["w", "wheels", "wheels up"]
    crew.refuses = {"before outputs"}

    result = gone_through(crew)

    assert [steps(result)[f"output {name}"].outcome for name in ("left", "right")] == [Outcome.SKIPPED] * 2
    assert not result.ready


def test_a_skip_needs_its_reason_and_keeps_it() -> None:
    """Skip alone is refused; with words it is a step that did not pass, and says why."""
    pit = Pit(replace(subject(), watch=None), "today", now_us=iter(range(0, 10**9, 10**6)).__next__)

    with pytest.raises(OptionError, match="needs a reason"):
        pit.answer("skip")
    pit.answer("skip the scale is broken")

    assert steps(pit.result("now"))["weight"].said == "skipped: the scale is broken"
    assert pit.prompt is not None
    assert pit.prompt.step == "battery"


def test_it_is_taken_up_where_it_was_left() -> None:
    """What was done is not asked again, except whether the robot is safe; times stay those of then."""
    first = gone_through(Crew(), stop_at="stick steer")
    assert not first.complete
    again = Pit(subject(), "today", before=PitResult.model_validate_json(first.to_json()))

    assert again.prompt is not None
    assert again.prompt.step == "ready"
    result = gone_through(Crew(kg="99"), before=first)

    assert result.ready
    assert steps(result)["weight"] == steps(first)["weight"]


def test_since_does_only_what_has_changed() -> None:
    """Another gain on one output: that output is twitched and the firmware asked, the other is kept."""
    earlier = gone_through(Crew())
    tuned = parse_profile(
        FERRY.replace("throttle = 0.6, steer = -0.6", "throttle = 0.5, steer = -0.5"), "x"
    )
    pit = Pit(replace(subject(), tunings=Tunings(tuned)), "today", since=earlier)

    kept = {step.step for step in pit.result("now").steps if step.kept}
    assert {"weight", "end stop up", "stick throttle", "switch arm", "output left"} <= kept
    assert not kept & {"battery", "firmware", "by hand: switch", "ready", "signal", "output right"}
    assert pit.prompt is not None


def test_a_failed_step_is_never_kept() -> None:
    """What did not pass then is asked again, whatever has or has not changed."""
    earlier = gone_through(Crew(kg="3.3"))

    pit = Pit(subject(), "today", since=earlier)

    assert pit.prompt is not None
    assert pit.prompt.step == "weight"


def test_without_a_board_what_needs_one_is_told() -> None:
    """No port: scale, meter and boxes are asked, the rest is skipped and says why; so it is not ready."""
    clock = iter(range(0, 10**10, 10**6))
    pit = Pit(replace(subject(), watch=None), "today", now_us=clock.__next__)
    for answer in ("3.05", "8.3", "yes", "yes"):
        pit.answer(answer)

    result = pit.result("now")
    assert pit.finished
    assert not result.ready
    assert {s.said for s in result.open} == {"no board is connected: give --port"}
    assert {s.step for s in result.steps if s.outcome is Outcome.PASSED} == {
        "weight", "battery", "firmware", "by hand: switch",
    }  # fmt: skip
