"""The plain suite's examples depend on the test alone: not on the order, or what is loaded by then."""

import importlib.util
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

NUMBER, WORD = 7_654_321, "found in a module"


@settings(max_examples=1000, database=None)
@given(st.integers(), st.text())
def drawn(examples: list[tuple[int, str]], number: int, word: str) -> None:
    """Write down what is drawn."""
    examples.append((number, word))


@pytest.mark.long
def test_a_module_loaded_meanwhile_changes_no_example(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same before and after a module was loaded whose source has a number and a word of its own."""
    if request.config.getoption("--long"):
        pytest.skip("exploring")
    before: list[tuple[int, str]] = []
    drawn(before)
    source = tmp_path / "loaded_meanwhile.py"
    source.write_text(f"NUMBER, WORD = {NUMBER}, {WORD!r}\n", encoding="utf-8")
    spec = importlib.util.spec_from_file_location("loaded_meanwhile", source)
    assert spec is not None
    monkeypatch.setitem(sys.modules, spec.name, importlib.util.module_from_spec(spec))
    after: list[tuple[int, str]] = []
    drawn(after)
    assert before == after
    assert len(before) > 900
