"""`stickwright bench`: what is wrong is told before a screen opens, the rest is handed on."""

import signal
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest

from mixer.cli import bench
from tests.cli.conftest import CARRIER, ROUGH, TANK, Run


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[tuple[object, ...]]:
    """What would have been started, instead of starting it."""
    calls: list[tuple[object, ...]] = []

    def found(name: str) -> SimpleNamespace:
        def main(words: list[str]) -> int:
            calls.append((name, words))
            return 0

        def serve(words: list[str], host: str, port: int, opened: Callable[[str], None]) -> int:
            opened(f"http://{host}:{port}")
            calls.append((name, words, host, port))
            return signal.SIGINT

        return SimpleNamespace(main=main, serve=serve)

    monkeypatch.setattr(bench, "import_module", found)
    return calls


def test_profile_log_and_loadout_are_handed_on(run: Run, started: list[tuple[object, ...]]) -> None:
    """The screen gets the same words; without a profile it opens an example by itself."""
    assert run("bench", CARRIER, "--log", ROUGH, "--loadout", "bare").code == 0
    assert run("bench").code == 0
    assert started == [
        ("tui.__main__", [str(CARRIER), "--log", str(ROUGH), "--loadout", "bare"]),
        ("tui.__main__", []),
    ]


def test_bad_input_ends_before_a_screen(
    run: Run, started: list[tuple[object, ...]], tmp_path: Path
) -> None:
    """A missing profile, an unknown loadout or an unreadable log ends with 2 and a remedy."""
    empty = tmp_path / "empty.csv"
    empty.touch()
    for words in (
        ["nope.toml"],
        [CARRIER, "--loadout", "bear"],
        [TANK, "--log", empty],
        ["--loadout", "bare"],
        [TANK, "--baud", "9600"],
        [TANK, "--port", "/dev/x", "--baud", "0"],
    ):
        ran = run("bench", *words)
        assert ran.code == 2
        assert "remedy:" in ran.err
    assert started == []


def test_another_address_needs_a_yes(run: Run, started: list[tuple[object, ...]]) -> None:
    """The browser's bench stays on this machine unless that is given up in so many words."""
    assert run("bench", TANK, "--browser", "--host", "192.0.2.5").code == 2
    assert started == []
    words = ("--browser", "--host", "192.0.2.5", "--yes-open-to-the-network")
    ran = run("bench", TANK, *words, "--quiet")
    assert ran.code == 128 + signal.SIGINT
    assert "anybody there can move its sticks" in ran.err
    ran = run("bench", TANK, "--browser")
    assert ran.code == 128 + signal.SIGINT
    assert ran.err == ""
    assert "http://127.0.0.1:8765" in ran.out
    assert started == [
        ("tui.browser", [str(TANK)], "192.0.2.5", 8765),
        ("tui.browser", [str(TANK)], "127.0.0.1", 8765),
    ]


@pytest.mark.parametrize(
    "words",
    [
        ["--web-port", "0"],
        ["--web-port", "65536"],
        ["--host", "0.0.0.0", "--yes-open-to-the-network"],
        ["--host", "::", "--yes-open-to-the-network"],
    ],
)
def test_an_address_no_page_can_name_is_refused(
    run: Run, started: list[tuple[object, ...]], words: list[str]
) -> None:
    """A port that is none, and "every address at once", which the server's own check would turn away."""
    ran = run("bench", TANK, "--browser", *words)
    assert ran.code == 2
    assert "remedy:" in ran.err
    assert started == []
