"""How the memory of the watch and the state of the firmware belong together, and what both keep to.

These are the invariants that a proof by induction leans on: true at power-up, kept by every tick (the
proof shows that for each of them), and strong enough that every rule follows from them within one tick.
They carry the time bounds: a channel's silence grows by one each tick, the firmware's age grows with it
up to the loss, and from then on the ticks not live bound what a ramp can have left.
"""

from collections.abc import Iterator, Mapping, Sequence

from mixer.core.plan import ChannelPlan, Guard, OutputPlan, Plan
from mixer.core.signals import OutputState, State
from mixer.laws.arithmetic import Flag, Value, both, implies, magnitude, maximum, minimum, negation, same
from mixer.laws.expect import stop_ticks
from mixer.laws.memory import memory_slots
from mixer.laws.obeying import equal_outputs


def relations(plan: Plan, core: State[Value], memory: Sequence[Value]) -> dict[str, Flag]:
    """Each invariant by a name that says it, on a state of the firmware and the memory beside it."""
    kept = dict(zip((slot.name for slot in memory_slots(plan)), memory, strict=True))
    found: dict[str, Flag] = {}
    found.update(_of_channels(plan, core, kept))
    found.update(_of_wires(plan, core, kept))
    found.update(_of_guard(core, kept))
    for output, state in zip(plan.outputs, core.outputs, strict=True):
        found.update(_of_output(plan, output, state, kept))
    for a, b in equal_outputs(plan):
        name = f"{plan.outputs[a].name} and {plan.outputs[b].name}: alike"
        pair = zip(core.outputs[a], core.outputs[b], strict=True)
        found[name] = both([one == other for one, other in pair])
    found.update(_of_actuators(plan, core, kept))
    return found


Numbers = Mapping[str, Value]
Named = Iterator[tuple[str, Flag]]


def _of_channels(plan: Plan, core: State[Value], kept: Numbers) -> Named:
    lost = plan.guard.lost_ticks
    for channel, (age, pulse, newer, older) in zip(plan.channels, core.channels, strict=True):
        name, silent = channel.name, kept[f"silent.{channel.name}"]
        yield f"{name}: age is the silence up to the loss", age == minimum(silent, lost)
        yield f"{name}: age as counted", age == kept[f"age.{name}"]
        yield f"{name}: pulse as last seen", pulse == kept[f"pulse.{name}"]
        if newer is not None and older is not None:
            same_three = (newer == kept[f"newer.{name}"]) & (older == kept[f"older.{name}"])
            yield f"{name}: the last good pulses as seen", same_three
        since = kept["not_live_for"] >= silent - lost + 1
        yield f"{name}: a silent channel keeps the robot from being live", (silent < lost) | since
        remembered = [value for value in (pulse, newer, older) if value is not None]
        good = both([_is_good(channel, value) for value in remembered])
        yield f"{name}: only good pulses are held", (age >= lost) | good


def _is_good(channel: ChannelPlan, pulse: Value) -> Flag:
    return (pulse >= channel.good_low_us) & (pulse <= channel.good_high_us)


def _of_wires(plan: Plan, core: State[Value], kept: Numbers) -> Named:
    for switch, (position,) in zip(plan.switches, core.switches, strict=True):
        yield f"{switch.name}: position as worked out", position == kept[f"position.{switch.name}"]
    for contact, (remaining,) in zip(plan.contacts, core.contacts, strict=True):
        left = kept[f"closed_for.{contact.name}"]
        yield f"{contact.name}: release time runs from the last touch", remaining == left
    if core.flip is not None:
        yield "flip: the way up as seen", core.flip.flipped == kept["flipped"]
        yield "flip: the other way up as timed", core.flip.waited == kept["turning_for"]


def _of_guard(core: State[Value], kept: Numbers) -> Named:
    state = core.guard.state
    live, latched = kept["live"] > 0, kept["latched"] > 0
    yield "guard: searching until something came", same(state == Guard.SEARCHING, kept["woken"] == 0)
    yield "guard: live exactly when it may be", same(state == Guard.LIVE, live)
    yield "guard: faulted exactly while a fault is latched", same(state == Guard.FAULTED, latched)
    yield "guard: counts how long all was ready", core.guard.held == kept["ready_for"]
    yield "guard: remembers the arm switch seen off", core.guard.seen_off == kept["off_seen"]
    yield "guard: not live is counted", same(kept["not_live_for"] == 0, live)
    yield "guard: times the arm switch off", core.guard.off_for == kept["off_for"]
    been = kept["been_live"] > 0
    yield "guard: live means armed since power-up", negation(live) | been


def _of_output(plan: Plan, output: OutputPlan, state: OutputState[Value], kept: Numbers) -> Named:
    name, (command, pause) = output.name, state
    size, ticks = magnitude(command), kept["not_live_for"]
    yield f"{name}: command as last seen", command == kept[f"command.{name}"]
    yield f"{name}: within its limit", size <= output.limit
    if plan.guard.ramps:
        left = maximum(output.limit - ticks * min(output.down_step, output.limit), 0)
        yield f"{name}: a ramp takes its step off every tick", (ticks == 0) | (size <= left)
    else:
        yield f"{name}: at zero unless live", (ticks == 0) | (command == 0)
    yield f"{name}: at zero until armed", (kept["been_live"] > 0) | (command == 0)
    yield f"{name}: at zero once stopped", (ticks < stop_ticks(plan)) | (command == 0)
    if output.pause_ticks:
        rested, sign = kept[f"rested_for.{name}"], kept[f"last_sign.{name}"]
        left = output.pause_ticks - rested
        yield f"{name}: pause after forward", implies(sign > 0, pause == left)
        yield f"{name}: pause after reverse", implies(sign < 0, pause == -left)
        yield f"{name}: no pause before it moved", implies(sign == 0, (pause == 0) & (command == 0))
        yield f"{name}: rests at zero only", (rested == 0) | (command == 0)
        yield (
            f"{name}: sign of the last movement",
            implies(command > 0, sign > 0) & implies(command < 0, sign < 0),
        )


def _of_actuators(plan: Plan, core: State[Value], kept: Numbers) -> Named:
    for actuator, state in zip(plan.actuators, core.actuators, strict=True):
        name = actuator.name
        yield f"{name}: both stops timed", state.both == kept[f"both_for.{name}"]
        yield f"{name}: fault latched", state.latched == kept[f"latched.{name}"]
        if actuator.travel_limit is not None:
            yield f"{name}: way since its last stop", state.driven == kept[f"way.{name}"]
