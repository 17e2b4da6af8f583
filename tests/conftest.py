"""How the tests are run: the long ones, the tools some need, and where chance has a say.

Without `--long` nothing is left to chance: hypothesis draws the same examples each time, on every machine.
With it hypothesis explores, and prints how to see a failure again.
"""

import importlib.util
import os
import shutil
from collections.abc import Iterator
from ctypes.util import find_library
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from tests.live.benches import Bench

IN_CI = os.environ.get("STICKWRIGHT_CI") == "1"

TOOLS = {
    "gcc": "a C compiler: apt-get install gcc",
    "clang": "clang: apt-get install clang",
    "avr-gcc": "the AVR compiler: apt-get install gcc-avr avr-libc",
    "arm-none-eabi-gcc": "the ARM compiler: apt-get install gcc-arm-none-eabi",
    "simavr": "the AVR simulator's library: apt-get install libsimavr2",
    "qemu-system-arm": "the ARM emulator: apt-get install qemu-system-arm",
    "tmux": "tmux: apt-get install tmux",
    "chromium": "a browser: apt-get install chromium",
    "pdfinfo": "what counts a PDF's pages: apt-get install poppler-utils",
    "z3": "the solver: pip install z3-solver",
    "serial": "pyserial: pip install pyserial",
    "matplotlib": "matplotlib: pip install matplotlib",
    "sdl2": "pysdl2: pip install pysdl2 pysdl2-dll",
}
"""What to install for each name that `needs_tool` is given: programs, or importable packages."""

settings.register_profile(
    "habits", deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile("exploring", settings.get_profile("habits"), print_blob=True)
settings.register_profile("plain", settings.get_profile("habits"), derandomize=True, database=None)


def pytest_configure(config: pytest.Config) -> None:
    """Choose how examples are drawn, before any test is read."""
    settings.load_profile("exploring" if config.getoption("--long") else "plain")


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the switch for the campaigns of minutes."""
    parser.addoption("--long", action="store_true", help="also run the tests marked long (minutes each)")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what is marked long, unless it was asked for."""
    if config.getoption("--long"):
        return
    long_ones = [item for item in items if item.get_closest_marker("long")]
    if long_ones:
        config.hook.pytest_deselected(items=long_ones)
        items[:] = [item for item in items if item not in long_ones]


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Skip a test whose tool is missing on a developer's machine; in CI that is a failure."""
    for marker in item.iter_markers("needs_tool"):
        for name in marker.args:
            if has_tool(name):
                continue
            said = f"needs {name}, not found here. Install {TOOLS.get(name, name)}"
            if IN_CI:
                pytest.fail(said, pytrace=False)
            pytest.skip(said)


def has_tool(name: str) -> bool:
    """Whether a program is on the path, a package can be imported, or a library can be loaded."""
    library = find_library(name) if name == "simavr" else None
    return any((shutil.which(name), importlib.util.find_spec(name), library))


@pytest.fixture(autouse=True)
def _plain_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    """No test depends on whether the developer's terminal has colours."""
    monkeypatch.delenv("NO_COLOR", raising=False)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    """The sample carrier on hand sticks, closed after the test."""
    made = Bench(tmp_path)
    yield made
    made.session.close()
