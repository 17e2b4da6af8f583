"""What a fail-safe report costs: the campaign on each engine, the proof, a tick of the live monitor.

    python tests/bench/bench_failsafe.py [SCENARIOS]

To be reached on two quiet cores with 20,000 scenarios: under 15 s in numpy, under 6 s native, under
250 MB; all rules of a robot proven in under 10 s. Ratios are to bare ticks of the firmware in the same run.
"""

import resource
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

import numpy as np

from mixer.core.layout import layout_of
from mixer.failsafe.campaign.run import run_campaign
from mixer.failsafe.proof.theorems import prove_rules
from mixer.failsafe.report.account import Options, request_of
from mixer.live.robot.robot import build_of
from mixer.lower.run.arrays import ArrayTick
from mixer.profile.profile import Profile, load_profile
from tests.laws.monitor import Monitor

PROFILES = Path(__file__).parents[2] / "profiles"
ROBOTS = ("sample_carrier", "long_crawler", "holonomic_trio", "tank_pair")


def bare_tick(profile: Profile) -> float:
    """Seconds a lane and tick of the firmware alone in numpy."""
    plan, lanes, ticks = profile.plan(), 2500, 100
    boards = ArrayTick(plan, lanes, ())
    inputs = np.full((len(layout_of(plan).inputs), lanes), 1500, np.int32)
    start = time.process_time()
    for _ in range(ticks):
        boards.step(inputs)
    return (time.process_time() - start) / lanes / ticks


def campaign(profile: Profile, engine: str, scenarios: int) -> None:
    """One whole campaign, and how many bare ticks each of its lane-ticks costs."""
    request = request_of(build_of(profile), Options(scenarios=scenarios, engine=engine))
    wall = time.monotonic()
    result = run_campaign(request)
    wall = time.monotonic() - wall
    usage = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    most = max(item.ru_maxrss for item in usage) / 1024
    ticks = result.scenarios * result.seconds * 1000 / request.plan.tick_ms
    ratio = wall / ticks / bare_tick(profile)
    say(f"  {engine:7} {result.scenarios} scenarios of {result.seconds:g} s: {wall:.1f} s, {most:.0f} MB")
    say(f"          {wall / ticks * 1e6:.3f} µs a lane and tick = {ratio:.1f} bare ticks")


def say(line: str) -> None:
    """One line of the table."""
    sys.stdout.write(line + "\n")


def main() -> None:
    """Print the table."""
    scenarios = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    for name in ROBOTS:
        profile = load_profile(PROFILES / f"{name}.toml")
        plan = profile.plan()
        proof = prove_rules(plan)
        count, known = len(proof.rules), proof.relations
        say(f"{name}: {count} rules on {known} relations, proven {proof.proven}, {proof.seconds:.2f} s")
        for engine in ("numpy", "native"):
            campaign(profile, engine, scenarios)
        monitor, count = Monitor(plan), 2000
        signals, inputs = [0] * len(layout_of(plan).signals), [0] * len(layout_of(plan).inputs)
        start = time.process_time()
        for _ in range(count):
            monitor.step(signals, inputs)
        say(f"  monitor {(time.process_time() - start) / count * 1e6:.0f} µs a tick")


if __name__ == "__main__":
    main()
