"""The exported C under a checker of MISRA C:2012, the addon of Debian's cppcheck: its finds are argued."""

import re
import subprocess
from pathlib import Path

import pytest

from tests.lower.c_exports import ROBOTS, exported, plan_of_robot, write_mix

TABLE = re.compile(r"^\| ([\d., ]+) \|", re.MULTILINE)


def rules_found(folder: Path) -> set[str]:
    """The rules that the checker names for an export."""
    command = ["cppcheck", "--addon=misra", "--std=c99", "-q", "mix.c"]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True, timeout=100)
    return set(re.findall(r"misra-c2012-([\d.]+)\]", done.stderr))


@pytest.mark.needs_tool("cppcheck")
def test_the_checker_names_nothing_that_the_readme_does_not_argue(tmp_path: Path) -> None:
    """The smallest robot: no rule beyond the table of README.md."""
    found = rules_found(write_mix(tmp_path, plan_of_robot("tank_pair")))
    assert found
    assert found <= argued()


@pytest.mark.long
def test_the_readme_argues_nothing_that_the_checker_does_not_name(tmp_path: Path) -> None:
    """All robots together: no rule beyond the table, and none stands there for nothing."""
    found: set[str] = set()
    for robot in ROBOTS:
        found |= rules_found(write_mix(tmp_path, plan_of_robot(robot)))
    assert found == argued()


def argued() -> set[str]:
    """The rules in the table of an export's README.md."""
    table = exported(plan_of_robot("tank_pair"))["README.md"].partition("## MISRA")[2]
    return {rule for cell in TABLE.findall(table) for rule in cell.split(", ")}
