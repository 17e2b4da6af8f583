"""What a tick left behind, by name."""

from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.core.tick import FlatTick


def named(plan: Plan, after: FlatTick) -> dict[str, int]:
    """A tick's signals by name."""
    return dict(zip(layout_of(plan).signals, after.signals, strict=True))


def commands_of(plan: Plan, after: FlatTick) -> tuple[int, ...]:
    """The outputs' commands."""
    signals = named(plan, after)
    return tuple(signals[f"output.{output.name}.command"] for output in plan.outputs)
