"""Firmware made wrong on purpose: the test of the tester.

Each wrong core replaces one function of the core by a copy with one mistake a firmware author might make.
None crashes; each runs and drives. Campaign or proof must catch every one of them.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import import_module
from typing import Any
from unittest.mock import patch

from mixer.core import drive, ops
from mixer.core import tick as firmware
from mixer.core.drive import OutputState
from mixer.core.guard import GuardState
from mixer.core.ops import ONE, clamp, magnitude, maximum, minimum, negation, select
from mixer.core.plan import Guard, Plan
from tests.failsafe.rigs import rig


@dataclass(frozen=True)
class WrongCore:
    """One mistake: where it is, what it is, and on which robot it shows."""

    key: str
    words: str
    target: str
    """``module.function`` below mixer.core."""
    replacement: Callable[..., Any]
    plan: Plan

    @contextmanager
    def built_in(self) -> Iterator[None]:
        """The core with this mistake."""
        module, _, name = self.target.partition(".")
        with patch.object(import_module(f"mixer.core.{module}"), name, self.replacement):
            yield


# ---- Intake ------------------------------------------------------------------------------------


def _age(good_of: Callable[..., Any], *, fresh: int = 0, cap: int = 0) -> Callable[..., Any]:
    def age_after(channel: Any, pulse: Any, age: Any, lost_ticks: int) -> Any:  # noqa: ANN401
        good = good_of(channel, pulse)
        return good, select(good, fresh, minimum(age + 1, lost_ticks + cap))

    return age_after


def _is_good(channel: Any, pulse: Any) -> Any:  # noqa: ANN401
    return (pulse >= channel.good_low_us) & (pulse <= channel.good_high_us)


def _uses_bad_pulses(channel: Any, pulse: Any, age: Any, lost_ticks: int) -> Any:  # noqa: ANN401
    good = _is_good(channel, pulse)
    return pulse > 0, select(good, 0, minimum(age + 1, lost_ticks))


def _ages_by_two(channel: Any, pulse: Any, age: Any, lost_ticks: int) -> Any:  # noqa: ANN401
    good = _is_good(channel, pulse)
    return good, select(good, maximum(age - 2, 0), minimum(age + 1, lost_ticks))


def _no_debounce(contact: Any, reading: Any, _: Any) -> Any:  # noqa: ANN401
    return reading == contact.closed_reads, 0


def _one_polarity(contact: Any, reading: Any, remaining: Any) -> Any:  # noqa: ANN401
    touching = reading == 1
    remaining = select(touching, contact.release_ticks, maximum(remaining - 1, 0))
    return touching | (remaining > 0), remaining


def _slow_to_close(contact: Any, reading: Any, remaining: Any) -> Any:  # noqa: ANN401
    touching = reading == contact.closed_reads
    counted = select(touching, minimum(remaining + 1, contact.release_ticks), 0)
    return counted >= contact.release_ticks, counted


def _short_release(contact: Any, reading: Any, remaining: Any) -> Any:  # noqa: ANN401
    touching = reading == contact.closed_reads
    remaining = select(touching, contact.release_ticks - 1, maximum(remaining - 1, 0))
    return touching | (remaining > 0), remaining


def _never_opens(contact: Any, reading: Any, remaining: Any) -> Any:  # noqa: ANN401
    remaining = select(reading == contact.closed_reads, contact.release_ticks, remaining)
    return remaining > 0, remaining


def _no_hysteresis(switch: Any, pulse: Any, _: Any) -> Any:  # noqa: ANN401
    passed = sum((ops.as_number(pulse >= edge) for edge in switch.edges_us), 0)
    return len(switch.edges_us) - passed if switch.reverse else passed


def _switch_not_reversed(switch: Any, pulse: Any, position: Any) -> Any:  # noqa: ANN401
    passed = 0
    for number, edge in enumerate(switch.edges_us, start=1):
        threshold = select(position >= number, edge - switch.hysteresis_us, edge + switch.hysteresis_us)
        passed = passed + ops.as_number(pulse >= threshold)
    return passed


_take_in = firmware.take_in


def _signal_from(combine: Callable[[list[Any]], Any]) -> Callable[..., Any]:
    def take_in(plan: Plan, inputs: Any, record: Any) -> Any:  # noqa: ANN401
        taken = _take_in(plan, inputs, record)
        ages = record.note[1 : 3 * len(plan.channels) : 3]
        return taken._replace(signal=combine([age < plan.guard.lost_ticks for age in ages]))

    return take_in


def _any_of(flags: list[Any]) -> Any:  # noqa: ANN401
    found = flags[0]
    for flag in flags[1:]:
        found = found | flag
    return found


def _first_two(flags: list[Any]) -> Any:  # noqa: ANN401
    return flags[0] & flags[1]


# ---- Neutral and flip --------------------------------------------------------------------------


def _bend(
    *, skip_last: bool = False, after_shape: bool = False, all_flip: bool = False
) -> Callable[..., Any]:
    def bend(plan: Plan, taken: Any, flipped: Any, record: Any) -> Any:  # noqa: ANN401
        from mixer.core import intake, shape  # noqa: PLC0415

        neutral: Any = True
        commands = []
        for number, stick in enumerate(plan.sticks):
            scaled = intake.scale(stick, taken.pulses[stick.channel])
            bent = shape.shape(stick.shapes[0], scaled)
            judged = bent.rated if after_shape else scaled
            if not (skip_last and number == len(plan.sticks) - 1):
                neutral = neutral & (magnitude(judged) <= plan.guard.neutral_within)
            turns = stick.flips or all_flip
            command = select(flipped > 0, -bent.rated, bent.rated) if turns else bent.rated
            commands.append(command)
            record.note.extend((scaled, *bent, command))
        return commands, neutral

    return bend


def _only_forward(x: Any) -> Any:  # noqa: ANN401
    return select(x < 0, 0, x)


def _flip_shifts_neutral(plan: Plan, taken: Any, flipped: Any, record: Any) -> Any:  # noqa: ANN401
    commands, neutral = _bend()(plan, taken, flipped, record)
    return commands, neutral | (flipped > 0)


# ---- Guard -------------------------------------------------------------------------------------


def _guard(**wrong: bool) -> Callable[..., Any]:
    """A copy of the guard in which some of its conditions are left out."""

    def guard_after(plan: Any, before: Any, signal: Any, neutral: Any, arm_on: Any, fault: Any) -> Any:  # noqa: ANN401
        disarmed = signal & negation(arm_on)
        if wrong.get("loss_disarms"):
            disarmed = negation(signal & arm_on)
        keeps = plan.resumes or wrong.get("arm_survives_loss")
        remembered = before.seen_off if keeps else select(signal, before.seen_off, 0)
        seen_off = select(disarmed, 1, remembered) if plan.arm_switch >= 0 else 1
        if wrong.get("no_edge"):
            seen_off = 1
        ready = arm_on & (seen_off > 0) & negation(fault)
        ready = ready if wrong.get("no_neutral") else ready & neutral
        ready = ready if wrong.get("no_signal") else ready & signal
        held = select(ready, minimum(before.held + 1, plan.hold_ticks), 0)
        if wrong.get("held_survives"):
            held = select(ready, minimum(before.held + 1, plan.hold_ticks), before.held)
            held = select(before.state == Guard.LIVE, 0, held)
        enough = plan.hold_ticks - 1 if wrong.get("short_hold") else plan.hold_ticks
        enough = 1 if wrong.get("no_hold") else enough
        stays = before.state == Guard.LIVE
        stays = stays if wrong.get("arm_off_ignored") else stays & arm_on
        follows = (held >= enough) | stays
        if wrong.get("starts_live"):
            follows = follows | (before.state == Guard.SEARCHING)
        with_signal = select(follows, int(Guard.LIVE), int(Guard.RESTING))
        never = before.state == Guard.SEARCHING
        without = select(never, int(Guard.SEARCHING), int(Guard.STOPPED))
        if wrong.get("loss_ignored"):
            without = before.state
        latched = fault | ((before.state == Guard.FAULTED) & negation(disarmed))
        if wrong.get("no_latch"):
            latched = fault
        if wrong.get("reset_wins"):
            latched = (fault | (before.state == Guard.FAULTED)) & negation(disarmed)
        state = select(latched, int(Guard.FAULTED), select(signal, with_signal, without))
        return GuardState(state, held, seen_off), disarmed

    return guard_after


# ---- Interlock ---------------------------------------------------------------------------------


def _allowed(**wrong: bool) -> Callable[..., Any]:
    def allowed(plan: Any, out_closed: Any, in_closed: Any, latched: Any, driven: Any) -> Any:  # noqa: ANN401
        out_blocked, in_blocked = out_closed, in_closed
        if wrong.get("swapped"):
            out_blocked, in_blocked = in_closed, out_closed
        if wrong.get("both_ways"):
            out_blocked = in_blocked = out_closed | in_closed
        if wrong.get("outer_only"):
            in_blocked = False
        if plan.travel_limit and not wrong.get("no_travel"):
            too_far = (driven >= plan.travel_limit) | (driven <= -plan.travel_limit)
            out_blocked = out_blocked | (
                too_far if wrong.get("travel_both") else driven >= plan.travel_limit
            )
            in_blocked = in_blocked | (
                too_far if wrong.get("travel_both") else driven <= -plan.travel_limit
            )
        if not plan.stops_robot and not wrong.get("no_latch"):
            out_blocked = out_blocked | (latched > 0)
            in_blocked = in_blocked | (latched > 0)
        return select(in_blocked, 0, -ONE), select(out_blocked, 0, ONE)

    return allowed


def _never_both(plan: Any, out_closed: Any, in_closed: Any, both: Any) -> Any:  # noqa: ANN401
    both = select(out_closed & in_closed, minimum(both + 1, plan.both_ticks), 0)
    return both > plan.both_ticks, both


def _own_latch_opens(fault: Any, _disarmed: Any, _latched: Any) -> Any:  # noqa: ANN401
    return select(fault, 1, 0)


def _driven(*, never_met: bool = False, no_turn: bool = False) -> Callable[..., Any]:
    def driven_after(plan: Any, command: Any, out_closed: Any, in_closed: Any, driven: Any) -> Any:  # noqa: ANN401
        if not plan.travel_limit:
            return 0
        start = driven
        if not no_turn:
            start = select(command > 0, maximum(driven, 0), select(command < 0, minimum(driven, 0), driven))
        met = (out_closed & (start > 0)) | (in_closed & (start < 0))
        moved = clamp(start + command, -plan.travel_limit, plan.travel_limit)
        return moved if never_met else select(met, 0, moved)

    return driven_after


# ---- Drive -------------------------------------------------------------------------------------


def _drive(**wrong: Any) -> Callable[..., Any]:  # noqa: ANN401
    def driven(plan: Any, wanted: Any, low: Any, high: Any, cut: Any, before: Any) -> Any:  # noqa: ANN401
        bypassed = wrong.get("bypass") == plan.name
        target = clamp(wanted, low, high)
        if plan.pause_ticks:
            most = select(before.pause < 0, 0, ONE)
            target = clamp(target, select(before.pause > 0, 0, -ONE), most)
        moved = drive.slew(plan, target, before.command) if plan.slews else target
        held = moved if wrong.get("late_clamp") else clamp(moved, low, high)
        command = held if bypassed else select(cut, 0, held)
        if wrong.get("keeps_last") == plan.name:
            command = select(cut, before.command, held)
        pause = drive.pause_after(plan, command, before.pause) if plan.pause_ticks else 0
        return OutputState(command, pause)

    return driven


def _no_limit(plan: Any, blended: Any) -> Any:  # noqa: ANN401
    return drive.breakaway(blended, plan.breakaway)


def _limit_before_breakaway(plan: Any, blended: Any) -> Any:  # noqa: ANN401
    held = clamp(blended, -plan.limit, plan.limit)
    return clamp(held + select(held > 0, 600, select(held < 0, -600, 0)), -ONE, ONE)


def _slew(*, up: bool = True, down: bool = True, stops_at_zero: bool = True) -> Callable[..., Any]:
    def slew(plan: Any, wanted: Any, before: Any) -> Any:  # noqa: ANN401
        up_step = plan.up_step if up else ONE
        down_step = plan.down_step if down else ONE
        if not stops_at_zero:
            return clamp(wanted, before - up_step, before + up_step)
        least = select(before > 0, maximum(before - down_step, 0), before - up_step)
        most = select(before < 0, minimum(before + down_step, 0), before + up_step)
        return clamp(wanted, least, most)

    return slew


def _short_pause(plan: Any, command: Any, pause: Any) -> Any:  # noqa: ANN401
    full = plan.pause_ticks - 1
    resting = select(pause > 0, pause - 1, minimum(pause + 1, 0))
    return select(command > 0, full, select(command < 0, -full, resting))


_on_wire = drive.on_wire


def _wire_creeps(plan: Any, command: Any) -> Any:  # noqa: ANN401
    return _on_wire(plan, command) + 1


def _wire_not_reversed(plan: Any, command: Any) -> Any:  # noqa: ANN401
    return plan.rest + ops.mul(command, plan.high_span)


_tick = firmware.tick


def _forgetful() -> Callable[..., Any]:
    """Remembers, outside its state, how often it was called."""
    calls = [0]

    def tick(plan: Plan, inputs: Any, state: Any) -> Any:  # noqa: ANN401
        calls[0] += 1
        after = _tick(plan, inputs, state)
        if calls[0] % 50 == 0:
            after.signals[-1] = after.signals[-1] + 0 * calls[0] + 1
        return after

    return tick


RIG = rig()
RAMPING = rig(ramps=True)
RESUMING = rig(resumes=True)
_GOOD = _is_good


def _wrong_cores() -> Iterator[WrongCore]:
    def wrong(key: str, words: str, target: str, made: Callable[..., Any], plan: Plan = RIG) -> WrongCore:
        return WrongCore(key, words, target, made, plan)

    yield wrong("loss-never", "a channel never counts as lost", "intake.age_after", _age(_GOOD, cap=-1))
    yield wrong("loss-late", "the loss timeout is one tick late", "intake.age_after", _age(_GOOD, fresh=-1))
    yield wrong(
        "loss-leaky", "a good pulse takes only two ticks off the age", "intake.age_after", _ages_by_two
    )
    yield wrong(
        "any-pulse-good", "any pulse at all counts as signal", "intake.age_after", _age(lambda _, p: p > 0)
    )
    yield wrong(
        "no-upper-limit",
        "pulses may be any length",
        "intake.age_after",
        _age(lambda c, p: p >= c.good_low_us),
    )
    yield wrong(
        "no-lower-limit",
        "a missing pulse is a good one",
        "intake.age_after",
        _age(lambda c, p: p <= c.good_high_us),
    )
    yield wrong("bad-pulse-used", "an invalid pulse still steers", "intake.age_after", _uses_bad_pulses)
    yield wrong(
        "one-channel-enough", "signal while any channel is there", "tick.take_in", _signal_from(_any_of)
    )
    yield wrong(
        "arm-loss-unseen", "only the sticks' channels are watched", "tick.take_in", _signal_from(_first_two)
    )
    yield wrong(
        "no-debounce", "an end stop opens at the first bounce", "intake.contact_after", _no_debounce
    )
    yield wrong("short-release", "an end stop opens a tick early", "intake.contact_after", _short_release)
    yield wrong(
        "slow-to-close", "an end stop has to be closed for a while", "intake.contact_after", _slow_to_close
    )
    yield wrong("one-polarity", "every end stop reads 1 when closed", "intake.contact_after", _one_polarity)
    yield wrong("never-opens", "an end stop stays closed for ever", "intake.contact_after", _never_opens)
    yield wrong("no-hysteresis", "a switch flutters at its edge", "intake.position_of", _no_hysteresis)
    yield wrong(
        "arm-not-reversed",
        "the arm switch's reverse is forgotten",
        "intake.position_of",
        _switch_not_reversed,
    )
    yield wrong(
        "neutral-one-stick", "one stick may be pushed while arming", "tick.bend", _bend(skip_last=True)
    )
    yield wrong(
        "neutral-after-shape", "neutral is judged after the shape", "tick.bend", _bend(after_shape=True)
    )
    yield wrong(
        "neutral-forward-only", "a stick pulled back counts as neutral", "tick.magnitude", _only_forward
    )
    yield wrong("flip-turns-all", "upside down, steering is negated too", "tick.bend", _bend(all_flip=True))
    yield wrong(
        "flip-is-neutral", "upside down, any stick counts as neutral", "tick.bend", _flip_shifts_neutral
    )
    yield wrong(
        "no-arm-edge", "the arm switch need not be seen off", "guard.guard_after", _guard(no_edge=True)
    )
    yield wrong(
        "arm-survives-loss", "arming survives a loss", "guard.guard_after", _guard(arm_survives_loss=True)
    )
    yield wrong(
        "resume-pushed", "goes live with sticks pushed", "guard.guard_after", _guard(no_neutral=True)
    )
    yield wrong(
        "resume-at-once",
        "the hold runs without signal",
        "guard.guard_after",
        _guard(no_signal=True),
        RESUMING,
    )
    yield wrong("no-hold", "goes live at once", "guard.guard_after", _guard(no_hold=True))
    yield wrong("short-hold", "goes live a tick early", "guard.guard_after", _guard(short_hold=True))
    yield wrong(
        "hold-adds-up",
        "the hold adds up over interruptions",
        "guard.guard_after",
        _guard(held_survives=True),
    )
    yield wrong(
        "disarm-ignored", "switching off does not disarm", "guard.guard_after", _guard(arm_off_ignored=True)
    )
    yield wrong("loss-ignored", "stays live through a loss", "guard.guard_after", _guard(loss_ignored=True))
    yield wrong("starts-live", "live with the first signal", "guard.guard_after", _guard(starts_live=True))
    yield wrong(
        "fault-not-latched", "a fault goes when its cause goes", "guard.guard_after", _guard(no_latch=True)
    )
    yield wrong(
        "fault-overridden",
        "disarming overrides a present fault",
        "guard.guard_after",
        _guard(reset_wins=True),
    )
    yield wrong(
        "loss-clears-fault", "a loss clears a fault", "guard.guard_after", _guard(loss_disarms=True)
    )
    yield wrong(
        "stop-wrong-way", "an end stop blocks the wrong way", "interlock.allowed", _allowed(swapped=True)
    )
    yield wrong(
        "stop-both-ways", "an end stop blocks both ways", "interlock.allowed", _allowed(both_ways=True)
    )
    yield wrong(
        "outer-stop-only", "the inner end stop is ignored", "interlock.allowed", _allowed(outer_only=True)
    )
    yield wrong(
        "no-travel-watch", "the travel is not watched", "interlock.allowed", _allowed(no_travel=True)
    )
    yield wrong(
        "travel-locks", "too long one way blocks both ways", "interlock.allowed", _allowed(travel_both=True)
    )
    yield wrong(
        "own-latch-ignored",
        "an actuator's own fault is ignored",
        "interlock.allowed",
        _allowed(no_latch=True),
    )
    yield wrong(
        "own-latch-opens", "an actuator's fault is not latched", "interlock.latch", _own_latch_opens
    )
    yield wrong(
        "both-closed-unseen", "both stops closed is never a fault", "interlock.both_closed", _never_both
    )
    yield wrong(
        "travel-nets",
        "the travel sum goes on after turning round",
        "interlock.driven_after",
        _driven(no_turn=True),
    )
    yield wrong(
        "travel-never-met",
        "meeting a stop does not end the way",
        "interlock.driven_after",
        _driven(never_met=True),
    )
    yield wrong("stop-bypassed", "one output is not stopped at once", "drive.drive", _drive(bypass="right"))
    yield wrong(
        "keeps-last", "one output keeps its last command", "drive.drive", _drive(keeps_last="grip"), RAMPING
    )
    yield wrong(
        "veto-by-slew", "a veto is reached by the slew only", "drive.drive", _drive(late_clamp=True)
    )
    yield wrong("no-limit", "the limit is ignored", "drive.level", _no_limit)
    yield wrong("limit-exceeded", "the limit is applied too early", "drive.level", _limit_before_breakaway)
    yield wrong("no-slew-up", "rises at once", "drive.slew", _slew(up=False))
    yield wrong("no-slew-down", "falls at once", "drive.slew", _slew(down=False))
    yield wrong(
        "slow-ramp", "a stop ramps by the wrong step", "drive.slew", _slew(stops_at_zero=False), RAMPING
    )
    yield wrong("short-pause", "the reversal pause is a tick short", "drive.pause_after", _short_pause)
    yield wrong("wire-creeps", "the wire is never quite at rest", "drive.on_wire", _wire_creeps)
    yield wrong(
        "wire-not-reversed", "an output's reverse is forgotten", "drive.on_wire", _wire_not_reversed
    )
    yield wrong("hidden-memory", "a tick depends on how often it ran", "tick.tick", _forgetful())


WRONG_CORES = tuple(_wrong_cores())
