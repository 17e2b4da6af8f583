"""The questions that are asked at every event, answered from this robot's results and from nothing else.

Each sentence says how it was found out. What nobody has tried is told as that, never as a yes.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from mixer.failsafe.campaign.results import FaultResult, FaultVerdict
from mixer.failsafe.proof.theorems import ProofOutcome
from mixer.link.rehearse.report import Outcome
from mixer.profile.schema.outputs import Actuator
from mixer.sheet.facts import SheetFacts
from mixer.sheet.physics import STOPPING
from mixer.sizing.finding import Verdict


class How(StrEnum):
    """How something was found out."""

    PROVEN = "proven for all inputs and states"
    SIMULATED = "simulated"
    MEASURED = "measured on the robot"
    WORKED_OUT = "worked out from the profile"
    TOLD = "told by the builder"
    TO_DO = "to be done by hand"
    OPEN = "not found out"


@dataclass(frozen=True, slots=True)
class Said:
    """One sentence of an answer."""

    words: str
    how: How
    bad: bool = False
    """Whether it speaks against the robot."""


@dataclass(frozen=True, slots=True)
class Answer:
    """A question with its answer, a sentence at a time."""

    question: str
    said: tuple[Said, ...]


def answers_of(facts: SheetFacts) -> tuple[Answer, ...]:
    """Every question that this robot has an answer to, or should have one."""
    asked = (
        ("What is it, and what does it weigh?", _itself(facts)),
        ("Does it stop when the radio goes, and how fast?", _radio(facts)),
        ("What if the receiver goes on sending by itself?", _receiver(facts)),
        ("What if one wire comes off?", _wire(facts)),
        ("Who can start it, and how?", _starting(facts)),
        ("How is it stopped by hand?", _by_hand(facts)),
        ("How fast is it, and how far does it roll?", _speed(facts)),
        ("What stops its actuators at their ends?", _ends(facts)),
        ("How long does it run?", _battery(facts)),
        ("Is that the firmware on the board?", _firmware(facts)),
        ("What can no firmware see?", _unseen(facts)),
    )
    return tuple(Answer(question, found) for question, said in asked if (found := tuple(said)))


def _itself(facts: SheetFacts) -> Iterator[Said]:
    robot = facts.robot
    about = f": {robot.robot.about.rstrip('.')}" if robot.robot.about else ""
    motors = sum(output.motors for output in robot.output.values())
    yield Said(
        f"{robot.robot.name}{about}. {motors:g} motors on {len(robot.output)} outputs, "
        f"{len(robot.actuator) or 'no'} actuators.",
        How.TOLD,
    )
    weighed = _step(facts, "weight")
    if weighed is not None:
        yield weighed
    chassis = robot.chassis
    if chassis is None:
        yield Said("Its mass is not in the profile.", How.OPEN)
        return
    limit = chassis.class_limit_kg
    allowed = "" if limit is None else f"; its class allows {limit:g} kg"
    over = limit is not None and chassis.mass_kg > limit
    yield Said(f"{chassis.mass_kg:g} kg ready to drive{allowed}.", How.TOLD, bad=over)


def _radio(facts: SheetFacts) -> Iterator[Said]:
    stop = facts.stop
    yield _rule(
        facts,
        "stops-on-loss",
        "Yes: every output is told zero {within}, counted from the tick that reads the last good pulse.",
        "It does not always stop when the radio goes.",
    )
    kept = "kept" if stop.kept else "NOT kept"
    words = (
        f"{stop.promised_ms:g} ms are promised, in the worst case it takes {stop.worst_ms:g} ms: {kept}."
    )
    yield Said(words, How.WORKED_OUT, bad=not stop.kept)
    gone = _fault(facts, "all-lost")
    if gone is not None and gone.rolled_m:
        ways = zip(facts.simulated.rolls if facts.simulated else (), gone.rolled_m, strict=False)
        rolled = ", ".join(f"{way:.2f} m {word}" for word, way in ways)
        tried = f"in {gone.scenarios} tries from all it may be doing"
        yield Said(f"From the loss on it rolled {rolled} at most, {tried}.", How.SIMULATED)
    yield from _steps(facts, ("off while driving", "off at rest", "loss while armed"))


def _receiver(facts: SheetFacts) -> Iterator[Said]:
    found = facts.rehearsed
    if found is None or found.kind is None:
        words = "What this receiver does when its transmitter goes off has not been tried: rehearse it."
        yield Said(words, How.OPEN)
    else:
        passed = "the rehearsal passed" if found.passed else "the rehearsal did NOT pass"
        yield Said(
            f"With its transmitter off, this receiver: {found.kind}; {passed}.",
            How.MEASURED,
            bad=not found.passed,
        )
    for key in ("repeats-last", "preset"):
        fault = _fault(facts, key)
        if fault is not None and fault.verdict is FaultVerdict.UNKNOWABLE:
            words = f"A receiver that does this is not noticed: {fault.words.rstrip('.')}."
            yield Said(f"{words} {fault.advice}", How.SIMULATED)


def _wire(facts: SheetFacts) -> Iterator[Said]:
    yield _rule(
        facts,
        "one-bad-channel",
        "A receiver wire: any single channel that goes bad stops everything {within}.",
        "A receiver wire that comes off does not always stop it.",
    )
    ends = (stop for a in facts.robot.actuator.values() for stop in (a.out_stop, a.in_stop))
    stops = [name for name in dict.fromkeys(ends) if name is not None]
    safe = [name for name in stops if facts.robot.contact[name].closed_reads == 1]
    others = [name for name in stops if name not in safe]
    if safe:
        words = f"End-stop wires of {', '.join(safe)} read like a reached end where inputs are pulled up:"
        yield Said(f"{words} that way is blocked.", How.WORKED_OUT)
    if others:
        words = f"An end-stop wire that comes off is not noticed: {', '.join(others)}."
        yield Said(words, How.WORKED_OUT, bad=True)
    dead = _fault(facts, "motor-gone")
    if dead is not None:
        noticed = "is not noticed" if dead.verdict is FaultVerdict.UNKNOWABLE else dead.verdict.value
        words = f"A motor wire that comes off {noticed}: the other motors go on as the sticks say."
        yield Said(f"{words} {dead.advice}", How.SIMULATED)


def _starting(facts: SheetFacts) -> Iterator[Said]:
    guard = facts.robot.guard
    if guard.arm is None:
        words = f"sticks at rest for {guard.arm_hold_ms:g} ms start it."
        yield Said(f"Whoever holds a transmitter it hears: {words}", How.WORKED_OUT, bad=True)
    else:
        yield Said(
            f"Whoever holds a transmitter it hears: {guard.arm.switch} seen away from {guard.arm.position} "
            f"for {guard.arm_off_ms:g} ms, then put to {guard.arm.position} with all sticks at rest for "
            f"{guard.arm_hold_ms:g} ms.",
            How.WORKED_OUT,
        )
        yield _rule(facts, "hand-arms", "No spike and no burst of noise arms it.", "Noise can arm it.")
    yield _rule(
        facts,
        "no-self-start",
        "It never starts by itself: not at power-up, not after a reset, not when the radio returns.",
        "It can start by itself.",
    )
    if guard.after_loss == "resume":
        yield Said("After a loss it goes on once the sticks are let go.", How.WORKED_OUT, bad=True)
    yield from _steps(facts, ("power-up with transmitter off",))


def _by_hand(facts: SheetFacts) -> Iterator[Said]:
    arm = facts.robot.guard.arm
    if arm is not None:
        yield _rule(
            facts,
            "disarming-stops",
            f"{arm.switch} away from {arm.position} stops every output {{within}}.",
            "The arm switch does not always stop it.",
        )
    yield from _steps(facts, ("disarm",))
    yield Said("Beyond that the main switch, which takes power from every motor: try it.", How.TO_DO)


def _speed(facts: SheetFacts) -> Iterator[Said]:
    top = _finding(facts, "top_speed")
    if top is None:
        yield Said("The profile says too little for a speed.", How.OPEN)
        return
    yield Said(f"{top:.2f} m/s, which is {top * 3.6:.1f} km/h, on a full battery.", How.SIMULATED)
    ways = [
        f"{finding.value:.2f} m {finding.key.partition('.')[2]}"
        for finding in facts.size.findings
        if finding.key in STOPPING and finding.value is not None
    ]
    if ways:
        yield Said(f"Sticks let go at that speed, it rolls {', '.join(ways)}.", How.SIMULATED)


def _ends(facts: SheetFacts) -> Iterator[Said]:
    robot = facts.robot
    if not robot.actuator:
        return
    if any(actuator.out_stop or actuator.in_stop for actuator in robot.actuator.values()):
        yield _rule(
            facts,
            "closed-stop",
            "End-stop switches: no output ever drives into one that is closed.",
            "An output can drive into a closed end stop.",
        )
    for name, actuator in robot.actuator.items():
        if not (actuator.out_stop or actuator.in_stop):
            yield Said(f"The board sees no end stop of {name}: {_unseen_end(actuator)}.", How.WORKED_OUT)
    yield from (found for name in robot.contact if (found := _step(facts, f"end stop {name}")) is not None)


def _unseen_end(actuator: Actuator) -> str:
    """What else ends its way."""
    by = ["switches in the motor's own circuit"] if actuator.stops_in_circuit else []
    if actuator.full_travel_ms is not None:
        longest = actuator.full_travel_ms * actuator.travel_margin / 1000
        by.append(f"after {longest:g} s one way the firmware stops driving it")
    return "; ".join(by) or "the driver"


def _battery(facts: SheetFacts) -> Iterator[Said]:
    for finding in facts.size.findings:
        if finding.key == "charge" and finding.value is not None:
            words = f"A match of {facts.size.minutes:g} min takes {finding.value:.0f} % of the charge"
            over = finding.verdict is Verdict.OVER
            yield Said(f"{words}: {finding.words}.", How.SIMULATED, bad=over)


def _firmware(facts: SheetFacts) -> Iterator[Said]:
    prints = f"This page is about {facts.profile_fingerprint}"
    if facts.pit is not None and facts.pit.fingerprint != facts.profile_fingerprint:
        other = f"The pit check of {facts.pit.begun} is of {facts.pit.fingerprint}, another tuning"
        yield Said(f"{other}: nothing of it counts here.", How.WORKED_OUT, bad=True)
    found = _step(facts, "firmware")
    if found is None:
        yield Said(f"{prints}; what the board runs has not been asked.", How.OPEN)
    else:
        yield Said(f"{prints}.", How.WORKED_OUT)
        yield found


def _unseen(facts: SheetFacts) -> Iterator[Said]:
    if facts.simulated is None:
        yield Said("Faults have not been simulated for this page.", How.OPEN)
        return
    faults = facts.simulated.faults
    broken = [fault for fault in faults if fault.verdict is FaultVerdict.BROKEN]
    for fault in broken:
        yield Said(f"It breaks its rules under this: {fault.words}.", How.SIMULATED, bad=True)
    unseen = [fault for fault in faults if fault.verdict is FaultVerdict.UNKNOWABLE]
    kinds = dict.fromkeys(fault.advice for fault in unseen)
    count = f"{len(unseen)} of the {len(faults)} faults tried reach the board looking like a healthy robot"
    yield Said(f"{count}. What a person does about them:", How.SIMULATED)
    for advice in kinds:
        yield Said(advice, How.TO_DO)


def _rule(facts: SheetFacts, key: str, yes: str, no: str) -> Said:
    """What is proven of a rule; anything but proven is no yes."""
    rule = next((rule for rule in (facts.proven.rules if facts.proven else ()) if rule.rule == key), None)
    if rule is None:
        words = yes.removeprefix("Yes: ").format(within="in time")
        return Said(f"Not proven for this page: {words}", How.OPEN)
    if rule.outcome is ProofOutcome.PROVEN:
        within = f"within {rule.bound_ms:g} ms" if rule.bound_ms else "at once"
        return Said(yes.format(within=within), How.PROVEN)
    if rule.outcome is ProofOutcome.COUNTER_EXAMPLE:
        return Said(f"NO. {no} A run that shows it was found.", How.SIMULATED, bad=True)
    return Said(f"It could neither be proven nor broken: {rule.words}", How.OPEN, bad=True)


def _fault(facts: SheetFacts, kind: str) -> FaultResult | None:
    """The first fault of a kind, such as ``motor-gone``."""
    faults: Sequence[FaultResult] = facts.simulated.faults if facts.simulated else ()
    return next((fault for fault in faults if fault.key.partition(".")[0] == kind), None)


def _finding(facts: SheetFacts, key: str) -> float | None:
    return next((finding.value for finding in facts.size.findings if finding.key == key), None)


def _steps(facts: SheetFacts, names: Sequence[str]) -> Iterator[Said]:
    yield from (found for name in names if (found := _step(facts, name)) is not None)


def _step(facts: SheetFacts, name: str) -> Said | None:
    """What the pit check of this very tuning, else the rehearsal, found in a step."""
    pit = facts.pit if facts.pit and facts.pit.fingerprint == facts.profile_fingerprint else None
    for step in pit.steps if pit else ():
        if step.step == name and step.outcome in (Outcome.PASSED, Outcome.FAILED):
            failed = step.outcome is Outcome.FAILED
            at = f" ({step.at})" if step.at else ""
            how = How.TOLD if step.told else How.MEASURED
            return Said(f"{step.step}: {step.outcome}, {step.said}{at}.", how, bad=failed)
    for verdict in facts.rehearsed.verdicts if facts.rehearsed else ():
        if verdict.step == name and verdict.outcome in (Outcome.PASSED, Outcome.FAILED):
            failed = verdict.outcome is Outcome.FAILED
            return Said(f"{verdict.step}: {verdict.outcome}, {verdict.said}.", How.MEASURED, bad=failed)
    return None
