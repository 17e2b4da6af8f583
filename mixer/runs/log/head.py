"""What a log says of itself: comment lines before the header, ``# key: value`` with the value as JSON."""

import json
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from mixer.core.plan import Plan
from mixer.profile.profile import fingerprint_of
from mixer.runs.log.lines import open_text

MOST_LINES, LONGEST = 40, 100_000


def head_text(said: Mapping[str, Any]) -> str:
    """The lines."""
    return "".join(f"# {key}: {json.dumps(value)}\r\n" for key, value in said.items())


def made_by(plan: Plan) -> dict[str, Any]:
    """What every recorder says: the robot, and the fingerprint of what it ran."""
    return {"robot": plan.name, "tuning": fingerprint_of(plan)}


def tuning_of(log: Path) -> str | None:
    """The fingerprint that a log was recorded with, None where it says none. Raises LogError."""
    said = read_head(log).get("tuning")
    return said if isinstance(said, str) and re.fullmatch(r"[0-9a-f]{12}", said) else None


def read_head(path: Path) -> dict[str, Any]:
    """What the lines at a log's beginning say; other comments are passed over. Raises LogError."""
    said: dict[str, Any] = {}
    text, _ = open_text(path)
    with text:
        for _ in range(MOST_LINES):
            line = text.readline(LONGEST)
            if not line.startswith("#"):
                break
            key, colon, value = line[1:].partition(":")
            try:
                said[key.strip()] = json.loads(value) if colon else None
            except (ValueError, RecursionError):
                continue
    return said
