"""README shows real commands with their real output, and no command goes unmentioned."""

import re
from pathlib import Path

import pytest

from mixer.cli.main import COMMANDS, main

README = Path("README.md").read_text(encoding="utf-8")
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
