"""Any robot that fits a board has a project that builds, without a warning; others are refused in words."""

import shutil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.board.kinds.known import BOARDS
from mixer.board.project.build import image_of_project
from mixer.board.project.source import sources_of
from mixer.board.wiring.fit import Wiring, fit
from mixer.board.wiring.reasons import reason, refusal
from mixer.board.wiring.table import rows_of, toml_lines
from mixer.profile.profile import parse_profile
from mixer.profile.read.overlay import Table
from tests.lengths import examples
from tests.profile.random_profiles import profiles


def usual(tables: Table) -> Table:
    """The same robot as builders have it: 255 counts, one pulse-sum wire."""
    for output in tables["output"].values():
        if output["wire"] == "duty":
            output["top"] = 255
    return tables | {"receiver": {"wire": "pulse-sum"}}


@pytest.mark.needs_tool("avr-gcc")
@pytest.mark.needs_tool("arm-none-eabi-gcc")
@given(profiles(), st.sampled_from(sorted(BOARDS)), st.sampled_from([True, True, False]))
@examples(3, 60)
def test_any_robot_builds_or_is_refused(tables: Table, key: str, common: bool) -> None:
    """Pins of Stickwright's own choosing; -Werror makes every warning a failure."""
    assert shutil.which("make"), "needs make: apt-get install make"
    profile = parse_profile("", "p.toml", usual(tables) if common else tables)
    made = fit(profile, None, BOARDS[key], anew=True)
    if not isinstance(made, Wiring):
        assert reason(made)
        assert "p.toml" in str(refusal(profile, None, made))
        return
    assert len(rows_of(made)) == len(made.places)
    assert toml_lines(made)[0] == "[robot]"
    image = image_of_project(sources_of(profile, None, made), made.board)
    assert image.symbols["mix_tick"].is_code
