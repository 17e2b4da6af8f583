"""Catching a wrong core by proof and campaign. Run as a program it renews the table in DEVELOPERS.md.

PYTHONPATH=. python tests/failsafe/catching.py
"""

import sys
from pathlib import Path

from mixer.failsafe.campaign.run import Request, run_campaign
from mixer.failsafe.proof.hunt import breaking_runs
from mixer.failsafe.proof.theorems import ProofOutcome, prove_rules
from mixer.live.judge.watched import watched_graph
from tests.failsafe.wrong_cores import WRONG_CORES, WrongCore

SCENARIOS = 1500
SECONDS = 1.0
BEGIN, END = "<!-- wrong cores -->", "<!-- end of wrong cores -->"
NOTES = Path(__file__).parents[2] / "DEVELOPERS.md"


def caught_by_proof(core: WrongCore) -> tuple[str, ...]:
    """Rules that the wrong core loses: with a counter-example, or not settled where the right core is."""
    with core.built_in():
        rules = prove_rules(core.plan).rules
    return tuple(item.rule for item in rules if item.outcome is not ProofOutcome.PROVEN)


def caught_by_campaign(core: WrongCore) -> tuple[str, ...]:
    """Rules that broke under some fault, the campaign's own among them."""
    with core.built_in():
        result = run_campaign(Request(core.plan, scenarios=SCENARIOS, jobs=1, seconds=SECONDS))
    return tuple(sorted(result.broken_rules))


def caught_by_runs(core: WrongCore) -> tuple[str, ...]:
    """Rules that break in runs from power-up, those that break soonest first."""
    with core.built_in():
        runs = breaking_runs(watched_graph(core.plan))
    return tuple(sorted(runs, key=lambda rule: len(runs[rule])))


def main(proof: bool) -> None:
    """Try every wrong core and put the table into DEVELOPERS.md; with the proof that takes an hour."""
    lines = ["| module | edit | dangerous | broken in a run from power-up |", "|---|---|---|---|"]
    missed = 0
    for core in WRONG_CORES:
        found = caught_by_runs(core) or (caught_by_proof(core) if proof else ())
        missed += not found
        edit = f"`{core.old.strip()}` becomes `{core.new.strip()}`".replace("|", "\\|").replace("\n", " ")
        danger = "yes" if core.dangerous else ""
        lines.append(f"| {core.module} | {edit} | {danger} | {_some(found)} |")
        sys.stderr.write(f"{core.key}: {'caught' if found else 'NOT CAUGHT'}\n")
    text = NOTES.read_text(encoding="utf-8")
    before, after = text.partition(BEGIN)[0], text.partition(END)[2]
    said = f"{len(WRONG_CORES)} wrong cores, {missed} not caught.\n\n"
    NOTES.write_text(f"{before}{BEGIN}\n{said}" + "\n".join(lines) + f"\n{END}{after}", encoding="utf-8")


def _some(rules: tuple[str, ...]) -> str:
    return ", ".join(rules[:3]) + (f" and {len(rules) - 3} more" if len(rules) > 3 else "")


if __name__ == "__main__":
    main("--proof" in sys.argv)
