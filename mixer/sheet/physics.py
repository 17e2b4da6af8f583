"""The physics in short: mass and speeds, the battery, and every output's currents against its driver."""

from collections.abc import Iterator, Sequence

from mixer.plant.at_zero import WORDS
from mixer.sheet.blocks import Bad, Cell, Column, Row, Table
from mixer.sheet.facts import SheetFacts
from mixer.sheet.level import Level
from mixer.sizing.finding import Finding, Verdict

STOPPING = {f"stopping.{word}": word for word in WORDS}
FIRST = ("mass", "top_speed", *STOPPING, "push", "charge")
"""Findings that are on every page, with what each lift raises, by key, in this order."""
NEXT = ("peak_a", "lowest_v")
"""Those that come after them, and may be cut."""
LABELS = {
    "top_speed": "top speed", "push": "standing push",
    "peak_a": "highest current", "lowest_v": "lowest volts",
}  # fmt: skip
NUMBER, LIMIT, SAID = 18, 18, 13


def physics_table(facts: SheetFacts, level: Level) -> Table | None:
    """What the data allow; None where there is nothing at all."""
    first = _rows(_first(facts.size.findings))
    rows = (*first, *_rows(_next(facts.size.findings)))
    if not rows:
        return None
    kept = level.cut(rows, "physics", facts.command("size"), max(min(level.minor, 16), len(first)))
    if not kept:
        return None
    return Table(
        "Physics",
        (Column("Quantity", 0), Column("Value", NUMBER, number=True), Column("Limit", LIMIT, number=True),
         Column("", SAID)),
        kept,
        (_pace(facts),),
    )  # fmt: skip


def _pace(facts: SheetFacts) -> str:
    """How the match is driven, and how long the battery lasts so."""
    lasts = "".join(f"the battery {f.words}; " for f in facts.size.findings if f.key == "charge")
    pace = f"{facts.size.minutes:g} min at {100 * facts.size.duty:g} % stick"
    return f"{pace}; {lasts}physics checked within 3 %."


def _first(findings: Sequence[Finding]) -> Iterator[Finding]:
    for key in FIRST:
        yield from (finding for finding in findings if finding.key == key)
    yield from (f for f in findings if f.key.startswith("lift."))


def _next(findings: Sequence[Finding]) -> Iterator[Finding]:
    """What is over its limit, the highest current, the lowest volts, the hottest winding."""
    apart = (*FIRST, *NEXT)
    others = (f for f in findings if f.key not in apart and not f.key.startswith(("winding_c.", "lift.")))
    yield from (f for f in others if f.verdict is Verdict.OVER and f.section != "currents")
    for key in NEXT:
        yield from (finding for finding in findings if finding.key == key)
    hottest = [f for f in findings if f.key.startswith("winding_c.") and f.value is not None]
    if hottest:
        yield max(hottest, key=lambda f: (f.verdict is Verdict.OVER, (f.value or 0) / (f.limit or 1e9)))


def _rows(found: Iterator[Finding]) -> list[Row]:
    """A line each; the ways to stand still share theirs, behind the speed."""
    findings = list(found)
    rows: list[Row] = [(_label(f), *_numbers(f)) for f in findings if f.key not in STOPPING]
    rows[2:2] = _stopping([f for f in findings if f.key in STOPPING])
    return rows


def _stopping(found: Sequence[Finding]) -> list[Row]:
    """The way to stand still, one number for each thing the controllers may do at zero."""
    words = "/".join(STOPPING[finding.key] for finding in found)
    ways = "/".join(f"{finding.value or 0.0:.2f}" for finding in found)
    return [(f"stops, {words}", f"{ways} m", "", "")] if found else []


def _label(finding: Finding) -> str:
    if finding.key.startswith("winding_c."):
        return "hottest winding"
    return LABELS.get(finding.key, finding.label)


def _numbers(finding: Finding) -> tuple[Cell, Cell, Cell]:
    return (
        _value(finding.value, finding.unit),
        _value(finding.limit, finding.unit),
        _verdict(finding.verdict),
    )


def _value(value: float | None, unit: str) -> str:
    return "" if value is None else f"{_short(value)} {unit}".strip()


def _short(value: float) -> str:
    """Three digits, without an exponent for anything a robot has."""
    return f"{value:.3g}" if abs(value) < 1000 else f"{value:.0f}"


def _verdict(verdict: Verdict) -> Cell:
    if verdict is Verdict.OVER:
        return Bad("OVER")
    return "" if verdict is Verdict.TOLD else verdict.value


def current_table(facts: SheetFacts, level: Level) -> Table | None:
    """Stall and typical current; outputs of one rating and verdict share a line, the most of each."""
    by_key = {finding.key: finding for finding in facts.size.findings if finding.section == "currents"}
    lines: dict[tuple[Cell, ...], tuple[list[str], list[float], list[float]]] = {}
    for output in facts.plan.outputs:
        stall, typical = by_key.get(f"stall_a.{output.name}"), by_key.get(f"typical_a.{output.name}")
        if stall is None or typical is None:
            continue
        worst = typical if typical.verdict is Verdict.OVER else stall
        alike = _value(stall.limit, "A"), _verdict(worst.verdict)
        names, stalls, amps = lines.setdefault(alike, ([], [], []))
        names.append(output.name)
        stalls.append(stall.value or 0.0)
        amps.append(typical.value or 0.0)
    if not lines:
        return None
    rows = [
        (_together(names), _value(max(stalls), "A"), _value(max(amps), "A"), rated, said)
        for (rated, said), (names, stalls, amps) in lines.items()
    ]
    kept = level.cut(rows, "currents", facts.command("size"), level.minor)
    if not kept:
        return None
    return Table(
        "Currents",
        (Column("Output", 0), Column("Stalled", 15, number=True), Column("Typical", 15, number=True),
         Column("Rated", 14, number=True), Column("", SAID)),
        kept,
    )  # fmt: skip


def _together(names: list[str]) -> str:
    more = len(names) - 1
    return names[0] if not more else f"{names[0]} and {more} alike"
