"""Each contradiction a profile can hold is refused alone, with its place, its value and a remedy."""

import re
import tomllib
from pathlib import Path

import pytest

from tests.profile.texts import BASE, assert_only, refusals, spoiled

CASES = tomllib.loads(Path(__file__).with_name("contradictions.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", CASES)
def test_contradiction_is_refused_with_its_remedy(name: str) -> None:
    """One contradiction gives one problem, which says where, what and what would be right."""
    case = CASES[name]
    text = spoiled(case["old"], case["new"]) if "old" in case else BASE + case["new"]

    assert_only(text, re.escape("{where}: {key}: {said} | {remedy}".format(**case)))


def test_too_many_outputs_are_refused() -> None:
    """A 25th output does not fit the core."""
    extra = "".join(f"[output.o{n}]\npin = {n + 20}\nmix = {{ tip = 1 }}\n" for n in range(22))

    assert_only(
        BASE + extra,
        re.escape(
            "p.toml:102: output.o21: 25 outputs are too many | use 24 at most, of which this is the next"
        ),
    )


def test_too_many_actuators_are_refused() -> None:
    """A ninth actuator does not fit the core."""
    extra = "".join(
        f'[output.o{n}]\npin = {n + 20}\nmix = {{ tip = 1 }}\n[actuator.a{n}]\noutput = "o{n}"\n'
        for n in range(8)
    )

    assert_only(
        BASE + extra,
        re.escape(
            "p.toml:77: actuator.a7: 9 actuators are too many | use 8 at most, of which this is the next"
        ),
    )


def test_promise_is_reckoned_with_the_ramp() -> None:
    """Stopping by ramp needs the slowest output's way down: 250 lost, then 100 ms of 2 ms ticks."""
    slow = spoiled("pin = 7\n", "pin = 7\nslew_down_ms = 100\n").replace(
        "lost_after_ms = 250\n", 'lost_after_ms = 250\nstop = "ramp"\nstop_within_ms = 340\n'
    )

    expected = (
        "p.toml:40: guard.stop_within_ms: 340 ms cannot be kept: lost_after_ms 250, the slowest "
        "slew_down_ms and a tick of 2 ms make 350 ms | promise 350 or more, shorten lost_after_ms, shorten "
        "slew_down_ms, or stop by cut"
    )
    assert_only(slow, re.escape(expected))


def test_too_many_channels_are_refused() -> None:
    """A receiver has 16 channels, so a 17th stick can only share a number: both are said."""
    extra = "".join(f"[stick.s{n}]\nreceiver = {n % 16 + 1}\n" for n in range(12))

    assert any(": stick: 17 sticks and switches are too many |" in said for said in refusals(BASE + extra))
