"""Copies of the core's stages, each with one mistake that can be switched on."""
# ruff: noqa: D103 - the words stand in wrong_cores

from collections.abc import Callable
from typing import Any

from mixer.core import drive, intake, ops, shape
from mixer.core import tick as firmware
from mixer.core.guard import off_for_after
from mixer.core.ops import ONE, clamp, maximum, minimum, negation, select
from mixer.core.plan import Guard, Plan
from mixer.core.signals import GuardState, OutputState, StickSignals


def make_age(good_of: Callable[..., Any], *, fresh: int = 0, cap: int = 0) -> Callable[..., Any]:
    def age_after(channel: Any, pulse: Any, age: Any, lost_ticks: int) -> Any:  # noqa: ANN401
        good = good_of(channel, pulse)
        return good, select(good, fresh, minimum(age + 1, lost_ticks + cap))

    return age_after


def is_good(channel: Any, pulse: Any) -> Any:  # noqa: ANN401
    return (pulse >= channel.good_low_us) & (pulse <= channel.good_high_us)


def uses_bad_pulses(channel: Any, pulse: Any, age: Any, lost_ticks: int) -> Any:  # noqa: ANN401
    good = is_good(channel, pulse)
    return pulse > 0, select(good, 0, minimum(age + 1, lost_ticks))


def ages_by_two(channel: Any, pulse: Any, age: Any, lost_ticks: int) -> Any:  # noqa: ANN401
    good = is_good(channel, pulse)
    return good, select(good, maximum(age - 2, 0), minimum(age + 1, lost_ticks))


def no_debounce(contact: Any, reading: Any, _: Any) -> Any:  # noqa: ANN401
    return reading == contact.closed_reads, 0


def one_polarity(contact: Any, reading: Any, remaining: Any) -> Any:  # noqa: ANN401
    touching = reading == 1
    remaining = select(touching, contact.release_ticks, maximum(remaining - 1, 0))
    return touching | (remaining > 0), remaining


def slow_to_close(contact: Any, reading: Any, remaining: Any) -> Any:  # noqa: ANN401
    touching = reading == contact.closed_reads
    counted = select(touching, minimum(remaining + 1, contact.release_ticks), 0)
    return counted >= contact.release_ticks, counted


def short_release(contact: Any, reading: Any, remaining: Any) -> Any:  # noqa: ANN401
    touching = reading == contact.closed_reads
    remaining = select(touching, contact.release_ticks - 1, maximum(remaining - 1, 0))
    return touching | (remaining > 0), remaining


def never_opens(contact: Any, reading: Any, remaining: Any) -> Any:  # noqa: ANN401
    remaining = select(reading == contact.closed_reads, contact.release_ticks, remaining)
    return remaining > 0, remaining


def no_hysteresis(switch: Any, pulse: Any, _: Any) -> Any:  # noqa: ANN401
    passed = sum((ops.as_number(pulse >= edge) for edge in switch.edges_us), 0)
    return len(switch.edges_us) - passed if switch.reverse else passed


def switch_not_reversed(switch: Any, pulse: Any, position: Any) -> Any:  # noqa: ANN401
    passed = 0
    for number, edge in enumerate(switch.edges_us, start=1):
        threshold = select(position >= number, edge - switch.hysteresis_us, edge + switch.hysteresis_us)
        passed = passed + ops.as_number(pulse >= threshold)
    return passed


def make_signal(combine: Callable[[list[Any]], Any]) -> Callable[..., Any]:
    def has_signal(plan: Plan, channels: Any) -> Any:  # noqa: ANN401
        return combine([channel.age < plan.guard.lost_ticks for channel in channels])

    return has_signal


def any_of(flags: list[Any]) -> Any:  # noqa: ANN401
    found = flags[0]
    for flag in flags[1:]:
        found = found | flag
    return found


def first_two(flags: list[Any]) -> Any:  # noqa: ANN401
    return flags[0] & flags[1]


# ---- Neutral and flip --------------------------------------------------------------------------


def bend_and_flip(stick: Any, pulses: Any, _positions: Any, flipped: Any) -> Any:  # noqa: ANN401
    """Upside down, every stick is negated."""
    scaled = intake.scale(stick, pulses[stick.channel])
    bent = shape.shape(stick.shapes[0], scaled)
    return StickSignals(scaled, *bent, select(flipped > 0, -bent.rated, bent.rated))


def only_forward(x: Any) -> Any:  # noqa: ANN401
    return select(x < 0, 0, x)


_at_neutral, _ask_sticks = firmware.at_neutral, firmware.ask_sticks


def all_but_one_neutral(plan: Plan, sticks: Any, switched: Any) -> Any:  # noqa: ANN401
    return _at_neutral(plan, sticks[:-1], switched)


def neutral_after_shape(plan: Plan, sticks: Any, switched: Any) -> Any:  # noqa: ANN401
    return _at_neutral(plan, [stick._replace(scaled=stick.rated) for stick in sticks], switched)


_protect = firmware.protect


def flip_is_neutral(plan: Plan, heard: Any, neutral: Any, state: Any) -> Any:  # noqa: ANN401
    flipped = firmware.find_flip(plan, heard, state.flip)
    return _protect(plan, heard, neutral if flipped is None else neutral | (flipped.flipped > 0), state)


# ---- Guard -------------------------------------------------------------------------------------


def make_guard(**wrong: bool) -> Callable[..., Any]:
    """A copy of the guard in which some of its conditions are left out."""

    def guard_after(plan: Any, before: Any, signal: Any, neutral: Any, *rest: Any) -> Any:  # noqa: ANN401
        arm_on, fault, heard, clean = rest
        off = signal & negation(arm_on)
        if wrong.get("loss_disarms"):
            off = negation(signal & arm_on)
        off_for = off_for_after(plan, off, heard, clean, before.off_for)
        disarmed = off_for >= plan.off_ticks
        keeps = plan.resumes or wrong.get("arm_survives_loss")
        remembered = before.seen_off if keeps else select(signal, before.seen_off, 0)
        seen_off = select(disarmed, 1, remembered) if plan.arm else 1
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
        return GuardState(state, held, seen_off, off_for), disarmed

    return guard_after


# ---- Interlock ---------------------------------------------------------------------------------


def make_allowed(**wrong: bool) -> Callable[..., Any]:
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


def never_both(plan: Any, out_closed: Any, in_closed: Any, both: Any) -> Any:  # noqa: ANN401
    both = select(out_closed & in_closed, minimum(both + 1, plan.both_ticks), 0)
    return both > plan.both_ticks, both


def own_latch_opens(fault: Any, _disarmed: Any, _latched: Any) -> Any:  # noqa: ANN401
    return select(fault, 1, 0)


def make_driven(*, never_met: bool = False, no_turn: bool = False) -> Callable[..., Any]:
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


def make_drive(**wrong: Any) -> Callable[..., Any]:  # noqa: ANN401
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


def no_limit(plan: Any, blended: Any) -> Any:  # noqa: ANN401
    started = drive.breakaway(blended, plan.breakaway)
    return drive.Level(blended, started, started)


def limit_before_breakaway(plan: Any, blended: Any) -> Any:  # noqa: ANN401
    held = clamp(blended, -plan.limit, plan.limit)
    started = held + select(held > 0, 600, select(held < 0, -600, 0))
    return drive.Level(held, started, clamp(started, -ONE, ONE))


def make_slew(*, up: bool = True, down: bool = True, stops_at_zero: bool = True) -> Callable[..., Any]:
    def slew(plan: Any, wanted: Any, before: Any) -> Any:  # noqa: ANN401
        up_step = plan.up_step if up else ONE
        down_step = plan.down_step if down else ONE
        if not stops_at_zero:
            return clamp(wanted, before - up_step, before + up_step)
        least = select(before > 0, maximum(before - down_step, 0), before - up_step)
        most = select(before < 0, minimum(before + down_step, 0), before + up_step)
        return clamp(wanted, least, most)

    return slew


def short_pause(plan: Any, command: Any, pause: Any) -> Any:  # noqa: ANN401
    full = plan.pause_ticks - 1
    resting = select(pause > 0, pause - 1, minimum(pause + 1, 0))
    return select(command > 0, full, select(command < 0, -full, resting))


_on_wire = drive.on_wire


def wire_creeps(plan: Any, command: Any) -> Any:  # noqa: ANN401
    return _on_wire(plan, command) + 1


def wire_not_reversed(plan: Any, command: Any) -> Any:  # noqa: ANN401
    return plan.rest + ops.mul(command, plan.high_span)


_tick = firmware.tick


def make_forgetful() -> Callable[..., Any]:
    """Remembers, outside its state, how often it was called."""
    calls = [0]

    def tick(plan: Plan, inputs: Any, state: Any, *ask: Any) -> Any:  # noqa: ANN401
        calls[0] += 1
        after = _tick(plan, inputs, state, *ask)
        if calls[0] % 50 == 0:
            *others, last = after.signals.outputs
            outputs = (*others, last._replace(wire=last.wire + 1))
            return after._replace(signals=after.signals._replace(outputs=outputs))
        return after

    return tick
