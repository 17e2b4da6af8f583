"""Everything that is known about one robot's fail-safe, as one frozen value for screen, JSON and sheet."""

from dataclasses import dataclass
from typing import Annotated

from pydantic import Field, computed_field

from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.core.rest import arming
from mixer.core.tick import flat_tick
from mixer.failsafe.campaign.results import HIDDEN, CampaignResult
from mixer.failsafe.campaign.run import DEFAULT_SCENARIOS, DEFAULT_SEED, Progress, Request, run_campaign
from mixer.failsafe.proof.exact import Exactness, exactness
from mixer.failsafe.proof.hunt import reaching_runs
from mixer.failsafe.proof.theorems import ProofOutcome, ProofResult, prove_rules
from mixer.failsafe.report.stop import Stop, stop_of
from mixer.failsafe.report.warnings import Warned, warnings_of
from mixer.laws.memory import start_memory
from mixer.laws.watch import watch
from mixer.live.judge.watched import watched_graph
from mixer.live.robot.robot import Build, build_of
from mixer.live.robot.travel import travel_times
from mixer.profile.profile import Profile

CLAIM = (
    "Stop categories are words of IEC 60204-1 (9.2.2) for what a stop does; this is a simulation and a "
    "proof about the mix, no certified safety function. The event's rules and local codes decide."
)

CAUTIONS = (
    "Trying any of it on the robot: wheels off the ground, weapon locked, eyes protected, battery within "
    "reach to unplug and never charged unwatched, nobody's fingers near."
)


@dataclass(frozen=True, slots=True)
class Options:
    """What to run for a report."""

    scenarios: int = DEFAULT_SCENARIOS
    seed: int = DEFAULT_SEED
    engine: str = "numpy"
    proof: bool = True
    jobs: int = 0


@dataclass(frozen=True, slots=True)
class FailsafeReport:
    """One robot in one loadout."""

    robot: str
    loadout: str | None
    fingerprint: str
    stop: Stop
    warnings: tuple[Warned, ...]
    proof: ProofResult | None
    exact: Exactness
    campaign: CampaignResult
    unreached: Annotated[tuple[str, ...], HIDDEN]
    """Rules that neither the campaign nor any other run from power-up had something to say about."""
    goes_live: Annotated[bool, HIDDEN]
    """Whether arming with hands off brings it to life at all, as a watcher sees it."""
    left_out: Annotated[tuple[str, ...], Field(serialization_alias="physics_left_out")]
    """What the physics had no data for."""
    claim: str = CLAIM
    cautions: str = CAUTIONS

    @computed_field
    @property
    def broken(self) -> bool:
        """Whether a rule broke, a rule has a counter-example, or the promise is not kept."""
        return self.campaign.broken or not self.stop.kept or (self.proof is not None and self.proof.broken)

    @computed_field
    @property
    def empty(self) -> tuple[str, ...]:
        """What would be green for nothing, each in a sentence; none of it may pass for fine."""
        found = [] if self.goes_live else ["hands off and the arm switch never bring this robot to life"]
        found += [f"no run had anything to say about {rule}" for rule in self.unreached]
        found += [f"nothing was moving when {fault} set in" for fault in self.campaign.idle]
        return tuple(found)

    @computed_field
    @property
    def unsettled(self) -> tuple[str, ...]:
        """Rules neither proven nor broken, by proof or campaign, and an arithmetic that is off."""
        inexact = () if self.exact.holds else ("exact",)
        if self.proof is None:
            return inexact
        broken = self.campaign.broken_rules
        open_ones = (item.rule for item in self.proof.rules if item.outcome is ProofOutcome.NOT_SETTLED)
        return (*(rule for rule in open_ones if rule not in broken), *inexact)

    @computed_field
    @property
    def against(self) -> tuple[str, ...]:
        """What keeps the whole from being fine, a few words each; empty where nothing does."""
        told = {
            "something is BROKEN": self.campaign.broken or (self.proof is not None and self.proof.broken),
            "the promise is NOT KEPT": not self.stop.kept,
            f"not settled: {', '.join(self.unsettled)}": bool(self.unsettled),
            f"EMPTY, {len(self.empty)} times": bool(self.empty),
        }
        return tuple(words for words, holds in told.items() if holds)


def request_of(build: Build, options: Options) -> Request:
    """The campaign of one robot, with its physics where the profile has the data."""
    body = build.prepared.robot
    return Request(
        plan=build.plan,
        robot=body if body is not None and body.wheels else None,
        unsaid_at_zero=build.prepared.unsaid_at_zero,
        travel_ms=travel_times(build.plan, build.robot),
        frame_ms=build.robot.receiver.frame_ms,
        scenarios=options.scenarios,
        seed=options.seed,
        engine=options.engine,
        jobs=options.jobs,
    )


def report_of(
    profile: Profile, loadout: str | None, options: Options, progress: Progress | None = None
) -> FailsafeReport:
    """Prove and simulate one loadout. Raises MissingToolError without the solver or the compiler."""
    build = build_of(profile, loadout)
    plan, robot = build.plan, build.robot
    proof = prove_rules(plan) if options.proof else None
    campaign = run_campaign(request_of(build, options), progress)
    return FailsafeReport(
        robot=robot.robot.name,
        loadout=loadout,
        fingerprint=profile.fingerprint(loadout),
        stop=stop_of(profile, loadout),
        warnings=warnings_of(plan, robot),
        proof=proof,
        exact=exactness(plan),
        campaign=campaign,
        unreached=_unreached(plan, campaign),
        goes_live=_goes_live(plan),
        left_out=build.prepared.left_out,
    )


def _goes_live(plan: Plan) -> bool:
    """Live after all, and what was sent for hands off is so for the watcher: neutral, upright, all open."""
    layout, state, memory = layout_of(plan), list(layout_of(plan).start), start_memory(plan)
    for row in arming(plan):
        signals, state = flat_tick(plan, row, state)
        memory, seen = watch(plan, memory, layout.inputs_of(row), layout.signals_of(signals))
    return seen.live and seen.neutral and not (seen.heard.flipped or any(seen.heard.closed))


def _unreached(plan: Plan, campaign: CampaignResult) -> tuple[str, ...]:
    """A small campaign may miss what a run from power-up reaches all the same."""
    if not campaign.unreached:
        return ()
    reached = reaching_runs(watched_graph(plan))
    return tuple(rule for rule in campaign.unreached if rule not in reached)
