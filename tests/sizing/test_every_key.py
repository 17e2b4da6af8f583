"""Every physical number of every example matters: a tenth more shows in a figure, verdict or wire."""

import copy
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

from mixer.board.wiring.own import own_wiring
from mixer.board.wiring.settings import settings_of
from mixer.board.wiring.table import rows_of
from mixer.live.robot.robot import Build
from mixer.plant.from_profile import prepare
from mixer.profile.checks.validation import robot_of
from mixer.profile.integers.to_plan import plan_of
from mixer.profile.profile import parse_profile
from mixer.profile.schema.root import Robot
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


def refusal(tables: dict[str, Any]) -> Any:  # noqa: ANN401 - compared only
    """Why there is no such robot; None where there is one."""
    robot, complaints = robot_of(copy.deepcopy(tables))
    return None if robot else [complaint.said for complaint in complaints]


def mix(tables: dict[str, Any]) -> Any:  # noqa: ANN401 - compared only
    """What the firmware calculates with."""
    robot = robot_from(tables)
    return plan_of(robot, robot.robot.name)


def contradicted(tables: dict[str, Any]) -> Any:  # noqa: ANN401 - compared only
    """What cannot all be true."""
    return list(contradictions(robot_from(tables)))


def mass(tables: dict[str, Any]) -> Any:  # noqa: ANN401 - compared only
    """Mass, its centre, loads on wheels."""
    return rounded(mass_findings(prepare(robot_from(tables))))


def wires(tables: dict[str, Any]) -> Any:  # noqa: ANN401 - compared only
    """What `check --board` and WIRING.md say, and every number of wiring.h."""
    wiring = own_wiring(parse_profile("", "turned", copy.deepcopy(tables)), None)
    return wiring and (rows_of(wiring), settings_of(wiring))


def page(tables: dict[str, Any]) -> Any:  # noqa: ANN401 - compared only
    """What `size` says."""
    robot = robot_from(tables)
    prepared = prepare(robot)
    short = replace(prepared, minutes=min(prepared.minutes, 1.0)) if prepared.minutes < 9 else prepared
    said = size(Build(plan_of(robot, robot.robot.name), robot, short))
    return [prepared.minutes, said.assumed, rounded(said.findings)]


def robot_from(tables: dict[str, Any]) -> Robot:
    """The robot of tables that make one."""
    robot, _ = robot_of(copy.deepcopy(tables))
    assert robot is not None
    return robot


ACCOUNTS = {each.__name__: each for each in (refusal, mix, contradicted, mass, page, wires)}
"""What a user sees that a number can move: what comes of the physics first, and last the wires."""


@lru_cache(maxsize=32)
def usual(name: str, account: str) -> Any:  # noqa: ANN401 - compared only
    """What an account says of an example as it is."""
    return ACCOUNTS[account](tables_of(name))


def moved_by(name: str, path: Path_) -> str:
    """The first account that a number moves; empty for a number that moves none."""
    tables = changed(tables_of(name), path)
    return next((key for key, said in ACCOUNTS.items() if said(tables) != usual(name, key)), "")


def in_vain(name: str, paths: list[Path_]) -> dict[Path_, str]:
    """Numbers that move nothing, or only the wires though they are not theirs, and the other way round."""
    moved = {path: moved_by(name, path) for path in paths}
    return {path: by for path, by in moved.items() if not by or (by == "wires") != is_of_wires(path)}


def is_of_wires(path: Path_) -> bool:
    """Whether a number is the board's own: no physics knows it."""
    return path[-2:-1] == ("divider_kohm",)


def alike(path: Path_) -> Path_:
    """The path without a name, so that one of equal wheels is looked at in the plain suite."""
    named = len(path) > 2 and path[0] in ("wheel", "actuator", "output")
    return (path[0], "*", *path[2:]) if named else path


@pytest.mark.no_cover
def test_every_sixth_number_of_the_smallest_example_counts() -> None:
    """No exceptions; one of equal wheels stands for all. The rest is asked with the long ones."""
    paths = list({alike(path): path for path in physical("tank_pair")}.values())
    assert len(paths) > 20
    assert in_vain("tank_pair", paths[::6]) == {}


def test_the_divider_of_the_battery_counts_on_the_board() -> None:
    """Both of its resistors move the volts at full scale, which `check --board` and wiring.h say."""
    paths = [path for path in physical("sample_carrier") if is_of_wires(path)]
    assert len(paths) == 2
    before, after = (
        {setting.macro: setting.number for setting in wires(tables)[1]}
        for tables in (tables_of("sample_carrier"), changed(tables_of("sample_carrier"), paths[0]))
    )
    assert {macro for macro in before if before[macro] != after[macro]} == {"BATTERY_FULL_SCALE_MV"}


@pytest.mark.long
@pytest.mark.timeout(1800)
@pytest.mark.parametrize("name", sorted(path.stem for path in PROFILES.glob("*.toml")))
def test_every_number_counts(name: str) -> None:
    """No exceptions at all."""
    assert in_vain(name, physical(name)) == {}
