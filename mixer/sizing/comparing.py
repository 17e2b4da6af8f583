"""Motors side by side: what another motor brings to the same robot.

The other motor takes the place of one motor wherever that hangs; everything else stays, mass included.
"""

from dataclasses import dataclass

from mixer.sizing.report import SizeReport

COMPARED = ("top_speed", "sprint", "turn_rate", "push", "charge", "peak_a", "lowest_v")


@dataclass(frozen=True, slots=True)
class FigureChange:
    """One number before and after."""

    key: str
    label: str
    unit: str
    before: float | None
    after: float | None

    @property
    def percent(self) -> float | None:
        """Change in percent of the value before."""
        if self.before is None or self.after is None or self.before == 0:
            return None
        return 100 * (self.after - self.before) / abs(self.before)


def changes(before: SizeReport, after: SizeReport) -> tuple[FigureChange, ...]:
    """The numbers worth comparing: speeds, push, charge, peaks, each output's current and winding."""
    rows = []
    later = {finding.key: finding for finding in after.findings}
    for finding in before.findings:
        first = finding.key.split(".")[0]
        if finding.key not in COMPARED and first not in ("stall_a", "typical_a", "winding_c", "stall_s"):
            continue
        other = later.get(finding.key)
        after_it = other.value if other else None
        rows.append(FigureChange(finding.key, finding.label, finding.unit, finding.value, after_it))
    return tuple(rows)
