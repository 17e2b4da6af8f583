"""From pulse to motor, and why the robot is not live."""

from dataclasses import replace

import pytest

from mixer.core.ops import ONE
from mixer.core.plan import OverRange
from mixer.core.rest import resting_inputs
from mixer.errors import OptionError
from mixer.runs.explain.chain import Explanation, explain
from mixer.runs.explain.positions import inputs_at
from tests.plans import tipper_plan


def chain(explanation: Explanation, output: str) -> list[tuple[str, str]]:
    """Stage and text of every step of one output."""
    steps = next(chain.steps for chain in explanation.outputs if chain.name == output)
    return [(step.stage, step.text) for step in steps]


def test_whole_chain() -> None:
    """Every stage of a wheel, with its numbers, in the firmware's order."""
    found = explain(tipper_plan(expo=ONE // 2), {"throttle": 1900, "steering": 1750})

    assert found.guard == "live"
    assert found.why_not_live == ()
    assert chain(found, "left") == [
        ("pulse", "throttle receives 1900 µs"),
        ("scale", "1900 µs between 1000/1500/2000 µs -> +80.0 %"),
        ("expo", "expo 0.5: +80.0 % -> +65.6 %"),
        ("pulse", "steering receives 1750 µs"),
        ("scale", "1750 µs between 1000/1500/2000 µs -> +50.0 %"),
        ("expo", "expo 0.5: +50.0 % -> +31.2 %"),
        ("mix", "throttle +65.6 % × +1 = +65.6 %"),
        ("mix", "steering +31.2 % × +1 = +31.2 %"),
        ("mix", "together +96.9 %"),
        ("over-range", "within range: +96.9 % stays"),
        ("guard", "live: the output follows, +96.9 %"),
        ("slew", "+96.9 %, reached"),
        ("wire", "+96.9 % between 1000/1500/2000 µs -> 1984 µs"),
    ]


def test_over_range_names_who_gives_way() -> None:
    """The group's policy is told by what it does."""
    plan = tipper_plan()
    yields = replace(plan, groups=(replace(plan.groups[0], policy=OverRange.YIELD, yielding=0),))
    at = {"throttle": 2000, "steering": 1750}

    assert (
        "over-range",
        "group wheels: all its outputs shrink by the same factor: +150.0 % -> +100.0 %",
    ) in chain(explain(plan, at), "left")
    assert ("over-range", "group wheels: throttle gives way: +150.0 % -> +100.0 %") in chain(
        explain(yields, at), "left"
    )


def test_interlock() -> None:
    """A closed outer stop blocks extending and says so; the limit shows where it bites."""
    free = chain(explain(tipper_plan(), {"tip": 2000}), "tray")
    blocked = chain(explain(tipper_plan(), {"tip": 2000, "stop_out": "closed"}), "tray")

    assert ("limit", "limit 0.5: +100.0 % -> +50.0 %") in free
    assert ("interlock", "both directions are free: +50.0 % -> +50.0 %") in free
    assert ("interlock", "extending blocked: end stop stop_out is closed: +50.0 % -> 0 %") in blocked
    assert blocked[-1] == ("wire", "0 % between 1000/1500/2000 µs -> 1500 µs")


@pytest.mark.parametrize(
    ("at", "guard", "reasons"),
    [
        ({"arm": "off"}, "resting", ("the arm switch arm is off, not on",)),
        (
            {"arm": 1000, "tip": 1800},
            "resting",
            ("the arm switch arm is off, not on", "tip is at +60.0 %, not"),
        ),
        (
            {"throttle": 0, "tip": 0},
            "stopped",
            ("no signal on throttle, tip", "the arm switch arm has not been seen"),
        ),
        ({"stop_out": "closed", "stop_in": "closed"}, "faulted", ("both end stops of tray are closed",)),
    ],
)
def test_why_not_live(at: dict[str, int | str], guard: str, reasons: tuple[str, ...]) -> None:
    """Each thing the guard waits for is named."""
    found = explain(tipper_plan(), at)

    assert found.guard == guard
    assert len(found.why_not_live) == len(reasons)
    for told, expected in zip(found.why_not_live, reasons, strict=True):
        assert told.startswith(expected)
    assert found.guard == guard


@pytest.mark.parametrize(
    ("at", "said"),
    [
        (
            {"throtle": 1500},
            r"^throtle: small has no such channel\n    remedy: did you mean 'throttle'\?",
        ),
        ({"zz": 1500}, r"remedy: known channels: arm, steering, stop_in, stop_out, throttle, tip$"),
        (
            {"arm": "maybe"},
            r"^arm=maybe: no pulse\n    remedy: a pulse in µs, such as 1500, or a position: off, on$",
        ),
        ({"throttle": -4}, r"^throttle=-4: no pulse"),
        ({"stop_in": 3}, r"^stop_in=3: no state of a contact\n    remedy: open or closed$"),
    ],
)
def test_what_fits_nothing(at: dict[str, int | str], said: str) -> None:
    """A name or value that fits nothing is refused with what would."""
    with pytest.raises(OptionError, match=said):
        explain(tipper_plan(), at)


def test_nothing_given_is_the_armed_robot_at_rest() -> None:
    """What is not named stands as hands off leave it: one definition for the whole program."""
    plan = tipper_plan()
    assert inputs_at(plan, {}) == resting_inputs(plan, armed=True)
