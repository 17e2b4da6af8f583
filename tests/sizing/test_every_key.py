"""Every physical number of every example matters: a tenth more shows in a figure, verdict or refusal."""

import copy
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

from mixer.live.robot.robot import Build
from mixer.plant.from_profile import prepare
from mixer.profile.checks.validation import robot_of
from mixer.profile.integers.to_plan import plan_of
from mixer.sizing.contradictions import contradictions
from mixer.sizing.mass import mass_findings
from mixer.sizing.report import size

PROFILES = Path(__file__).parents[2] / "profiles"
PHYSICAL = ("motor", "driver", "battery", "chassis", "wheel", "skid", "lift", "part", "match")
OF_ACTUATORS = ("travel_mm", "full_travel_ms", "screw")
Path_ = tuple[str | int, ...]


def tables_of(name: str) -> dict[str, Any]:
    """An example's tables without its loadouts."""
    tables = tomllib.loads((PROFILES / f"{name}.toml").read_text(encoding="utf-8"))
    return {key: value for key, value in tables.items() if key != "loadout"}


def numbers_in(thing: Any, path: Path_ = ()) -> Iterator[Path_]:  # noqa: ANN401 - TOML's values
    """Paths of all numbers in tables and lists."""
    if isinstance(thing, dict):
        for key, value in thing.items():
            yield from numbers_in(value, (*path, key))
    elif isinstance(thing, list):
        for number, value in enumerate(thing):
            yield from numbers_in(value, (*path, number))
    elif isinstance(thing, int | float) and not isinstance(thing, bool):
        yield path


def physical(name: str) -> list[Path_]:
    """Every physical number of an example."""
    tables = tables_of(name)
    found = [path for path in numbers_in(tables) if path[0] in PHYSICAL]
    found += [path for path in numbers_in(tables) if path[0] == "actuator" and path[2] in OF_ACTUATORS]
    return found + [path for path in numbers_in(tables) if path[0] == "output" and path[2] == "motors"]


def changed(tables: dict[str, Any], path: Path_) -> dict[str, Any]:
    """The tables with one number a tenth larger; a whole one by one at least, a zero by a hundredth."""
    tables = copy.deepcopy(tables)
    inner: Any = tables
    for key in path[:-1]:
        inner = inner[key]
    value = inner[path[-1]]
    whole = isinstance(value, int) and path[-1] in ("cells", "motors", "lead_awg", "starts")
    angle = path[-1] == "start_deg"
    inner[path[-1]] = value + 1 if whole or (angle and not value) else value * 1.1 or 0.01
    return tables


def rounded(findings: Any) -> list[Any]:  # noqa: ANN401 - of any section
    """What a reader can see of findings."""
    return [
        (f.key, f.verdict, f.words, *[None if x is None else f"{x:.4g}" for x in (f.value, f.limit)])
        for f in findings
    ]  # fmt: skip


def outcome(tables: dict[str, Any], *, quick: bool) -> Any:  # noqa: ANN401 - compared only
    """Refusals, contradictions, the plan, mass; and the whole page unless `quick`."""
    robot, complaints = robot_of(copy.deepcopy(tables))
    if robot is None:
        return [complaint.said for complaint in complaints]
    prepared = prepare(robot)
    plan = plan_of(robot, robot.robot.name)
    told = [list(contradictions(robot)), plan, rounded(mass_findings(prepared))]
    if quick:
        return told
    short = replace(prepared, minutes=min(prepared.minutes, 1.0)) if prepared.minutes < 9 else prepared
    page = size(Build(plan, robot, short))
    return [*told, prepared.minutes, page.assumed, rounded(page.findings)]


@lru_cache(maxsize=8)
def usual(name: str, *, quick: bool) -> Any:  # noqa: ANN401 - compared only
    """The outcome of an example as it is."""
    return outcome(tables_of(name), quick=quick)


def unseen(name: str, paths: list[Path_]) -> list[Path_]:
    """Those that change nothing."""
    tables = tables_of(name)
    silent = [
        path for path in paths if outcome(changed(tables, path), quick=True) == usual(name, quick=True)
    ]
    return [
        path for path in silent if outcome(changed(tables, path), quick=False) == usual(name, quick=False)
    ]


def alike(path: Path_) -> Path_:
    """The path without a name, so that one of equal wheels is looked at in the plain suite."""
    named = len(path) > 2 and path[0] in ("wheel", "actuator", "output")
    return (path[0], "*", *path[2:]) if named else path


@pytest.mark.no_cover
def test_every_sixth_number_of_the_smallest_example_counts() -> None:
    """No exceptions; one of equal wheels stands for all. The rest is asked with the long ones."""
    paths = list({alike(path): path for path in physical("tank_pair")}.values())
    assert len(paths) > 20
    assert unseen("tank_pair", paths[::6]) == []


@pytest.mark.long
@pytest.mark.timeout(1800)
@pytest.mark.parametrize("name", sorted(path.stem for path in PROFILES.glob("*.toml")))
def test_every_number_counts(name: str) -> None:
    """No exceptions at all."""
    assert unseen(name, physical(name)) == []
