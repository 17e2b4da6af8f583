"""README shows real commands with their real output, and DEVELOPERS.md a true map of the house."""

import re
from pathlib import Path

import pytest

from mixer.cli.main import COMMANDS, main

README = Path("README.md").read_text(encoding="utf-8")
DEVELOPERS = Path("DEVELOPERS.md").read_text(encoding="utf-8")
MAP = DEVELOPERS.split("## The house")[1].split("```")[1]
SHOWN = re.findall(r"^```\n\$ stickwright (.+)\n((?:.*\n)*?)```$", README, re.MULTILINE)


def test_readme_shows_output() -> None:
    """There is something to check."""
    assert len(SHOWN) >= 2


@pytest.mark.parametrize(("words", "output"), SHOWN, ids=[words.split()[0] for words, _ in SHOWN])
def test_shown_output_is_what_the_command_prints(
    words: str, output: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A command shown in README prints exactly what README shows (blanks at line ends aside)."""
    arguments = [part.strip('"') for part in re.findall(r'"[^"]*"|\S+', words)]
    main([*arguments, "-q"])
    printed = [line.rstrip() for line in capsys.readouterr().out.splitlines()]
    assert printed == output.splitlines()


def test_every_command_is_in_the_readme() -> None:
    """Nobody has to guess what there is."""
    for command in COMMANDS:
        assert f"`stickwright {command} " in README


def test_the_map_shows_every_folder_and_no_other() -> None:
    """A folder of `mixer` or `tui` that is not on the map, or the other way round, is a lie of the map."""
    shown = set(re.findall(r"(?<![.\w])([a-z]+)/", MAP))
    folders = {
        path.name
        for top in ("mixer", "tui")
        for path in (Path(top), *Path(top).rglob("*"))
        if path.is_dir() and any(path.glob("*.py"))
    }
    assert folders - shown == set()
    assert {name for name in shown - folders if not any(Path().glob(f"**/{name}/"))} == set()


def test_every_path_that_is_named_is_there() -> None:
    """What DEVELOPERS.md calls by its path can be opened."""
    named = set(re.findall(r"`([a-z_/.]+/[a-z_/.]+\.(?:py|md|toml))`", DEVELOPERS))
    tops = ("", "mixer/")
    assert len(named) > 15
    assert [path for path in sorted(named) if not any(Path(top + path).is_file() for top in tops)] == []
