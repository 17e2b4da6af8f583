"""One recorded drive, reviewed: the sinks that look at it, and everything they found."""

from dataclasses import dataclass

from mixer.core.plan import Plan
from mixer.live.robot.downstream import Downstream
from mixer.live.robot.robot import Build, LiveRobot
from mixer.profile.journal import Entry, entries
from mixer.review.moments import Moment, Place, Watched, moments_of
from mixer.review.pauses import Gap, Pause, PausesWatch
from mixer.review.sticks import SticksWatch, StickUse
from mixer.review.strain import HeldBack, Strained
from mixer.review.timeline import Timeline
from mixer.runs.clock import tick_time
from mixer.runs.measure.measures import Measures, Summary
from mixer.runs.measure.physics import PhysicsMeasures, PhysicsSummary
from mixer.runs.play.stretch import Sink

JOURNAL = 12
"""Lines of the profile's journal that are told with a drive."""


@dataclass(frozen=True, slots=True)
class DriveReview:
    """Everything that one log says. Times in s since its beginning."""

    log: str
    profile: str
    fingerprint: str
    """Of the plan it was played through."""
    recorded_with: str | None
    """The fingerprint that the log says it was recorded with; None where it says none."""
    drive: Summary
    """What `replay` says."""
    sticks: tuple[StickUse, ...]
    pauses: tuple[Pause, ...]
    waited_s: dict[str, float]
    """Not live, by what the robot waited for."""
    gaps: tuple[Gap, ...]
    physics: PhysicsSummary | None
    no_physics: str
    """Why there is none; empty where there is."""
    moments: tuple[Moment, ...]
    journal: tuple[Entry, ...] = ()
    """The last lines of the journal beside the profile."""

    @property
    def physics_words(self) -> str:
        """What the physics rests on, or why there is none."""
        if self.no_physics:
            return f"no physics: {self.no_physics}"
        return "physics: an estimate from data-sheet numbers, below end stops as the log has them"

    @property
    def live_s(self) -> float:
        """Time for which the robot was live."""
        return self.drive.guard.seconds["live"]

    def stops(self, *, by_hand: bool) -> int:
        """How often it stopped being live: disarmed by hand, or by a loss or a fault."""
        return sum(pause.was_live and pause.by_hand is by_hand for pause in self.pauses)


class Reviewer:
    """Looks at one robot while it plays one log."""

    def __init__(self, build: Build, robot: LiveRobot) -> None:
        """Add everything that looks to a robot whose firmware runs alone; the physics follows it."""
        plan, body = build.plan, build.prepared.robot
        self._plan: Plan = plan
        self._measures, self._sticks = Measures(plan), SticksWatch(plan)
        self._watched = Watched(
            PausesWatch(plan), HeldBack(plan), None if body is None else Strained(plan, body), body
        )
        self._physics = None if body is None else PhysicsMeasures(body, plan.tick_ms)
        self.timeline = Timeline(plan, body)
        for sink in (self._measures, self._sticks, self._watched.pauses, self._watched.held):
            robot.add(sink)
        below: list[Sink] = [self.timeline]
        if self._physics is not None and self._watched.strained is not None:
            below += [self._physics, self._watched.strained]
            robot.add(Downstream(build, below))
        else:
            robot.add(self.timeline)
        missing = "[battery]" if build.robot.battery is None else "an output with a motor"
        self._no_physics = "" if body is not None else f"the profile has no {missing.removeprefix('an ')}"

    def review(self, place: Place, fingerprint: str, recorded_with: str | None) -> DriveReview:
        """What has been seen, once the log is at its end."""
        time, pauses = tick_time(self._plan.tick_ms), self._watched.pauses
        return DriveReview(
            log=str(place.log),
            profile=str(place.profile),
            fingerprint=fingerprint,
            recorded_with=recorded_with,
            drive=self._measures.summary(),
            sticks=self._sticks.use(time),
            pauses=pauses.paused(time),
            waited_s=pauses.waited(time),
            gaps=pauses.gapped(time),
            physics=None if self._physics is None else self._physics.summary(),
            no_physics=self._no_physics,
            moments=moments_of(self._plan, self._watched, time, place),
            journal=entries(place.profile, JOURNAL),
        )
