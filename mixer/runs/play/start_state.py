"""A start state beside a log: ``drive.csv`` goes on from what ``drive.csv.start.json`` says.

A JSON object of the state slots by name; a slot left out is as at power-up. Written beside
counter-examples, which begin in the middle of a drive.
"""

import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.errors import LogError, Problem, nearest
from mixer.files import write_file
from mixer.lower.graph.trace import trace

SUFFIX = ".start.json"
MOST_BYTES = 1_000_000


def start_state_path(log: Path) -> Path:
    """Where the start state of a log stands."""
    return Path(f"{log}{SUFFIX}")


def write_start_state(log: Path, plan: Plan, state: Sequence[int]) -> Path:
    """Write the slots that differ from power-up; gives the file's path. Raises WriteError."""
    path = start_state_path(log)
    write_file(path, start_state_text(plan, state))
    return path


def start_state_text(plan: Plan, state: Sequence[int]) -> str:
    """The file's text: the slots that differ from power-up."""
    layout = layout_of(plan)
    named = zip(layout.state, layout.start, state, strict=True)
    changed = {name: value for name, start, value in named if value != start}
    return json.dumps(changed, indent=2) + "\n"


def read_start_state(log: Path, plan: Plan) -> tuple[int, ...] | None:
    """The start state beside a log, None where there is none.

    Only what a run of this plan can come to is taken: every engine is right for that, and for nothing else.
    Raises LogError with file, slot and remedy.
    """
    path = start_state_path(log)
    if not path.exists():
        return None
    slots = _slots_in(path)
    layout = layout_of(plan)
    if len(slots) > 2 * len(layout.state):
        said = f"holds {len(slots)} state slots where this robot has {len(layout.state)}"
        raise LogError([Problem(str(path), "", said, "use the log with the robot it was written for")])
    problems = [found for name, value in slots.items() if (found := _problem(path, plan, name, value))]
    if not problems:
        state = tuple(
            int(slots.get(name, start)) for name, start in zip(layout.state, layout.start, strict=True)
        )
        problems = list(_unequal(path, plan, state))
    if problems:
        raise LogError(problems)
    return state


def _slots_in(path: Path) -> dict[str, Any]:
    remedy = 'write an object of state slots, such as {"guard.state": 2}, or remove the file'
    try:
        slots = _parsed(path)
    except (OSError, ValueError, RecursionError) as error:
        why = "nested too deeply" if isinstance(error, RecursionError) else str(error)
        raise LogError([Problem(str(path), "", f"cannot be read: {why}", remedy)]) from None
    if not isinstance(slots, dict):
        raise LogError([Problem(str(path), "", "holds no object", remedy)])
    return slots


def _parsed(path: Path) -> Any:  # noqa: ANN401  whatever JSON holds
    with path.open("rb") as file:  # a device has no end
        data = file.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise ValueError(f"over {MOST_BYTES} bytes, which no state is")
    return json.loads(data.decode(), object_pairs_hook=_each_once)


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object. Raises ValueError where one name has two values: which of them is meant?"""
    found = dict(pairs)
    if len(found) < len(pairs):
        raise ValueError("a name stands in it twice")
    return found


def _problem(path: Path, plan: Plan, name: str, value: object) -> Problem | None:
    layout = layout_of(plan)
    if name not in layout.state:
        near = nearest(name, layout.state)
        remedy = f"did you mean {near}?" if near else "use the log with the robot it was written for"
        return Problem(str(path), name, "is no state slot of this robot", remedy)
    reach = trace(plan).state_ranges[layout.state.index(name)]
    remedy = f"write a number from {reach.low} to {reach.high}, or leave the slot out"
    if type(value) is not int:
        return Problem(str(path), name, f"{repr(value)[:40]} is not a whole number", remedy)
    if not reach.low <= value <= reach.high:
        return Problem(str(path), name, f"{value} is nothing that a run can come to", remedy)
    return None


def _unequal(path: Path, plan: Plan, state: Sequence[int]) -> Iterator[Problem]:
    """Slots that are the same in every run, and differ here."""
    names = layout_of(plan).state
    for number, twin in enumerate(trace(plan).twins):
        if state[number] != state[twin]:
            said = f"{state[number]} where {names[twin]} is {state[twin]}: in every run the two are equal"
            yield Problem(str(path), names[number], said, "give both the same number")
