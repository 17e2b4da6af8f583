"""The guided receiver test against simulated receivers of every kind, and people who err."""

import json

import pytest

from mixer.board.frames import Frame
from mixer.core.plan import Guard
from mixer.errors import OptionError
from mixer.link.rehearse.rehearsal import Rehearsal
from mixer.link.rehearse.report import Outcome, ReceiverKind, RehearsalResult, StepVerdict
from tests.link.receivers import Person, Receiver, go_through
from tests.plans import cart_plan, without_arm_switch

DRIVES_ON = {"throttle": 1700, "steer": 1500, "arm": 2000}


def rehearsed(person: Person) -> RehearsalResult:
    """The result of a whole rehearsal with the small robot."""
    rehearsal = Rehearsal(cart_plan())
    go_through(rehearsal, person)
    return rehearsal.result()


def step_of(result: RehearsalResult, name: str) -> StepVerdict:
    """The verdict on one step."""
    return next(verdict for verdict in result.verdicts if verdict.step == name)


def test_a_receiver_that_stops_its_pulses_passes_everything() -> None:
    """Every step passes; kind and times are right to within a frame and a tick."""
    result = rehearsed(Person(Receiver(ReceiverKind.STOPS, delay_us=340_000)))

    assert result.passed, [v for v in result.verdicts if v.outcome is not Outcome.PASSED]
    assert result.kind is ReceiverKind.STOPS
    driving = step_of(result, "off while driving")
    assert dict(driving.facts)["receiver_after_ms"] == pytest.approx(340 - 120, abs=45)
    assert dict(driving.facts)["neutral_after_ms"] == pytest.approx(200, abs=20)
    assert dict(driving.facts)["guard"] == Guard.STOPPED.name.lower()
    assert [verdict.step for verdict in result.verdicts] == [
        "ready", "signal", "stick throttle", "stick steer", "switch arm", "arm", "disarm", "off at rest",
        "off at rest, on again", "off while driving", "off while driving, on again",
        "power-up with transmitter off",
    ]  # fmt: skip


def test_a_receiver_that_holds_fails() -> None:
    """Repeated pulses drive on: found out while driving, whatever it looked like at rest."""
    result = rehearsed(Person(Receiver(ReceiverKind.HOLDS)))

    assert result.kind is ReceiverKind.HOLDS
    assert not result.passed
    assert step_of(result, "off while driving").outcome is Outcome.FAILED
    assert dict(step_of(result, "off while driving").facts)["neutral_after_ms"] is None
    assert "shows what that is" in step_of(result, "off at rest").said


def test_a_receiver_with_neutral_presets_is_told_from_one_that_holds() -> None:
    """At rest both look alike; with a stick held the jump is seen and timed, and it passes."""
    result = rehearsed(Person(Receiver(ReceiverKind.PRESET, delay_us=500_000)))

    assert result.kind is ReceiverKind.PRESET
    driving = step_of(result, "off while driving")
    assert driving.outcome is Outcome.PASSED
    assert dict(driving.facts)["receiver_after_ms"] == pytest.approx(500 - 120, abs=45)
    assert dict(driving.facts)["preset_throttle_us"] == pytest.approx(1500, abs=2)


def test_a_receiver_with_presets_that_drive_fails() -> None:
    """Presets that move the robot are a failure even though the pulses look good."""
    result = rehearsed(Person(Receiver(ReceiverKind.PRESET, presets=DRIVES_ON)))

    assert result.kind is ReceiverKind.PRESET
    assert step_of(result, "off at rest").outcome is Outcome.FAILED
    assert step_of(result, "off while driving").outcome is Outcome.FAILED


def test_presets_that_come_before_the_answer_are_seen() -> None:
    """A fast receiver and a slow person: the jump is seen although the answer comes after it."""
    person = Person(Receiver(ReceiverKind.PRESET, delay_us=60_000), reaction_us=900_000)

    result = rehearsed(person)

    assert result.kind is ReceiverKind.PRESET
    after = dict(step_of(result, "off while driving").facts)["receiver_after_ms"]
    assert after == pytest.approx(60 - 900, abs=45)


def test_channels_that_stop_while_others_go_on() -> None:
    """One silent channel stops the robot, and the odd receiver is called by its name."""
    result = rehearsed(Person(Receiver(ReceiverKind.MIXED)))

    assert result.kind is ReceiverKind.MIXED
    assert step_of(result, "off while driving").outcome is Outcome.PASSED


def test_a_transmitter_that_was_never_off_is_unclear() -> None:
    """When the pulses still follow the sticks, no receiver is judged."""
    person = Person(Receiver(ReceiverKind.STOPS))
    person.forgets_to_switch_off = True

    result = rehearsed(person)

    assert result.kind is None
    assert step_of(result, "off while driving").outcome is Outcome.UNCLEAR


@pytest.mark.parametrize("kind", list(ReceiverKind))
def test_letting_go_too_early_is_not_taken_for_a_preset(kind: ReceiverKind) -> None:
    """Who says that the stick was not held gets an unclear verdict instead of a wrong one."""
    person = Person(Receiver(kind))
    act = person.act

    def lets_go(prompt, now_us):  # noqa: ANN001, ANN202
        answer = act(prompt, now_us)
        if "Deflect" in prompt.text and " OFF" in prompt.text and now_us - person._since_us > 200_000:
            person.sticks["throttle"] = 1500
        return "no" if "Did you hold" in prompt.text else answer

    person.act = lets_go  # type: ignore[method-assign]
    result = rehearsed(person)

    expected = {Outcome.PASSED} if kind in {ReceiverKind.STOPS, ReceiverKind.MIXED} else {Outcome.UNCLEAR}
    assert {step_of(result, "off while driving").outcome} == expected


def test_swapped_wires_are_found() -> None:
    """Moving throttle moves steer's wire: the channel map is named as the mistake."""
    person = Person(Receiver(ReceiverKind.STOPS))
    person.swaps = {"throttle": "steer", "steer": "throttle"}

    result = rehearsed(person)

    assert step_of(result, "stick throttle").outcome is Outcome.FAILED
    assert "the wire of steer moved instead" in step_of(result, "stick throttle").said


def test_nothing_begins_without_a_yes() -> None:
    """Who does not confirm is asked nothing more."""
    person = Person(Receiver(ReceiverKind.STOPS))
    person.refuses = {"ready"}

    result = rehearsed(person)

    assert not result.complete
    assert not result.passed
    assert [verdict.outcome for verdict in result.verdicts] == [Outcome.FAILED]


def test_a_skipped_step_does_not_pass() -> None:
    """What was left out is not counted as seen."""
    person = Person(Receiver(ReceiverKind.STOPS))
    person.refuses = {"off while driving", "power-up with transmitter off"}

    result = rehearsed(person)

    assert step_of(result, "off while driving").outcome is Outcome.SKIPPED
    assert result.complete
    assert not result.passed


def test_a_robot_without_arm_switch() -> None:
    """It arms by resting at neutral, and may go live again after the signal is back."""
    rehearsal = Rehearsal(without_arm_switch(cart_plan()))
    go_through(rehearsal, Person(Receiver(ReceiverKind.STOPS)))

    assert rehearsal.result().passed
    assert "disarm" not in [verdict.step for verdict in rehearsal.result().verdicts]


def test_no_signal_ends_the_rehearsal() -> None:
    """Without pulses there is nothing to test; the silent channels are named."""
    rehearsal = Rehearsal(cart_plan(), confirmed=True)
    for n in range(130 * 50):
        rehearsal.hear(Frame(n & 0xFFFF, n * 20_000, (3000, 0, 0)))

    assert rehearsal.finished
    assert rehearsal.verdicts[-1].said == "no good signal; channels without pulses: steer, arm"


def test_only_allowed_answers_are_taken() -> None:
    """Another answer is refused with the ones that would do."""
    with pytest.raises(OptionError, match=r"^'maybe' is no answer here\n    remedy: answer yes or no$"):
        Rehearsal(cart_plan()).answer("maybe")


def test_the_result_is_json_with_its_caution() -> None:
    """What is saved can be read back, carries every step, and says what it is not."""
    result = rehearsed(Person(Receiver(ReceiverKind.STOPS)))

    saved = json.loads(result.to_json())

    assert saved["receiver"] == "pulses stop"
    assert saved["passed"] is True
    assert [step["step"] for step in saved["steps"]] == [verdict.step for verdict in result.verdicts]
    assert saved["steps"][9]["facts"]["guard"] == "stopped"
    assert "no certificate" in saved["caution"]


def test_equal_frames_and_answers_give_equal_results() -> None:
    """The rehearsal is a pure function of what it is fed."""
    first, second = (rehearsed(Person(Receiver(ReceiverKind.PRESET))) for _ in range(2))

    assert first == second
