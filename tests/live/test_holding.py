"""What keeps an output back, in words, held to what the outputs do."""

import random

from mixer.live.views.snapshot import OutputView
from tests.live.benches import Bench


def kinds(output: OutputView) -> list[str]:
    """What holds it back."""
    return [item.kind for item in output.held]


def test_nothing_holds_back_an_output_that_does_what_was_asked(bench: Bench) -> None:
    """And whatever holds one back shows: over random driving, command and list agree in both directions."""
    bench.arm()
    rng, seen = random.Random(4), set()
    bench.session.sticks.turn("pace", 2)
    for _ in range(120):
        for name in bench.session.sticks.names:
            bench.session.sticks.set(name, rng.uniform(-1.4, 1.4))
        for output in bench.session.step(rng.randint(1, 90)).outputs:
            found = kinds(output)
            seen.update(found)
            assert ("over-range" in found) == (output.mixed != output.blended)
            late = {"slew", "pause", "interlock"} & set(found)
            assert bool(late) == (output.command != output.wanted), output
            if "limit" in found:
                assert abs(output.wanted) == output.limit
    assert seen == {"over-range", "limit", "slew", "pause", "interlock"}


def test_a_reversal_first_slows_then_rests_then_goes(bench: Bench) -> None:
    """From full forward to back: slew, then the pause counting down in words, then slew again."""
    bench.arm()
    bench.session.sticks.set("throttle", 1.0)
    bench.run(1.0)
    bench.session.sticks.set("throttle", -1.0)
    order: list[str] = []
    words = []
    for _ in range(150):
        output = bench.session.step(1).outputs[0]
        found = (kinds(output) or ["free"])[-1]
        words += [item.words for item in output.held if item.kind == "pause"]
        if not order or order[-1] != found:
            order.append(found)
    assert order[-4:] == ["slew", "pause", "slew", "free"]
    assert words == [f"rests {left} ms more before it reverses" for left in range(28, 0, -2)]


def test_a_robot_at_rest_is_held_by_the_guard(bench: Bench) -> None:
    """Each output says so, and with the signal gone says stopped."""
    resting = bench.run(0.5)
    assert {item.words for output in resting.outputs for item in output.held} == {"resting: held at zero"}
