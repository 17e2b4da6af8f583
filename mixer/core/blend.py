"""Mix: sticks to outputs, and what happens when a group is asked for more than full.

Every policy is exactly odd (mirrored sources give mirrored outputs) and keeps each output within ±ONE.
"""

from collections.abc import Sequence

from mixer.core.ops import ONE, Value, clamp, divide, magnitude, maximum, mul, select


def contribution(weight: int, source: Value) -> Value:
    """What one source adds to one output. |weight| <= 2 ONE, |source| <= ONE."""
    if weight == 0:
        return 0
    if weight == ONE:
        return source
    if weight == -ONE:
        return -source
    return mul(source, weight)


def mix(weights: Sequence[int], sources: Sequence[Value]) -> Value:
    """One row of the matrix: the sum of the sources' contributions, not yet within range."""
    total: Value = 0
    for number, weight in enumerate(weights):
        if weight:
            total = total + contribution(weight, sources[number])
    return total


def clip(mixed: Value) -> Value:
    """Each output alone is held at full."""
    return clamp(mixed, -ONE, ONE)


def scale_together(mixed: Sequence[Value]) -> list[Value]:
    """All shrink by the factor that brings the largest to full: ratios, and so the turn, stay.

    Values already within range stay exactly as they are. |mixed| <= 4 ONE.
    """
    peak: Value = ONE
    for value in mixed:
        peak = maximum(peak, magnitude(value))
    factor = divide(ONE * ONE, peak)
    return [clip(mul(value, factor)) for value in mixed]


def give_way(yielding: Sequence[Value], rest: Sequence[Value]) -> list[Value]:
    """The yielding source's contributions shrink by one factor until they fit beside the rest.

    The rest stays untouched, so that steering keeps its full effect while throttle gives way. The
    tightest output decides; its ratio room/share is found by cross-multiplication, so that the whole
    group costs one division. |yielding| <= 2 ONE, |rest| <= ONE.
    """
    room: Value = ONE
    share: Value = ONE
    for part, kept in zip(yielding, rest, strict=True):
        this_share = magnitude(part)
        this_room = ONE - select(part < 0, -kept, kept)
        tighter = this_room * share < room * this_share
        room = select(tighter, this_room, room)
        share = select(tighter, this_share, share)
    factor = clamp(divide(room * ONE, maximum(share, 1)), 0, ONE)
    return [clip(kept + mul(part, factor)) for part, kept in zip(yielding, rest, strict=True)]
