"""What `stickwright size` tells: each number with its limit and a plain verdict.

Every number comes from runs of the live robot with its own firmware (see `trial`). What lacks data is left
out, and the report says why.
"""

from collections.abc import Callable
from dataclasses import dataclass

from mixer.live.robot.robot import Build
from mixer.sizing.drift import trim_findings
from mixer.sizing.drive import drive_findings, fastest
from mixer.sizing.finding import Finding, Verdict
from mixer.sizing.mass import mass_findings
from mixer.sizing.match import Cycle, pattern, play_match, shares_in_words
from mixer.sizing.power import battery_findings, current_findings, heat_findings, stalled
from mixer.sizing.travel import lift_findings
from mixer.sizing.trial import Trial

CHECKED = (
    "Checked: the physics against a second solution of its equations, within 3 %, and published values.",
    "Data sheets, floors and opponents are less exact than that.",
    "A simulation is no certificate.",
    "Batteries and spinning parts are dangerous: charge with care, lift the wheels, lock weapons.",
    "The event's rules and local codes decide, not this page.",
)


@dataclass(frozen=True, slots=True)
class SizeReport:
    """The whole page."""

    robot: str
    minutes: float
    duty: float
    findings: tuple[Finding, ...]
    assumed: tuple[str, ...]
    """How the match is taken to be driven."""
    left_out: tuple[str, ...]
    cautions: tuple[str, ...] = CHECKED

    @property
    def worst(self) -> Verdict:
        """OVER, else TIGHT, else FINE."""
        verdicts = {finding.verdict for finding in self.findings}
        order = (Verdict.OVER, Verdict.TIGHT)
        return next((verdict for verdict in order if verdict in verdicts), Verdict.FINE)

    def find(self, key: str) -> Finding:
        """The finding of a key. Raises KeyError where it was left out."""
        for finding in self.findings:
            if finding.key == key:
                return finding
        raise KeyError(key)


def size(
    build: Build,
    *,
    drive: Cycle | None = None,
    trims: bool = False,
    progress: Callable[[float], None] = lambda _: None,
) -> SizeReport:
    """Everything about one robot in one loadout.

    `drive` replaces the pattern of the match by a recorded drive; `trims` adds what makes a robot that
    pulls to a side run straight. `progress` is told shares from 0 to 1.
    """
    prepared = build.prepared
    robot = prepared.robot
    found: list[Finding] = list(mass_findings(prepared))
    assumed: tuple[str, ...] = ()
    if robot is not None:
        trial = Trial(build)
        if not trial.goes_live:
            words = "the robot never goes live by arming: nothing below it moves"
            found.append(Finding("drive", "live", "goes live", None, "", None, Verdict.OVER, words))
        if any(robot.motors_at(wheel) for wheel in robot.wheels):
            found += drive_findings(trial, prepared)
        found += trim_findings(build) if trims else ()
        pace = fastest(trial)
        stalls = stalled(trial, pace)
        found += lift_findings(trial, prepared)
        assumed = () if drive else tuple(shares_in_words(prepared, robot, pace))
        trial.begin(pace)
        match = play_match(trial, drive or pattern(prepared), prepared.minutes, progress)
        found += current_findings(robot, stalls, match)
        found += battery_findings(robot, stalls, match, prepared.minutes)
        found += heat_findings(robot, stalls, match)
    name = build.plan.name
    return SizeReport(name, prepared.minutes, prepared.duty, tuple(found), assumed, prepared.left_out)
