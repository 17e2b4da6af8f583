"""What the page does not say: cautions, the standing of a simulation, and whose rules decide."""

from collections.abc import Container, Iterator, Sequence

from mixer.sheet.blocks import Text
from mixer.sheet.facts import SheetFacts
from mixer.sheet.level import Level

STANDING = (
    "a simulation is no certificate; a proof is about the mix, not about wires, driver or receiver. No PL, "
    "SIL or conformity is claimed. The event's rules and local codes decide."
)
"""PL: performance level, ISO 13849-1. SIL: safety integrity level, IEC 61508."""
STOPPING = (
    "in IEC 60204-1, 9.2.2, 0 takes the power from the actuators at once, 1 stops under control, then "
    "takes it. A likeness only: this firmware commands zero, the main switch takes the power."
)
CARE = "Eye protection; weapon locked; batteries charged under watch."


def caution_text(facts: SheetFacts, level: Level) -> Text:
    """Warnings about this profile first, then what always holds."""
    items = [("Think again:", words) for words in _warnings(facts, level)]
    items += [("Standing:", f"{STANDING} {CARE}"), ("Stop category:", STOPPING)]
    items += [("Not on this page:", words) for words in _left_out(facts)]
    if level.cuts:
        items.append(("Cut to fit the page:", f"{'; '.join(_cuts(level))}."))
    return Text("Cautions", tuple(items))


def _cuts(level: Level) -> Iterator[str]:
    """Lists whose whole is in the same place, together."""
    for where in dict.fromkeys(cut.where for cut in level.cuts):
        lists = (f"{cut.what} {cut.shown} of {cut.whole}" for cut in level.cuts if cut.where == where)
        yield f"{', '.join(lists)}, all in {where}"


def _warnings(facts: SheetFacts, level: Level) -> tuple[str, ...]:
    words = _joined([item.words for item in facts.warnings], _names(facts))
    room = min(3 if level.brief else 6, level.minor)
    return level.cut(words, "kinds of warnings", facts.command("failsafe"), room)


def _names(facts: SheetFacts) -> frozenset[str]:
    robot = facts.robot
    return frozenset().union(robot.stick, robot.switch, robot.output, robot.contact, robot.actuator)


def _joined(sentences: Sequence[str], names: Container[str]) -> list[str]:
    """Sentences that differ in names and numbers only, as one: of all but the first what differs."""
    alike: dict[tuple[str, ...], list[str]] = {}
    for sentence in sentences:
        words = [(word, word.strip(",;:.")) for word in sentence.split()]
        own = [bare for _, bare in words if bare in names or any(c.isdigit() for c in bare)]
        frame = tuple("" if bare in own else word for word, bare in words)
        told = " / ".join(own) if frame in alike else sentence
        alike.setdefault(frame, []).append(told)
    return [
        first if not more else f"{first} Likewise {', '.join(more)}." for first, *more in alike.values()
    ]


def _left_out(facts: SheetFacts) -> Iterator[str]:
    if facts.proven is None:
        yield f"proof of the rules, see {facts.command('failsafe')}"
    if facts.simulated is None:
        yield f"simulated faults, see {facts.command('failsafe')}"
    if facts.size.left_out:
        first, more = facts.size.left_out[0], len(facts.size.left_out) - 1
        yield first if not more else f"{first}; {more} more in {facts.command('size')}"
