"""What a pin has shown: reckoned over whole runs of pulses as it is pulse by pulse."""

from hypothesis import given
from hypothesis import strategies as st

from mixer.failsafe.pins.wires.shown import PinTrace, Run
from tests.lengths import examples

RUNS = st.lists(
    st.tuples(st.integers(0, 30), st.integers(1, 20), st.integers(0, 19), st.integers(1, 6)), max_size=5
)
"""Of each run the gap before it, how long a pulse is high and how long low, how many there are."""


@given(RUNS, st.integers(0, 400), st.integers(1, 60))
@examples(200, 5000)
def test_a_stretch_is_high_as_long_as_its_pulses_are(
    drawn: list[tuple[int, int, int, int]], first: int, length: int
) -> None:
    """And until the end of the last of them."""
    runs, at = list[Run](), 0
    for gap, high, low, repeats in drawn:
        runs.append(Run(at + gap, high, high + low, repeats))
        at = runs[-1].end
    trace = PinTrace(runs, [], frozenset(), frozenset())
    spans = list(trace.high(first, first + length))
    total = sum(end - begin for begin, end in spans)
    assert trace.total(first, first + length) == (total, spans[-1][1] if spans else 0)
