"""What a key is said to move it moves: each is turned on an example robot and the robot is sized again.

The figures' names are held here against the report's own keys, apart from the schema that speaks of them.
"""

import json
import tomllib
from collections.abc import Iterator, Mapping
from copy import deepcopy
from functools import cache
from typing import Any

import pytest

from mixer.errors import StickwrightError
from mixer.examples.shipped import example_path
from mixer.live.robot.robot import build_of
from mixer.profile.keys.listing import Key, keys
from mixer.profile.profile import parse_profile
from mixer.profile.schema.words import FIGURES_OF
from mixer.sizing.report import size

Tables = dict[str, Any]

FOUND_AS = {
    "mass": "mass", "wheel loads": "wheel_load", "centre of gravity": "centre_of_gravity",
    "top speed": "top_speed", "sprint": "sprint", "stopping distance": "stopping", "turn rate": "turn_rate",
    "half a turn": "half_turn", "pull aside": "aside", "hardest stop": "braking", "standing push": "push",
    "pushing speed": "pushing_speed", "motor volts": "nominal", "stall current": "stall_a",
    "typical current": "typical_a", "charge used": "charge", "peak current": "peak_a",
    "stalled volts": "all_stalled_v", "lowest volts": "lowest_v", "winding heat": "winding_c",
    "stall time": "stall_s", "lift": "lift", "travel time": "stroke", "tipping": "tips",
}  # fmt: skip
ROBOTS = ("tank_pair", "sample_carrier", "holonomic_trio")
CENTRE = "centre_of_gravity_m"
EXTRA: Mapping[str, Tables] = {
    "skid": {"nose": {"x_m": 0.1, "friction": 0.3}},
}
"""Sections that no example has; they are laid into each robot for the keys that stand in them."""
VALUES: Mapping[str, tuple[Any, ...]] = {
    "magnet_n": (20.0,), "yaw_inertia_kgm2": (0.5,), "rotor_inertia_kgm2": (5e-5, 5e-6),
    "opponent_kg": (9.0, 2.0), "opponent_grip": (0.1,), "hinge_x_m": (-0.1,), "reaches": ("back",),
    "at_zero": ("brake", "coast"), "centre_of_gravity_m": ([0.03, 0.0, 0.08],), "at_m": ([0.1, 0.0, 0.1],),
    "kind": ("roller", "cam", "wedge"), "limit_a": (4.0, 2.5), "resistance_ohm": (0.5,), "drop_v": (0.6,),
    "lead_awg": (24,), "lead_length_m": (2.0,), "drags": ("gearmotor", "wheel"), "drags_count": (4.0,),
    "arena_m": (4.0,), "thread": ("M8",), "dead_motors": ([1],), "curve": ([[0.0, 3.0], [1.0, 3.9]],),
    "actuators": (["tray_left"],), "wedge_deg": (20.0,), "diameter_mm": (9.0,), "pitch_mm": (0.7,),
    "starts": (2,), "half_angle_deg": (0.0,), "collar_friction": (0.3,), "collar_mm": (20.0,),
    "screw": ({"thread": "M8"},), "over_range": ("clip", "scale"), "shape": ("linear",), "duty": (0.9,),
    "angle_deg": (40.0,), "wire": ("duty",),
}  # fmt: skip
COLLAR = {"screw": {"thread": "M6", "collar_friction": 0.1, "collar_mm": 9.0}}
MEASURED = {"screw": {"diameter_mm": 6.0, "pitch_mm": 1.0}}
TOGETHER: Mapping[str, Tables] = {
    "lift.NAME.wedge_deg": {"kind": "wedge", "wedge_deg": 30.0}, "lift.NAME.kind": {"wedge_deg": 30.0},
    "lift.NAME.hinge_x_m": {"load_kg": 3.0}, "lift.NAME.reaches": {"hinge_x_m": -0.1},
    "actuator.NAME.screw.diameter_mm": MEASURED, "actuator.NAME.screw.pitch_mm": MEASURED,
    "actuator.NAME.screw.half_angle_deg": MEASURED,
    "actuator.NAME.screw.collar_friction": COLLAR, "actuator.NAME.screw.collar_mm": COLLAR,
    "battery.lead_awg": {"lead_length_m": 1.0}, "battery.lead_length_m": {"lead_awg": 18},
    "wheel.NAME.drags": {"output": None}, "wheel.NAME.drags_count": {"output": None, "drags": "wheel"},
    "output.NAME.dead_motors": {"motors": 2}, "match.opponent_grip": {"opponent_kg": 9.0},
}  # fmt: skip
"""What has to stand beside a key for it to mean anything."""
SHARES = ("push", "chase", "turn", "idle")
CLAIMS = [key for key in keys() if set(key.moves) & set(FIGURES_OF["size"])]


@cache
def example(name: str) -> Tables:
    """A robot's tables."""
    return tomllib.loads(example_path(name).read_text(encoding="utf-8"))


@cache
def figures_of(text: str) -> Mapping[str, object]:
    """Every finding of a robot given as JSON: its number, or its words where it has none."""
    tables = json.loads(text)
    report = size(build_of(parse_profile("", "turned", tables)))  # of a short match: it moves the same
    return {
        found.key: found.words if found.value is None else round(found.value, 9)
        for found in report.findings
    }


def places(tables: Tables, key: Key) -> Iterator[tuple[Tables, str]]:
    """Every table of a robot in which a key may stand."""
    section, *rest = key.key.split(".")
    held = [tables[section]] if section in tables else []
    if rest[0] == "NAME":
        held = [thing for things in held for thing in things.values()]
        rest = rest[1:]
    elif held and isinstance(held[0], list):
        held = held[0]
    for thing in held:
        inner = thing.setdefault(rest[0], {}) if len(rest) > 1 else thing
        if isinstance(inner, dict):
            yield inner, rest[-1]


def values(key: Key, name: str, was: Any) -> Iterator[Any]:  # noqa: ANN401
    """Values to turn a key to."""
    yield from VALUES.get(name, ())
    if name == "mix":
        yield {source: weight * 0.6 for source, weight in was.items()}
    elif isinstance(was, bool):
        yield not was
    elif name in SHARES:
        yield 0.7
    elif key.kind in ("number", "whole number"):
        base = was if was is not None else json.loads(key.default or "1")
        whole = key.kind == "whole number"
        yield from (round(base * by) if whole else base * by for by in (0.5, 2.0, 0.8))
        yield from (base + by if not whole else base + 1 for by in (0.05, -0.05))


def robots(key: Key) -> Iterator[Tables]:
    """Example robots, in a match of half a minute where the key is not of the match."""
    for robot in ROBOTS:
        tables = {name: held for name, held in example(robot).items() if name != "loadout"}
        tables |= {name: held for name, held in EXTRA.items() if key.key.startswith(name)}
        if key.key.startswith("part"):  # or the chassis says where the centre is
            chassis = {name: held for name, held in tables.get("chassis", {}).items() if name != CENTRE}
            tables["chassis"] = chassis
        if key.key == "actuator.NAME.motor":  # or the outputs say which motor it is
            tables["output"] = deepcopy(tables["output"])
            for actuator in tables.get("actuator", {}).values():
                tables["output"][actuator["output"]].pop("motor", None)
        short = {} if key.key.startswith("match") else {"minutes": 0.5}
        yield deepcopy(tables | {"match": tables.get("match", {}) | short})


def turned(key: Key) -> Iterator[tuple[Tables, Tables]]:
    """Robots before and after turning a key, for each place and value there is."""
    for whole in robots(key):
        found = list(places(deepcopy(whole), key))
        for number in sorted({*range(len(found))} & {0, 1, len(found) - 1}):  # those between are alike
            place, name = found[number]
            named = key.kind == "text" and name in ("motor", "driver", "output")
            for value in [*(whole.get(name, {}) if named else ()), *values(key, name, place.get(name))]:
                before = prepared(key, whole, number)
                after = deepcopy(before)
                shares = dict.fromkeys(SHARES, 0.1) if name in SHARES else {}
                list(places(after, key))[number][0].update(shares | {name: value})
                yield before, after


def prepared(key: Key, whole: Tables, number: int) -> Tables:
    """A robot with what has to stand beside the key, in its place of that number."""
    tables, beside = deepcopy(whole), TOGETHER.get(key.key, {})
    if "screw" in beside:
        list(tables["actuator"].values())[number].update(deepcopy(beside))
        return tables
    thing, _ = list(places(tables, key))[number]
    thing.update({name: held for name, held in beside.items() if held is not None})
    for name in [name for name, held in beside.items() if held is None]:
        thing.pop(name, None)
    return tables


@pytest.mark.long
@pytest.mark.timeout(600)
@pytest.mark.parametrize("key", CLAIMS, ids=lambda key: key.key)
def test_a_key_moves_the_figures_it_names(key: Key) -> None:
    """By more than a thousandth each, on some example robot, at some value."""
    left = {figure for figure in key.moves if figure in FIGURES_OF["size"]}
    for before, after in turned(key):
        try:
            was, now = figures_of(json.dumps(before)), figures_of(json.dumps(after))
        except StickwrightError:
            continue
        for finding in was.keys() | now.keys():
            if differs(was.get(finding), now.get(finding)):
                left -= {figure for figure, start in FOUND_AS.items() if finding.split(".")[0] == start}
        if not left:
            return
    assert left == set()


def differs(was: object, now: object) -> bool:
    """Whether a finding has changed to speak of."""
    if isinstance(was, float) and isinstance(now, float):
        return abs(was - now) > 1e-3 * max(abs(was), abs(now))
    return was != now


def test_every_figure_of_size_is_one_of_the_report() -> None:
    """The words for figures and the report's keys are the same list twice."""
    assert set(FOUND_AS) == set(FIGURES_OF["size"])
