"""How the tests are run: the long ones, the tools some need, and where chance has a say.

Without `--long` nothing is left to chance: hypothesis draws the same examples each time, on every machine,
in any order of the tests. With it hypothesis explores, and prints how to see a failure again.
"""

import os
import signal
from collections.abc import Generator, Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis.internal.conjecture import providers
from hypothesis.internal.constants_ast import Constants

from tests.live.benches import Bench
from tests.tools import missing

IN_CI = os.environ.get("STICKWRIGHT_CI") == "1"

settings.register_profile(
    "habits", deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile("exploring", settings.get_profile("habits"), print_blob=True)
settings.register_profile("plain", settings.get_profile("habits"), derandomize=True, database=None)


def pytest_configure(config: pytest.Config) -> None:
    """Choose how examples are drawn, before any test is read, and let ctrl-C reach what tests start.

    Derandomised or not, hypothesis also draws numbers and words out of the source of whichever modules of
    this project are loaded by then: a test alone would see other examples than in the whole suite.
    A shell starts jobs in its background with SIGINT ignored, nohup does so with SIGHUP, and every program
    they start inherits that.
    """
    exploring = config.getoption("--long")
    settings.load_profile("exploring" if exploring else "plain")
    if not exploring:
        providers._get_local_constants = Constants
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    hangs_up = getattr(signal, "SIGHUP", None)
    if hangs_up is not None and signal.getsignal(hangs_up) is signal.SIG_IGN:
        signal.signal(hangs_up, signal.SIG_DFL)


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the switch for the campaigns of minutes."""
    parser.addoption("--long", action="store_true", help="also run the tests marked long (minutes each)")


@pytest.hookimpl(wrapper=True, optionalhook=True)
def pytest_xdist_auto_num_workers() -> Generator[None, int, int]:
    """One process more than there are processors: tests of screens, terminals and links also wait."""
    return (yield) + 1


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what is marked long, unless it was asked for; then begin with what may take longest."""
    if config.getoption("--long"):
        items.sort(key=_may_take, reverse=True)
        return
    long_ones = [item for item in items if item.get_closest_marker("long")]
    if long_ones:
        config.hook.pytest_deselected(items=long_ones)
        items[:] = [item for item in items if item not in long_ones]


def _may_take(item: pytest.Item) -> float:
    marker = item.get_closest_marker("timeout")
    return float(marker.args[0]) if marker is not None else 0.0


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Skip a test whose tool is missing on a developer's machine; in CI that is a failure."""
    for marker in item.iter_markers("needs_tool"):
        for said in filter(None, map(missing, marker.args)):
            if IN_CI:
                pytest.fail(said, pytrace=False)
            pytest.skip(said)


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
