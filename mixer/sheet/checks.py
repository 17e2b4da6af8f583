"""What to do by hand at the event: numbered checks with a box to tick, and room for signatures."""

from collections.abc import Iterator
from dataclasses import dataclass

from mixer.markup import Markup, element, foreign, join
from mixer.profile.schema.root import Robot
from mixer.sheet.blocks import heading_mm
from mixer.sheet.facts import SheetFacts
from mixer.sheet.typography import Type

BOX_MM = 9.5
"""From the edge of a check to its words: the box and the number."""
GAP_MM = 5.0
SIGN_MM = 7.0
"""Height of a line to write on, so that a hand has room."""
SIGNATURES = ("Event and date", "Builder", "Signature", "Inspector", "Signature")


@dataclass(frozen=True, slots=True)
class Check:
    """One thing to do."""

    key: str
    words: str


@dataclass(frozen=True, slots=True)
class CheckList:
    """All checks in two columns, and the lines to sign."""

    checks: tuple[Check, ...]

    def number(self, key: str) -> int:
        """The number a check has on this page, 0 where it is not there."""
        return next((n for n, check in enumerate(self.checks, start=1) if check.key == key), 0)

    def height_mm(self, width_mm: float, type_: Type) -> float:
        """Rows as the grid makes them: two checks side by side, the higher one counts."""
        room = (width_mm - 2 * 2 - GAP_MM) / 2 - BOX_MM
        lines = [type_.lines(check.words, room) for check in self.checks]
        rows = [max(lines[k : k + 2]) for k in range(0, len(lines), 2)]
        grid = sum(row * type_.line_mm + 2 * type_.pad_mm + 0.2 for row in rows)
        return heading_mm(type_) + grid + SIGN_MM + type_.line_mm + 2.0

    def html(self) -> Markup:
        """A numbered list in a frame."""
        items = (element("li", foreign(check.words)) for check in self.checks)
        lines = join(*(element("div", element("span", words)) for words in SIGNATURES))
        return element(
            "section",
            element("h2", "To be checked by hand at the event, wheels off the ground, weapon locked"),
            element("ol", *items),
            element("div", lines, class_="sign"),
            class_="checks",
        )


def checks_for(facts: SheetFacts) -> CheckList:
    """The checks this robot needs."""
    return CheckList(checks_of(facts.robot, facts.profile_fingerprint))


def checks_of(robot: Robot, fingerprint: str) -> tuple[Check, ...]:
    """The same for whoever goes through them with a board and no page."""
    return tuple(Check(key, words) for key, words in _checks(robot, fingerprint))


def _checks(robot: Robot, fingerprint: str) -> Iterator[tuple[str, str]]:
    yield "code", f"The board's code says {fingerprint} in its header."
    yield "switch", "Main switch in reach takes power from every motor."
    yield "directions", "Every stick moves its outputs the right way."
    yield "off", "Transmitter off, at rest and driving: stops, _____ ms."
    yield "again", f"Transmitter on again: nothing starts; {_again(robot)}."
    yield "power-up", f"Power-up with {_pushed(robot)}: nothing moves."
    if robot.guard.arm is not None:
        yield (
            "arm",
            f"{robot.guard.arm.switch} away from {robot.guard.arm.position} while driving: all stops.",
        )
    if any(item.out_stop or item.in_stop for item in robot.actuator.values()):
        yield "stops", "Each end stop, by hand, stops its own way only."
    elif robot.actuator:
        yield "stops", "Each actuator driven to both ends stops there."
    if robot.flip is not None:
        yield "flip", f"Turned over: {', '.join(robot.flip.reverses)} still drives the same way."
    yield "tick", f"Tick measured on the board: _____ ms (plan {robot.robot.tick_ms} ms)."
    if robot.chassis is not None and robot.chassis.class_limit_kg is not None:
        limit = robot.chassis.class_limit_kg
        yield "mass", f"Weighed ready to drive: _____ kg (limit {limit:g} kg)."


def _again(robot: Robot) -> str:
    if robot.guard.after_loss == "re-arm" and robot.guard.arm is not None:
        return "re-arm first"
    return "neutral first"


def _pushed(robot: Robot) -> str:
    return "a stick pushed" if robot.guard.arm is None else f"{robot.guard.arm.switch} on, stick pushed"
