"""The speed at which a board is listened to is the one that its firmware is exported with."""

import re

import pytest

from mixer.board.kinds.known import BOARDS
from mixer.board.wiring.fit import Wiring, fit
from mixer.examples.shipped import example_path
from mixer.link.serial_port import BAUD
from mixer.link.speed import speed_of
from mixer.profile.aboard import Tunings
from mixer.profile.profile import parse_profile


@pytest.mark.parametrize(
    ("robot", "key"), [("tank_pair", "atmega328p"), ("tank_pair", "rp2040"), ("sample_carrier", "rp2040")]
)
def test_it_is_the_project_s_own(robot: str, key: str) -> None:
    """For a profile that names its board, whatever that is; without a name a bare pulse reader's."""
    text = re.sub(r"^board = .*\n", "", example_path(robot).read_text(encoding="utf-8"), flags=re.MULTILINE)
    profile = parse_profile(text, "mine.toml")
    assert speed_of(Tunings(profile)) == BAUD
    named = parse_profile(text.replace("[robot]\n", f'[robot]\nboard = "{key}"\n', 1), "mine.toml")
    wiring = fit(named, None, BOARDS[key], anew=True)
    assert isinstance(wiring, Wiring)
    assert speed_of(Tunings(named)) == wiring.baud
