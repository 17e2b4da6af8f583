"""Spans found stretch by stretch are those that a look at all flags at once finds."""

from itertools import groupby, pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from mixer.review import spans
from mixer.review.spans import Span, Spans
from mixer.runs.play.stretch import Stretch


def stretches(flags: list[bool], cuts: list[int]) -> list[tuple[Stretch, np.ndarray]]:
    """The flags cut at some places, each with rows that say which tick they are of."""
    edges = sorted({0, *(cut for cut in cuts if cut < len(flags)), len(flags)})
    rows = np.arange(len(flags), dtype=np.int32)[:, None]
    return [(Stretch(a, rows[a:b], rows[a:b]), np.array(flags[a:b], np.bool_)) for a, b in pairwise(edges)]


@given(
    st.lists(st.booleans(), min_size=1, max_size=60),
    st.lists(st.integers(1, 59), max_size=6),
    st.integers(1, 4),
)
def test_cuts_make_no_difference(flags: list[bool], cuts: list[int], least: int) -> None:
    """Beginnings, lengths, first rows and sums are right wherever the stretches are cut."""
    watch = Spans(least)
    for stretch, told in stretches(flags, cuts):
        watch.add(stretch, told)
    expected, at = [], 0
    for is_so, run in groupby(flags):
        count = len(list(run))
        if is_so and count >= least:
            expected.append(Span(count, at, (at,), ended=at + count < len(flags)))
        at += count
    assert watch.found() == tuple(expected)
    assert watch.ticks == sum(flags)
    assert watch.longest() == max(expected, default=None)


def test_the_longest_are_kept(monkeypatch: object) -> None:
    """Beyond what is kept, the short ones are forgotten and counted."""
    flags = [n % 3 != 0 for n in range(3 * (spans.MOST_SPANS + 5))] + [False, *[True] * 9, False]
    watch = Spans()
    for stretch, told in stretches(flags, [100, 400]):
        watch.add(stretch, told)
    assert len(watch.found()) == spans.MOST_SPANS
    assert watch.count == spans.MOST_SPANS + 6
    longest = watch.longest()
    assert longest is not None
    assert longest.ticks == 9
