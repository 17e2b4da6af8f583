"""Catching a wrong core by campaign or proof. Run as a program it prints the table for DEVELOPERS.md.

PYTHONPATH=. python tests/failsafe/catching.py
"""

import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass

from mixer.failsafe.campaign.recording import counter_example_of
from mixer.failsafe.campaign.run import Request, run_campaign
from mixer.failsafe.proof.counter_example import broken_by
from mixer.failsafe.proof.theorems import Outcome, prove_rules
from mixer.laws.rules import REPEATABLE
from tests.failsafe.wrong_cores import WRONG_CORES, WrongCore

SCENARIOS = 700
SECONDS = 1.0
"""At least; the robots of these tests are quick, and a scenario lasts as long as their times need."""


@dataclass(frozen=True)
class Catch:
    """Who caught a wrong core, by which rules."""

    proof: tuple[str, ...]
    campaign: tuple[str, ...]
    seconds: float

    @property
    def caught(self) -> bool:
        """Whether anybody did."""
        return bool(self.proof or self.campaign)


def catch(core: WrongCore, *, both: bool = False) -> Catch:
    """Try the campaign, and the proof where the campaign finds nothing (or where `both` is asked for)."""
    began = time.monotonic()
    with core.built_in():
        campaign = caught_by_campaign(core)
        proof = caught_by_proof(core) if both or not campaign else ()
    return Catch(proof, campaign, time.monotonic() - began)


def caught_by_proof(core: WrongCore, keys: Sequence[str] | None = None) -> tuple[str, ...]:
    """Rules with a counter-example that the wrong core reproduces, or `repeatable`."""
    found = []
    for item in prove_rules(core.plan, limit_s=25, keys=keys).rules:
        example = item.counter_example
        if example is not None:
            assert item.rule in broken_by(core.plan, example.state + example.memory, example.rows)
            found.append(item.rule)
        elif item.rule == REPEATABLE and item.outcome is not Outcome.PROVEN:
            found.append(item.rule)
    return tuple(found)


def caught_by_campaign(core: WrongCore) -> tuple[str, ...]:
    """Rules that broke in a small campaign; one scenario is set up again and has to break its rule."""
    request = Request(core.plan, scenarios=SCENARIOS, jobs=1, seconds=SECONDS)
    found = [(fault.key, item) for fault in run_campaign(request).faults for item in fault.broken]
    for fault, item in found[:1]:
        assert counter_example_of(request, fault, item.rule, item.lane, item.tick).rows
    return tuple(dict.fromkeys(item.rule for _, item in found))


def main() -> None:
    """Print the table."""
    out = sys.stdout
    out.write("| wrong core | what is wrong | caught by proof | caught by campaign |\n|---|---|---|---|\n")
    for core in WRONG_CORES:
        found = catch(core, both=True)
        out.write(
            f"| {core.key} | {core.words} | {', '.join(found.proof)} | {', '.join(found.campaign)} |\n"
        )
        out.flush()
        sys.stderr.write(f"{core.key}: {found.seconds:.1f} s{'' if found.caught else '  NOT CAUGHT'}\n")


if __name__ == "__main__":
    main()
