"""What `stickwright size` tells: each number with its limit and a plain verdict.

The match is played by the plant, either with a set cycle (see `drive_cycle`) at the profile's typical
command or with the duties of a recorded drive, repeated until the match is over. What lacks data is left
out, and the report says why.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain

from mixer.plant.sizing.finding import Finding, Verdict
from mixer.plant.sizing.measures import Measures
from mixer.plant.sizing.motion import lift_findings, mass_findings, motion_findings
from mixer.plant.sizing.power import battery_findings, current_findings, heat_findings
from mixer.plant.step.chassis import duties_for

from mixer.plant.from_profile import Prepared
from mixer.plant.parts.robot import Opponent, Robot
from mixer.plant.plant import Plant

MATCH_STEP_S = 0.01
CYCLE = (("ahead", 1.2), ("push", 0.6), ("back", 0.8), ("turn", 0.5), ("rest", 0.4))
"""The typical drive, in s: ahead, push another robot, back, turn on the spot, rest; then the same with the
other turn. An assumption, and without slew: a recorded drive knows better."""
CAUTIONS = (
    "Estimates for planning from data-sheet numbers: ten percent off is normal.",
    "A simulation is no certificate.",
    "Batteries and spinning parts are dangerous: charge with care, lift the wheels, lock weapons.",
    "The event's rules and local codes decide, not this page.",
)


@dataclass(frozen=True, slots=True)
class Stretch:
    """Duties, one an output, held for a time; `pushing` has the opponent at the nose meanwhile."""

    duties: Sequence[float]
    seconds: float
    pushing: bool = False


@dataclass(frozen=True, slots=True)
class SizeReport:
    """The whole page."""

    robot: str
    minutes: float
    duty: float
    findings: tuple[Finding, ...]
    left_out: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS

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
    prepared: Prepared,
    *,
    drive: Sequence[Stretch] | None = None,
    progress: Callable[[float], None] = lambda _: None,
) -> SizeReport:
    """Everything about one robot in one loadout.

    `drive` replaces the typical cycle by recorded duties. `progress` is told shares from 0 to 1.
    """
    robot = prepared.robot
    found: list[Finding] = list(mass_findings(prepared))
    if robot is not None:
        match, charge_left = play_match(robot, prepared, drive, progress)
        found += chain(
            motion_findings(prepared, robot),
            current_findings(robot, match),
            battery_findings(robot, match, prepared.minutes, charge_left),
            heat_findings(robot, match),
            lift_findings(robot),
        )
    name = robot.name if robot else ""
    return SizeReport(name, prepared.minutes, prepared.duty, tuple(found), prepared.left_out)


def drive_cycle(robot: Robot, duty: float) -> tuple[Stretch, ...]:
    """The typical drive at a share of full command; actuators go out with one turn, back with the other."""
    stretches = []
    for side in (1.0, -1.0):
        moves = {
            "ahead": duties_for(robot, 1, 0, 0),
            "push": duties_for(robot, 1, 0, 0),
            "back": duties_for(robot, -1, 0, 0),
            "turn": duties_for(robot, 0, 0, side),
            "rest": [0.0] * len(robot.outputs),
        }
        for actuator in robot.actuators:
            moves["turn"][actuator.output] = side
        for name, seconds in CYCLE:
            duties = [value * duty for value in moves[name]]
            stretches.append(Stretch(duties, seconds, pushing=name == "push"))
    return tuple(stretches)


def play_match(
    robot: Robot,
    prepared: Prepared,
    drive: Sequence[Stretch] | None = None,
    progress: Callable[[float], None] = lambda _: None,
) -> tuple[Measures, float]:
    """Play the whole match; what it did, and the share of charge left.

    The opponent is the profile's, else one of the robot's own mass with a grip of 0.8.
    """
    plant, measures = Plant(robot), Measures(robot)
    pushing = replace(robot, opponent=prepared.opponent or Opponent(robot.mass_kg, 0.8))
    whole = prepared.minutes * 60
    for stretch in _repeated(drive or drive_cycle(robot, prepared.duty)):
        plant.robot = pushing if stretch.pushing else robot
        steps = max(1, round(stretch.seconds / MATCH_STEP_S))
        for _ in range(steps):
            measures.add(
                plant.step_duties(stretch.duties, stretch.seconds / steps), stretch.seconds / steps
            )
        progress(min(plant.seconds / whole, 1.0))
        if plant.seconds >= whole:
            break
    return measures, plant.value("charge")


def _repeated(drive: Sequence[Stretch]) -> Iterator[Stretch]:
    while True:
        yield from drive
