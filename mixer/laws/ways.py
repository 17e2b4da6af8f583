"""Which ways an output of a live robot can be asked to go: a stick with one side drives one way only."""

from functools import lru_cache

from mixer.core.plan import Plan, StickPlan
from mixer.laws.driving import Free
from mixer.laws.sticks import bent, switch_command


@lru_cache(maxsize=32)
def ways_of(plan: Plan) -> tuple[Free, ...]:
    """For each output whether some sticks and switches ask it forward, and in reverse."""
    sources = [_stick(plan, stick) for stick in plan.sticks]
    sources += [_ends([switch_command(plan.switches[at], p) for p in _live_positions(plan, at)])
                for at in plan.mixed_switches]  # fmt: skip
    found = []
    for output in plan.outputs:
        pairs = zip(output.weights, sources, strict=True)
        ends = [(weight * low, weight * high) for weight, (low, high) in pairs]
        found.append(Free(forward=sum(map(max, ends)) > 0, reverse=sum(map(min, ends)) < 0))
    return tuple(found)


def _stick(plan: Plan, stick: StickPlan) -> tuple[int, int]:
    """The ends of a stick's command, in any of its shapes, either way up: it never turns back between."""
    wire = plan.channels[stick.channel]
    positions = (0,) if stick.chooser is None else _live_positions(plan, stick.chooser)
    return _ends(
        [
            bent(stick, pulse, [position] * len(plan.switches), flipped).command
            for pulse in (wire.good_low_us, wire.good_high_us)
            for position in positions
            for flipped in (False, plan.flip is not None)
        ]
    )


def _live_positions(plan: Plan, switch: int) -> range:
    """Where a switch may stand while the robot is live: the arm switch where it arms."""
    arm = plan.guard.arm
    if arm is not None and arm.switch == switch:
        return range(arm.position, arm.position + 1)
    return range(len(plan.switches[switch].edges_us) + 1)


def _ends(commands: list[int]) -> tuple[int, int]:
    return min(commands), max(commands)
