"""No command goes on with a plan whose numbers could leave 32 bits on the board."""

from mixer.core.plan import Plan
from mixer.errors import Problem, ProfileError
from mixer.lower.graph.ranges import RangeReport, check_ranges


def checked_ranges(plan: Plan, where: str) -> RangeReport:
    """What value-range analysis says of a plan. Raises ProfileError naming every overflow."""
    report = check_ranges(plan)
    if not report.ok:
        remedy = "lower the numbers of those keys"
        found = [*map(str, report.overflows), *report.undefined]
        raise ProfileError([Problem(where, "", said, remedy) for said in found])
    return report
