"""Where the example robots and their recorded drives lie: in the package, or in `profiles/` of a checkout.

`profiles/` is the one place they are kept in; a wheel is built with that folder laid inside this package.
"""

from collections.abc import Sequence
from pathlib import Path

from mixer.errors import OptionError, offer

_PLACES = (Path(__file__).parent / "robots", Path(__file__).parents[2] / "profiles")
"""In a wheel; in a checkout, an editable install of one included."""
FIRST = "sample_carrier"
"""The robot of a bench that is opened without a profile."""


def example_names() -> Sequence[str]:
    """Every robot there is, by name."""
    return sorted(path.stem for path in _folder().glob("*.toml"))


def example_path(name: str) -> Path:
    """A robot's profile. Raises OptionError, with those there are, for a name that is none."""
    path = _folder() / f"{name}.toml"
    if name not in example_names():
        raise OptionError(f"there is no example robot {name!r}", offer(name, example_names(), "robots"))
    return path


def example_text(name: str, place: Path) -> str:
    """A robot's profile for a place of its own, which the commands in its comments name then.

    Raises OptionError as `example_path` does.
    """
    return example_path(name).read_text(encoding="utf-8").replace(f"profiles/{name}.toml", str(place))


def example_logs(name: str) -> Sequence[Path]:
    """The recorded drives of a robot: those whose names begin with the last word of its own."""
    return sorted((_folder() / "logs").glob(f"{name.rpartition('_')[2]}_*.csv"))


def is_shipped(profile: Path) -> bool:
    """Whether a profile is one of these robots where they lie, and nobody's own copy."""
    return any(profile.resolve().parent == place.resolve() for place in _PLACES)


def _folder() -> Path:
    return next((place for place in _PLACES if place.is_dir()), _PLACES[0])
