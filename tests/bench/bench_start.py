"""What starting a command costs, as ratios to a bare start of Python in the same run.

    python tests/bench/bench_start.py

Prints a row for each command: the least of `ROUNDS` processor times, and how many bare starts that is.
"""

import resource
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
TANK = ROOT / "profiles" / "tank_pair.toml"
CARRIER = ROOT / "profiles" / "sample_carrier.toml"
ROUNDS = 15
CLI = ["-m", "mixer.cli"]
BARE = "bare start"
STARTS = {
    BARE: ["-c", "pass"],
    "--version": [*CLI, "--version"],
    "--help": [*CLI, "--help"],
    "check tank_pair": [*CLI, "check", str(TANK)],
    "check sample_carrier (three loadouts)": [*CLI, "check", str(CARRIER)],
}
MOST = {"--version": 6, "--help": 6, "check tank_pair": 30}
"""Bare starts that each may cost."""


def seconds_of(words: list[str]) -> float:
    """Processor time of one run, children of this process only."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [sys.executable, *words],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        check=False,
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def measured() -> dict[str, float]:
    """The least of several runs of each, all taking turns so that a busy moment meets everyone."""
    least = dict.fromkeys(STARTS, float("inf"))
    for _ in range(ROUNDS):
        for name, words in STARTS.items():
            least[name] = min(least[name], seconds_of(words))
    return least


def main() -> int:
    """The table; 1 where something costs more than it may."""
    least = measured()
    failed = False
    for name, seconds in least.items():
        starts = seconds / least[BARE]
        most = MOST.get(name)
        over = most is not None and starts > most
        failed = failed or over
        limit = "" if most is None else f"at most {most}{', OVER' if over else ''}"
        sys.stdout.write(f"{name:40}{seconds * 1000:8.0f} ms{starts:8.1f} starts  {limit}\n")
    return int(failed)


if __name__ == "__main__":
    sys.exit(main())
