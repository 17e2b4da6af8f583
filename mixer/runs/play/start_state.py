"""A start state beside a log: ``drive.csv`` goes on from what ``drive.csv.start.json`` says.

A JSON object of the state slots by name; a slot left out is as at power-up. Written beside
counter-examples, which begin in the middle of a drive.
"""

import difflib
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.errors import LogError, Problem
from mixer.files import write_file

SUFFIX = ".start.json"


def start_state_path(log: Path) -> Path:
    """Where the start state of a log stands."""
    return log.with_name(log.name + SUFFIX)


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
    """The start state beside a log, None where there is none. Raises LogError for one of another robot."""
    path = start_state_path(log)
    if not path.exists():
        return None
    slots = _slots_in(path)
    layout = layout_of(plan)
    problems = [_problem(path, name, layout.state) for name in slots if name not in layout.state]
    problems += [
        Problem(str(path), name, f"{value!r} is not a whole number", "write a number such as 0")
        for name, value in slots.items()
        if type(value) is not int
    ]
    if problems:
        raise LogError(problems)
    return tuple(
        int(slots.get(name, start)) for name, start in zip(layout.state, layout.start, strict=True)
    )


def _slots_in(path: Path) -> dict[str, Any]:
    remedy = 'write an object of state slots, such as {"guard.state": 2}, or remove the file'
    try:
        slots = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise LogError([Problem(str(path), "", f"cannot be read: {error}", remedy)]) from error
    if not isinstance(slots, dict):
        raise LogError([Problem(str(path), "", "holds no object", remedy)])
    return slots


def _problem(path: Path, name: str, known: Sequence[str]) -> Problem:
    near = difflib.get_close_matches(name, known, n=1)
    remedy = f"did you mean {near[0]}?" if near else "use the log with the robot it was written for"
    return Problem(str(path), name, "is no state slot of this robot", remedy)
