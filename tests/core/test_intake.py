"""Intake and scale: pulses, switches, contacts and the roll-over sensor."""

from dataclasses import replace
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from mixer.core import intake
from mixer.core.ops import ONE
from mixer.core.plan import ChannelPlan, ContactPlan, FlipPlan, SwitchPlan
from tests.plans import plain_stick
from tests.strategies import rounded_ratio

CHANNEL = ChannelPlan("wire", 900, 2100, 1500, False)
pulses = st.integers(0, 65535)
spans = st.integers(1, 1500)


@pytest.mark.parametrize(
    ("pulse", "good"), [(0, False), (899, False), (900, True), (2100, True), (2101, False), (65535, False)]
)
def test_a_pulse_is_good_within_its_marks(pulse: int, good: bool) -> None:
    """Both marks themselves are good, and one beyond is not; a good pulse has age 0, any other ages."""
    assert intake.age_after(CHANNEL, pulse, 3, 10) == (good, 0 if good else 4)


def test_age_stops_where_the_channel_is_lost() -> None:
    """The age counts up to lost_ticks and stays there, however long the silence."""
    age, seen = 0, []
    for _ in range(8):
        _, age = intake.age_after(CHANNEL, 0, age, 5)
        seen.append(age)
    assert seen == [1, 2, 3, 4, 5, 5, 5, 5]


@given(pulses, pulses, pulses)
def test_median_is_the_middle(a: int, b: int, c: int) -> None:
    """The middle of the three in any order."""
    assert intake.median_of_three(a, b, c) == sorted((a, b, c))[1]


@given(spans, spans, st.integers(600, 2400), pulses)
def test_scale_is_the_nearest_command(low: int, high: int, centre: int, pulse: int) -> None:
    """Within 1 of the straight line through low end, centre and high end, and flat beyond the ends."""
    stick = plain_stick(
        "any",
        0,
        centre_us=centre,
        low_span_us=low,
        high_span_us=high,
        low_gain=rounded_ratio(low),
        high_gain=rounded_ratio(high),
    )
    away = pulse - centre
    exact = Fraction(away * ONE, low if away < 0 else high)
    assert abs(intake.scale(stick, pulse) - max(-ONE, min(ONE, exact))) <= 1
    assert intake.scale(stick, centre) == 0
    assert intake.scale(stick, centre + high) == ONE
    assert intake.scale(stick, centre - low) == -ONE


def test_every_span_reaches_full_exactly() -> None:
    """Full stick is exactly full for every span there can be, both ways alike, and not a µs before."""
    for span in range(1, 4001):
        gain = rounded_ratio(span)
        stick = plain_stick("any", 0, low_span_us=span, high_span_us=span, low_gain=gain, high_gain=gain)
        assert (intake.scale(stick, 1500 - span), intake.scale(stick, 1500 + span)) == (-ONE, ONE)
        assert intake.scale(stick, 1500 + span - 1) < ONE


@given(spans, st.integers(0, 1500), st.booleans())
def test_scale_is_odd_about_its_centre(span: int, away: int, reverse: bool) -> None:
    """With equal spans and no trim a mirrored pulse gives the mirrored command."""
    gain = rounded_ratio(span)
    stick = plain_stick(
        "any", 0, low_span_us=span, high_span_us=span, low_gain=gain, high_gain=gain, reverse=reverse
    )
    assert intake.scale(stick, 1500 - away) == -intake.scale(stick, 1500 + away)


@given(pulses, st.integers(-ONE, ONE))
def test_trim_shifts_within_full_and_after_reverse(pulse: int, trim: int) -> None:
    """Trim adds to the command the driver sees, so it comes after reverse; full stays full."""
    backwards = plain_stick("any", 0, reverse=True)
    trimmed = replace(backwards, trim=trim)
    expected = max(-ONE, min(ONE, intake.scale(backwards, pulse) + trim))
    assert intake.scale(trimmed, pulse) == expected


def test_a_one_sided_stick_rests_on_its_other_side() -> None:
    """With no span below the centre, everything below the centre is no command."""
    stick = plain_stick("trigger", 0, low_span_us=0, low_gain=0)
    assert [intake.scale(stick, pulse) for pulse in (0, 1000, 1500, 1750, 2000)] == [0, 0, 0, ONE // 2, ONE]


SWITCHES = [
    SwitchPlan("two", 0, (1500,), 50, False, ("off", "on")),
    SwitchPlan("two reversed", 0, (1500,), 50, True, ("off", "on")),
    SwitchPlan("three", 0, (1300, 1700), 40, False, ("low", "middle", "high")),
    SwitchPlan("three reversed", 0, (1300, 1700), 40, True, ("low", "middle", "high")),
    SwitchPlan("no hysteresis", 0, (1300, 1700), 0, False, ("low", "middle", "high")),
]


@pytest.mark.parametrize("switch", SWITCHES, ids=lambda switch: switch.name)
def test_switch_positions_over_every_pulse(switch: SwitchPlan) -> None:
    """Clear of the bands the position is the number of edges passed; inside a band it stays."""
    last = len(switch.edges_us)
    for before, pulse in product(range(last + 1), range(900, 2101)):
        raised = last - before if switch.reverse else before
        clear = sum(pulse >= edge + switch.hysteresis_us for edge in switch.edges_us)
        could = sum(pulse >= edge - switch.hysteresis_us for edge in switch.edges_us)
        expected = max(clear, min(could, raised))
        if switch.reverse:
            expected = last - expected
        assert intake.position_of(switch, pulse, before) == expected


def test_a_pulse_wandering_inside_the_band_never_moves_the_switch() -> None:
    """Noise up to the hysteresis around an edge causes no chatter, from either side."""
    for before in (0, 1):
        position = before
        for pulse in (1500, 1549, 1450, 1520, 1460, 1549):
            position = intake.position_of(SWITCHES[0], pulse, position)
            assert position == before


@pytest.mark.parametrize(("switch", "expected"), [(0, [0, ONE]), (2, [-ONE, 0, ONE])])
def test_switches_in_the_mix(switch: int, expected: list[int]) -> None:
    """Two positions are nothing and full; three are full back, nothing and full."""
    assert [intake.command_of(SWITCHES[switch], at) for at in range(len(expected))] == expected


@given(st.lists(st.integers(0, 1), max_size=60), st.integers(0, 1), st.integers(0, 6))
def test_a_contact_closes_at_once_and_opens_late(
    readings: list[int], closed_reads: int, release: int
) -> None:
    """Closed now, or closed within the last `release` ticks; from power-up it is open."""
    contact = ContactPlan("stop", closed_reads, release)
    remaining = 0
    for now, reading in enumerate(readings):
        closed, remaining = intake.contact_after(contact, reading, remaining)
        recent = readings[max(0, now - max(0, release - 1)) : now + 1]
        assert closed == (closed_reads in recent)


@given(st.lists(st.booleans(), max_size=60), st.integers(1, 5))
def test_a_roll_over_is_believed_once_it_lasts(readings: list[bool], settle: int) -> None:
    """The side changes in the tick in which the other reading has lasted `settle_ticks`, never sooner."""
    flip = FlipPlan(0, settle)
    flipped, waited, before, lasted = 0, 0, 0, 0
    for reading in readings:
        flipped, waited = intake.flipped_after(flip, reading, flipped, waited)
        lasted = lasted + 1 if reading != before else 0
        if lasted >= settle:
            before, lasted = 1 - before, 0
        assert flipped == before


@given(spans, spans)
def test_unequal_spans_meet_at_the_centre(low: int, high: int) -> None:
    """Either side is scaled by its own span: no jump and no turning back at the centre."""
    assume(low != high)
    stick = plain_stick(
        "any",
        0,
        low_span_us=low,
        high_span_us=high,
        low_gain=rounded_ratio(low),
        high_gain=rounded_ratio(high),
    )
    below, at, above = (intake.scale(stick, pulse) for pulse in (1499, 1500, 1501))
    assert below < at == 0 < above or min(low, high) == 0
