"""The shapes, drawn: stick to the right, command upwards, as the firmware's own integers give them."""

from dataclasses import dataclass

from mixer.core.ops import ONE
from mixer.core.plan import ShapePlan
from mixer.core.shape import shape
from mixer.markup import Markup, element, foreign, join
from mixer.profile.integers.usage import used_sticks
from mixer.profile.schema.channels import LINEAR
from mixer.sheet.blocks import Text, heading_mm
from mixer.sheet.facts import SheetFacts
from mixer.sheet.level import Level
from mixer.sheet.typography import Type

SIDE_MM = 15.5
GAP_MM = 2.0
ROW = 5
"""Figures that stand side by side: fewer would make the page no shorter."""
STEPS = 48
VIEW = 100


@dataclass(frozen=True, slots=True)
class Curve:
    """One shape with its numbers."""

    name: str
    plan: ShapePlan

    @property
    def numbers(self) -> tuple[str, ...]:
        """Deadband, expo and rate in words."""
        band, bend, most = (number / ONE for number in (self.plan.band, self.plan.expo, self.plan.rate))
        return f"band {band:.0%}", f"expo {bend:.2g}", f"rate {most:.0%}"


@dataclass(frozen=True, slots=True)
class Curves:
    """All shapes side by side."""

    title: str
    curves: tuple[Curve, ...]

    def height_mm(self, width_mm: float, type_: Type) -> float:
        """As many figures in a row as the width takes."""
        across = max(1, int((width_mm + GAP_MM) // (SIDE_MM + GAP_MM)))
        high = 0.0
        for first in range(0, len(self.curves), across):
            names = [type_.lines(c.name, SIDE_MM, bold=True) for c in self.curves[first : first + across]]
            high += SIDE_MM + (max(names) + 3) * type_.line_mm + (GAP_MM if first else 0)
        return heading_mm(type_) + high

    def html(self) -> Markup:
        """A figure for each shape."""
        figures = (_figure(number, curve) for number, curve in enumerate(self.curves))
        return element("section", element("h2", self.title), element("div", *figures, class_="curves"))


def shape_curves(facts: SheetFacts, level: Level) -> Curves | Text | None:
    """Every shape that a used stick has, drawn or as its numbers; None without room for any."""
    curves = _curves(facts)
    where = f"the profile {facts.file}"
    if level.coded:
        told = (f"{c.name}: {', '.join(c.numbers)}" for c in level.cut(curves, "shapes", where, level.most))
        return Text("Shapes", (("", f"{'; '.join(told)}."),))
    room = min(max(level.minor, ROW), 8) if level.minor else 0
    kept = level.cut(curves, "shapes", where, room)
    return Curves("Shapes", kept) if kept else None


def _curves(facts: SheetFacts) -> list[Curve]:
    """In the order in which they are met."""
    found: dict[str, ShapePlan] = {}
    for name in used_sticks(facts.robot):
        choice = facts.robot.stick[name].shape
        plans = next(stick.shapes for stick in facts.plan.sticks if stick.name == name)
        if isinstance(choice, str):
            found.setdefault(choice, plans[0])
            continue
        positions = facts.robot.switch[choice["switch"]].positions
        for position, plan in zip(positions, plans, strict=True):
            found.setdefault(choice.get(position, LINEAR), plan)
    return [Curve(name, plan) for name, plan in found.items()]


def _figure(number: int, curve: Curve) -> Markup:
    title, words = f"shape-{number}", f"shape-{number}-words"
    said = f"Command over stick, both from −100 to +100 %: {', '.join(curve.numbers)}."
    drawing = element(
        "svg",
        element("title", f"Shape {curve.name}", id=title),
        element("desc", said, id=words),
        element("rect", x=-VIEW, y=-VIEW, width=2 * VIEW, height=2 * VIEW, class_="frame"),
        element("path", d=f"M{-VIEW} 0H{VIEW}M0 {-VIEW}V{VIEW}", class_="axis"),
        element("path", d=f"M{-VIEW} {VIEW}L{VIEW} {-VIEW}", class_="straight"),
        element("path", d=_path(curve.plan), class_="curve"),
        viewBox=f"{-VIEW - 3} {-VIEW - 3} {2 * VIEW + 6} {2 * VIEW + 6}",
        role="img",
        aria_labelledby=f"{title} {words}",
    )
    lines = join(*(element("span", line) for line in curve.numbers))
    return element("figure", drawing, element("figcaption", element("b", foreign(curve.name)), lines))


def _path(plan: ShapePlan) -> str:
    """Points of the curve; y grows downwards in SVG."""
    points = []
    for step in range(-STEPS, STEPS + 1):
        stick = step * ONE // STEPS
        command = int(shape(plan, stick).rated)
        points.append(f"{VIEW * stick / ONE:.1f} {-VIEW * command / ONE:.1f}")
    return "M" + "L".join(points)
