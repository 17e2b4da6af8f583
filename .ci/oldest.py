"""Print the oldest versions of what the program needs that pyproject.toml allows, for pip to obey."""

import re
import tomllib
from pathlib import Path

PROJECT = Path(__file__).parents[1] / "pyproject.toml"
FLOOR = re.compile(r"(?P<name>[A-Za-z0-9._-]+)\s*(?:>=|==|~=)\s*(?P<version>[0-9][0-9.]*)")


def oldest(text: str) -> list[str]:
    """``numpy==1.26`` and so on, for every dependency but those of the tests' own extra."""
    project = tomllib.loads(text)["project"]
    extras = (needs for name, needs in project["optional-dependencies"].items() if name != "test")
    floors = (FLOOR.match(need) for needs in (project["dependencies"], *extras) for need in needs)
    return sorted(f"{floor['name']}=={floor['version']}" for floor in floors if floor is not None)


if __name__ == "__main__":
    print("\n".join(oldest(PROJECT.read_text(encoding="utf-8"))))  # noqa: T201
