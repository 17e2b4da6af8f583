"""What a robot does at neutral, against trying every pulse of every stick at every position."""

from pathlib import Path

import pytest

from mixer.core.plan import Plan
from mixer.laws.creep import commands_at_neutral
from mixer.laws.sticks import bent, stick_command
from mixer.profile.profile import load_profile
from tests.failsafe.wrong_cores import RICH

PROFILES = sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))
PLANS = [*(load_profile(path).plan() for path in PROFILES), RICH]


@pytest.mark.parametrize("plan", PLANS, ids=lambda plan: plan.name)
def test_the_farthest_commands_at_neutral_are_those_of_all_pulses(plan: Plan) -> None:
    """Looking for the ends of neutral, and at each shape once, leaves nothing out."""
    for stick in plan.sticks:
        channel, tried = plan.channels[stick.channel], {0}
        for position in range(len(stick.shapes)):
            given = [
                bent(stick, pulse, [position] * len(plan.switches), False).command
                for pulse in range(channel.good_low_us, channel.good_high_us + 1)
                if abs(stick_command(stick, pulse)) <= plan.guard.neutral_within
            ]
            tried |= {min(given, default=0), max(given, default=0)}

        limits = channel.good_low_us, channel.good_high_us
        assert commands_at_neutral(stick, *limits, plan.guard.neutral_within) == tried
