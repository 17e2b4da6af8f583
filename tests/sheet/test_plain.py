"""Questions and answers in plain words: nothing is said to be known that nobody has found out."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from mixer.failsafe.campaign.results import FaultVerdict
from mixer.failsafe.proof.theorems import ProofOutcome
from mixer.link.pit.report import PitResult, PitStep
from mixer.link.rehearse.report import Outcome, ReceiverKind, RehearsalResult, StepVerdict
from mixer.sheet.facts import SheetFacts
from mixer.sheet.plain.answers import How, Said, answers_of
from mixer.sheet.plain.page import plain_page
from tests.cli.conftest import CARRIER, TANK, Run, run  # noqa: F401  a fixture
from tests.sheet.pages import EXAMPLES, example


def said(facts: SheetFacts) -> list[Said]:
    """Every sentence."""
    return [sentence for answer in answers_of(facts) for sentence in answer.said]


def words_of(facts: SheetFacts, how: How) -> str:
    """All sentences found out in one way."""
    return "\n".join(sentence.words for sentence in said(facts) if sentence.how is how)


@pytest.mark.parametrize(("stem", "loadout"), EXAMPLES)
def test_every_robot_has_its_answers(stem: str, loadout: str | None) -> None:
    """The usual questions are answered for each shipped robot, with a whole sentence each."""
    facts = example(stem, loadout)
    questions = [answer.question for answer in answers_of(facts)]
    assert len(questions) == len(set(questions)) >= 9
    assert ("What stops its actuators at their ends?" in questions) is bool(facts.robot.actuator)
    for sentence in said(facts):
        assert sentence.words[-1] in ".:"
        assert ".." not in sentence.words
        assert "{" not in sentence.words
    bound = (
        next(rule.bound_ms for rule in facts.proven.rules if rule.rule == "stops-on-loss")
        if facts.proven
        else 0
    )
    assert f"Yes: every output is told zero within {bound:g} ms" in words_of(facts, How.PROVEN)


def test_without_a_proof_nothing_is_proven() -> None:
    """What was proven becomes not found out, and no yes is left; likewise for what was simulated."""
    facts = replace(example("sample_carrier"), proven=None, simulated=None)
    assert not words_of(facts, How.PROVEN)
    assert "Yes" not in "".join(sentence.words for sentence in said(facts))
    assert words_of(facts, How.OPEN).count("Not proven for this page") >= 5
    assert "Faults have not been simulated" in words_of(facts, How.OPEN)


@pytest.mark.parametrize("outcome", [ProofOutcome.COUNTER_EXAMPLE, ProofOutcome.NOT_SETTLED])
def test_a_broken_rule_is_a_no(outcome: ProofOutcome) -> None:
    """A counter-example answers with NO, an open rule with that; both speak against the robot."""
    facts = example("sample_carrier")
    assert facts.proven is not None
    assert not any(sentence.bad for sentence in said(facts))
    rules = tuple(
        replace(rule, outcome=outcome) if rule.rule == "stops-on-loss" else rule
        for rule in facts.proven.rules
    )
    wrong = replace(facts, proven=replace(facts.proven, rules=rules))
    (against,) = (sentence for sentence in said(wrong) if sentence.bad)
    assert against.words.startswith("NO.") is (outcome is ProofOutcome.COUNTER_EXAMPLE)
    assert against.how is not How.PROVEN


def test_a_broken_fault_and_a_broken_promise_are_told() -> None:
    """A rule that broke under a fault, a stop that is too slow, a robot that is too heavy."""
    facts = example("sample_carrier")
    assert facts.simulated is not None
    assert facts.robot.chassis is not None
    faults = (replace(facts.simulated.faults[3], verdict=FaultVerdict.BROKEN), *facts.simulated.faults[4:])
    chassis = facts.robot.chassis.model_copy(update={"mass_kg": 9.0})
    wrong = replace(
        facts,
        simulated=replace(facts.simulated, faults=faults),
        stop=replace(facts.stop, worst_ms=999.0),
        robot=facts.robot.model_copy(update={"chassis": chassis}),
    )
    against = [sentence.words for sentence in said(wrong) if sentence.bad]
    assert len(against) == 3
    assert [word for word in ("9 kg", "NOT kept", "breaks its rules") if word in "\n".join(against)] == [
        "9 kg",
        "NOT kept",
        "breaks its rules",
    ]


def test_what_was_measured_counts_for_this_tuning_only() -> None:
    """A pit check's weight and a rehearsal's loss are measured; a check of another tuning is not used."""
    facts = example("tank_pair")
    loss = StepVerdict("off while driving", Outcome.PASSED, "at zero 231 ms after the last pulse")
    rehearsed = RehearsalResult("tank pair", (loss,), ReceiverKind.STOPS, complete=True)
    weight = PitStep(
        step="weight", part="weight", outcome=Outcome.FAILED, said="1.6 kg; too much", at="10:00"
    )
    pit = PitResult(
        robot="tank pair",
        fingerprint=facts.profile_fingerprint,
        begun="today",
        complete=True,
        steps=(weight,),
    )
    found = replace(facts, rehearsed=rehearsed, pit=pit)
    measured = words_of(found, How.MEASURED)
    assert "weight: failed, 1.6 kg; too much (10:00)." in measured
    assert "off while driving: passed, at zero 231 ms" in measured
    assert "this receiver: pulses stop; the rehearsal passed" in measured
    other = replace(found, pit=pit.model_copy(update={"fingerprint": "0" * 12}))
    assert "1.6 kg" not in words_of(other, How.MEASURED)
    assert "The pit check of today is of 000000000000, another tuning" in words_of(other, How.WORKED_OUT)


def test_what_a_person_said_is_not_called_measured() -> None:
    """A board that could not be asked is told by the builder; what the board answers is measured."""
    facts = example("tank_pair")
    for board, how in ((None, How.TOLD), ("7f099dfe2faf", How.MEASURED)):
        step = PitStep(
            step="firmware", part="firmware", outcome=Outcome.PASSED, said="it runs", facts={"board": board}
        )
        pit = PitResult(
            robot="tank pair", fingerprint=facts.profile_fingerprint, begun="", complete=True, steps=(step,)
        )
        assert "firmware: passed, it runs." in words_of(replace(facts, pit=pit), how)


def test_the_page_shows_and_does_not_obey() -> None:
    """Markup in a profile's text is text; equal facts give equal bytes."""
    facts = example("tank_pair")
    about = facts.robot.robot.model_copy(update={"about": "<script>alert(1)</script>"})
    wrong = replace(facts, robot=facts.robot.model_copy(update={"robot": about}))
    page = plain_page(wrong, answers_of(wrong))
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert page == plain_page(wrong, answers_of(wrong))
    assert "http" not in page


def test_the_command_prints_and_writes(run: Run, tmp_path: Path) -> None:  # noqa: F811
    """Text without -o, a page with it, the same answers as JSON; the sheet itself still needs -o."""
    quick = ("--no-campaign", "--no-proof", "-q")
    printed = run("sheet", TANK, "--plain", *quick)
    assert printed.code == 0
    assert "Does it stop when the radio goes, and how fast?" in printed.out
    assert f"[{How.OPEN}]" in printed.out
    path = tmp_path / "plain.html"
    told = run("sheet", TANK, "--plain", *quick, "-o", path, "--json")
    assert "In plain words: tank pair" in path.read_text(encoding="utf-8")
    assert len(told.data["answers"]) >= 9
    assert json.loads(told.out)["answers"][0]["said"][0]["how"] == How.TOLD.value
    assert run("sheet", TANK, *quick).code == 2
    assert run("sheet", TANK, *quick, "-o", path).code == 2, "a page of the other kind is not written over"
