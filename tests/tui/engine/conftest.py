"""One session for a test, closed after it."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.tui.engine.benches import Bench


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    """The sample carrier on hand sticks."""
    made = Bench(tmp_path)
    yield made
    made.session.close()
