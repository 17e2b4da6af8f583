"""One judge: screen and command line hand it the same stream and get the same verdicts."""

from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from mixer.board.frames import Frame, Restarted
from mixer.core.plan import Plan
from mixer.errors import OptionError
from mixer.link.rehearse.listening import Rehearsing
from mixer.link.rehearse.rehearsal import Rehearsal
from mixer.link.rehearse.report import Outcome, Prompt, ReceiverKind, StepVerdict
from mixer.link.session import SessionEvent, Unplugged
from tests.link.receivers import ORDER, REST, Person, Receiver, go_through
from tests.plans import cart_plan

DRIVES_ON = {"throttle": 1700, "steer": 1500, "arm": 2000}


class Tapped:
    """A link as the bench has it: what came since the last look."""

    def __init__(self) -> None:
        self.events: list[SessionEvent] = []

    def tap(self, on: bool) -> None:
        """Nothing to do."""

    def tapped(self) -> Sequence[SessionEvent]:
        """All of it, once."""
        events, self.events = self.events, []
        return events


class Asked:
    """A judge behind a screen, or as the command line has it: one interface for both."""

    def __init__(self, plan: Plan, screen: bool) -> None:
        self.link = Tapped()
        self.running = Rehearsing(self.link, plan) if screen else None  # type: ignore[arg-type]
        self.judge = self.running._rehearsal if self.running else Rehearsal(plan, confirmed=True)

    @property
    def prompt(self) -> Prompt | None:
        """What is asked."""
        return self.judge.prompt

    def hear(self, event: SessionEvent) -> None:
        """One event, by the way it takes on the bench or in the terminal."""
        if self.running is None:
            self.judge.hear(event)
        else:
            self.link.events.append(event)
            self.running.look()

    def answer(self, text: str) -> None:
        """Answer what is shown."""
        if self.running is None:
            self.judge.answer(text, self.judge.asked)
        else:
            self.running.shown()
            self.running.answer(text[0])


def drive(asked: Asked, person: Person, hole_us: Callable[[Prompt], int]) -> tuple[StepVerdict, ...]:
    """The whole test at 50 frames a second, with a hole in the frames where `hole_us` wants one."""
    late_us, holed = 0, set()
    for n in range(20_000):
        prompt = asked.prompt
        if prompt is None:
            return asked.judge.verdicts
        now_us = n * 20_000 + late_us
        answer = person.act(prompt, now_us)
        if answer and asked.judge.waited_s >= 0.25:
            asked.answer(answer)
            if asked.prompt is not None and asked.prompt.text not in holed:
                holed.add(asked.prompt.text)
                late_us += hole_us(asked.prompt)
                now_us = n * 20_000 + late_us
        pulses = person.receiver.pulses(now_us, person.on_air())
        widths = tuple(2 * pulses[name] if name in pulses else 0 for name in ORDER)
        asked.hear(Frame(n & 0xFFFF, now_us & 0xFFFFFFFF, widths, 1, 7400))
    raise AssertionError("it does not end")


@pytest.mark.parametrize("presets", [REST, DRIVES_ON])
@pytest.mark.parametrize("kind", list(ReceiverKind))
def test_screen_and_command_line_say_the_same(kind: ReceiverKind, presets: dict[str, int]) -> None:
    """Receivers of every kind and a hole of 0.4 s while watching: equal verdicts, and never a pass."""

    def hole(prompt: Prompt) -> int:
        return 400_000 if "Watching" in prompt.text else 0

    both = [
        drive(Asked(cart_plan(), screen), Person(Receiver(kind, presets=presets)), hole)
        for screen in (False, True)
    ]
    assert both[0] == both[1]
    assert any(verdict.outcome is not Outcome.PASSED for verdict in both[0])
    passed = {verdict.step for verdict in both[0] if verdict.outcome is Outcome.PASSED}
    assert not passed & {"off at rest", "off while driving"}


def test_a_hole_across_two_steps_taints_both() -> None:
    """An answer in the middle of a silence ends one step and begins the next: neither is proven."""
    judge = Rehearsal(cart_plan(), confirmed=True)
    for n in range(60):
        judge.hear(Frame(n, n * 20_000, (3000, 3000, 2000)))
    assert judge.prompt is not None
    assert judge.prompt.step == "stick throttle"
    judge.answer("done")
    judge.hear(Frame(100, 5_000_000, (3000, 3000, 2000)))
    judge.repeat("signal")
    for n in range(101, 160):
        judge.hear(Frame(n, 5_000_000 + (n - 100) * 20_000, (3000, 3000, 2000)))
    assert next(v for v in judge.verdicts if v.step == "signal").outcome is Outcome.PASSED


def test_a_restart_proves_nothing() -> None:
    """A board that began anew during a step leaves it unclear."""
    judge = Rehearsal(cart_plan(), confirmed=True)
    judge.hear(Frame(0, 0, (3000, 3000, 2000)))
    judge.hear(Restarted())
    for n in range(40):
        judge.hear(Frame(n, n * 20_000, (3000, 3000, 2000)))
    assert [verdict.outcome for verdict in judge.verdicts] == [Outcome.PASSED, Outcome.UNCLEAR]


def test_a_late_answer_never_answers_the_next_question() -> None:
    """It names the prompt it was meant for; another one is up by now, and stays up."""
    judge = Rehearsal(cart_plan(), confirmed=True)
    for n in range(60):
        judge.hear(Frame(n, n * 20_000, (3000, 3000, 2000)))
    shown = judge.asked
    judge.answer("skip", shown)
    for n in range(60, 90):
        judge.hear(Frame(n, n * 20_000, (3000, 3000, 2000)))
    before = judge.prompt, judge.verdicts
    with pytest.raises(OptionError, match="next question"):
        judge.answer("done", shown)
    assert (judge.prompt, judge.verdicts) == before


def test_an_answer_too_soon_is_refused() -> None:
    """Nobody reads a prompt within a quarter of a second."""
    judge = Rehearsal(cart_plan(), confirmed=True)
    n = 0
    while judge.prompt is not None and judge.prompt.step == "signal":
        judge.hear(Frame(n, n * 20_000, (3000, 3000, 2000)))
        n += 1
    with pytest.raises(OptionError, match="too soon"):
        judge.answer("done")


def test_a_step_can_be_repeated() -> None:
    """What was found before is forgotten, the rest stands, and it goes on where it was."""
    person = Person(Receiver(ReceiverKind.STOPS))
    person.refuses = {"off while driving"}
    judge = Rehearsal(cart_plan())
    go_through(judge, person)
    assert judge.result().complete
    assert not judge.result().passed
    person.refuses, person.transmits, person._prompt = set(), True, None
    judge.repeat("off while driving")
    assert not judge.result().complete
    go_through(judge, person)
    assert judge.result().passed, [v for v in judge.verdicts if v.outcome is not Outcome.PASSED]
    with pytest.raises(OptionError, match="'off at noon' has not been gone through yet"):
        judge.repeat("off at noon")


def test_a_pulled_plug_ends_it_without_a_pass() -> None:
    """Nothing is claimed; the step that was on can be gone through anew."""
    judge = Rehearsal(cart_plan(), confirmed=True)
    judge.hear(Unplugged("the port went away"))
    assert judge.finished
    assert "the port went away" in judge.broken_off
    assert not judge.result().complete
    judge.repeat("ready")
    assert judge.prompt is not None
    assert judge.broken_off == ""


def test_leaving_knows_what_is_in_no_file(tmp_path: Path) -> None:
    """Only verdicts beyond the first yes are worth a question, and only until they are saved."""
    link = Tapped()
    running = Rehearsing(link, cart_plan())  # type: ignore[arg-type]
    assert not running.unsaved
    link.events = [Frame(n, n * 20_000, (3000, 3000, 2000)) for n in range(60)]
    running.look()
    assert running.unsaved
    running.save(tmp_path / "result.json")
    assert not running.unsaved
