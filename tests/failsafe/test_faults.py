"""The catalogue: pure, complete, and without effect before its onset."""

from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest

from mixer.faults import power
from mixer.faults.catalogue import catalogue
from mixer.faults.fault import At, Fault, Received, below, chance, hashed
from mixer.faults.stops import OPEN_CIRCUIT
from mixer.profile.profile import load_profile
from tests.plans import rig

PLAN = rig()
FAULTS = catalogue(PLAN)
LANES = 32
KINDS = {
    *("none", "all-lost", "channel-lost", "repeats-last", "preset", "too-short", "too-long", "just-below"),
    *("just-above", "lowest", "highest", "spikes", "burst", "slow", "jitter", "doubled", "intermittent"),
    *("flicker", "swapped", "reversed", "power-up", "reset", "reset-loop", "sag-reset", "overrun"),
    *("stuck-open", "stuck-closed", "bounces", "cable-off", "stops-swapped", "both-closed"),
    *(
        "motor-gone",
        "stalled",
        "jammed",
        "frozen",
        "foreign",
        "two-receivers",
        "faster",
        "slow-clock",
        "hang",
    ),
    *("stuck-on", "out-of-step", "other-firmware", "fast-clock"),
}


def at(tick: int, since: int, lanes: int = LANES) -> At:
    """A moment in which lane k is `since` + k ticks after its onset."""
    numbers = np.arange(lanes, dtype=np.uint32)
    pushed = np.full((len(PLAN.channels), lanes), 1700, np.int32)
    commands = np.full((len(PLAN.outputs), lanes), 12000, np.int32)
    after = np.arange(lanes, dtype=np.int32) + since
    return At(PLAN, tick, after, hashed(numbers, 0, 7), 2, tick % 2, pushed, commands)


def received(lanes: int = LANES) -> Received:
    """A frame with a different pulse on each channel."""
    level = np.repeat(np.array([[1600], [1400], [1200], [1000]], np.int32), lanes, axis=1)
    return Received(level, np.ones(level.shape, np.bool_))


def contacts(lanes: int = LANES) -> np.ndarray:
    """Readings with one contact of each actuator closed."""
    return np.repeat(np.array([[1], [1], [0], [1]], np.int32), lanes, axis=1)


def test_every_kind_of_fault_is_there_once() -> None:
    """Keys are unique, and every kind that is known to go wrong is in the catalogue."""
    keys = [fault.key for fault in FAULTS]
    assert len(set(keys)) == len(keys)
    assert {key.partition(".")[0] for key in keys} == KINDS
    assert {f"channel-lost.{channel.name}" for channel in PLAN.channels} <= set(keys)


def test_what_cannot_be_seen_comes_with_advice() -> None:
    """Wherever the firmware is blind, the catalogue says what to do instead."""
    assert [fault.key for fault in FAULTS if fault.unseen and not fault.advice] == []
    assert all(fault.words.endswith(".") for fault in FAULTS)


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.key)
def test_a_fault_is_pure_and_waits_for_its_onset(fault: Fault) -> None:
    """Before the onset nothing changes; the same question gets the same answer; inputs stay as given."""
    for tick in (0, 1, 6):
        early, late = at(tick, -100), at(tick, 3)
        given = received()
        before = fault.receive(given, early)
        assert np.array_equal(before.level * before.arrives, given.level)
        assert np.array_equal(fault.read(contacts(), early), contacts())
        resets, misses = fault.resets(early), fault.misses(early)
        assert resets is None or not resets.any()
        assert misses is None or not misses.any()
        first, second = fault.receive(given, late), fault.receive(given, late)
        assert all(np.array_equal(a, b) for a, b in zip(first, second, strict=True))
        assert np.array_equal(given.level, received().level)
        assert given.arrives.all()
        assert set(np.unique(fault.read(contacts(), late))) <= {0, 1}


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.key)
def test_lanes_do_not_see_each_other(fault: Fault) -> None:
    """A lane alone gives what it gives among others."""
    whole, moment = fault.receive(received(), at(6, 2)), at(6, 2)
    alone = At(
        PLAN, 6, moment.since[5:7], moment.seed[5:7], 2, 0, moment.pushed[:, 5:7], moment.commands[:, 5:7]
    )
    part = fault.receive(received(2), alone)
    assert np.array_equal(part.level * part.arrives, (whole.level * whole.arrives)[:, 5:7])
    assert np.array_equal(fault.read(contacts(2), alone), fault.read(contacts(), moment)[:, 5:7])


def by_key(key: str) -> Fault:
    """One fault of the catalogue."""
    return next(fault for fault in FAULTS if fault.key == key)


def test_losses_take_pulses_away() -> None:
    """A lost channel brings none, and the others go on."""
    after = by_key("channel-lost.turn").receive(received(), at(0, 1))
    assert not after.arrives[1].any()
    assert after.arrives[[0, 2, 3]].all()
    assert not by_key("all-lost").receive(received(), at(0, 1)).arrives.any()


def test_a_receiver_that_repeats_sends_the_pushed_sticks() -> None:
    """Whatever the operator does now, the pulses are those of the onset."""
    assert (by_key("repeats-last").receive(received(), at(0, 1)).level == 1700).all()


def test_pulses_at_the_edge_are_just_in_or_just_out() -> None:
    """One microsecond decides between valid and not."""
    low, high = PLAN.channels[0].good_low_us, PLAN.channels[0].good_high_us
    levels = {key: by_key(f"{key}.throttle").receive(received(), at(0, 1)).level[0, 0] for key in
              ("just-below", "just-above", "lowest", "highest")}  # fmt: skip
    assert levels == {"just-below": low - 1, "just-above": high + 1, "lowest": low, "highest": high}


def test_a_cable_off_reads_an_open_circuit() -> None:
    """A contact wired to open at the end is then closed for ever; the other kind is blind."""
    read = by_key("cable-off.a_in").read(contacts(), at(0, 1))
    assert (read[1] == OPEN_CIRCUIT).all()
    assert not by_key("cable-off.a_out").unseen
    assert by_key("cable-off.a_in").unseen is False, "the travel is watched there"


def test_the_contact_that_tells_the_way_up_is_never_known_to_be_wrong() -> None:
    """Stuck either way or off, the sticks are turned round: no run can show that a hand did not mean it."""
    plan = load_profile(Path(__file__).parents[2] / "profiles" / "long_crawler.toml").plan()
    keys = ("stuck-open.tilt", "stuck-closed.tilt", "cable-off.tilt")
    found = [fault for fault in catalogue(plan) if fault.key in keys]
    assert len(found) == 3
    assert all(fault.unseen and "Turn it over" in fault.advice for fault in found)


def test_bounces_and_chances_come_as_often_as_they_say() -> None:
    """Over many ticks the share of hits is the parameter, within a few standard deviations."""
    seeds = hashed(np.arange(500, dtype=np.uint32), 0, 1)
    hits = np.mean([chance(seeds, tick, 3, 0.3).mean() for tick in range(200)])
    assert abs(hits - 0.3) < 0.005
    drawn = np.concatenate([below(seeds, tick, 4, 10) for tick in range(200)])
    assert drawn.min() == 0
    assert drawn.max() == 9
    assert abs(np.bincount(drawn, minlength=10) / len(drawn) - 0.1).max() < 0.004


def test_faults_are_small_frozen_objects() -> None:
    """Every fault can be shown by its fields and cannot be changed."""
    for fault in FAULTS:
        assert {"key", "words", "advice"} <= {item.name for item in fields(fault)}
        with pytest.raises(AttributeError):
            fault.key = "other"  # type: ignore[misc]


def test_a_hang_ends_as_the_exported_firmware_ends_it() -> None:
    """Its watchdog waits as long in C; what that ends must stop the robot, a lazier one is told."""
    firmware = Path(power.__file__).parents[1] / "board" / "firmware"
    config = (firmware / "config.h").read_text(encoding="utf-8")
    assert f"#define WATCHDOG_MS {power.WATCHDOG_MS} " in config
    ours, lazy = (fault for fault in FAULTS if fault.kind == "hang")
    assert (ours.key, ours.must_stop, ours.unseen) == ("hang.64", True, False)
    assert 64 * 1.1 <= ours.restart_ticks * PLAN.tick_ms < 64 * 1.1 + PLAN.tick_ms
    assert (lazy.key, lazy.must_stop, lazy.unseen) == ("hang.1000", False, True)
    assert "export --board" in lazy.advice
