"""Firmware made wrong on purpose: the test of the tester.

Each wrong core is the firmware's own source with one line edited, as a tired author might. The edited text
is run in place of the module, with everything that took names from it. None crashes; each runs and drives.
"""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from importlib import import_module
from pathlib import Path
from types import ModuleType

from mixer.core.layout import layout_of
from mixer.core.ops import ONE
from mixer.core.plan import GroupPlan, OutputPlan, OverRange, Plan, ShapePlan
from mixer.live.judge.watched import watched_graph
from mixer.lower.graph.trace import _traced
from tests.plans import plain_channel, plain_output, plain_switch, rig

STAGES = ("ops", "layout", "intake", "shape", "blend", "guard", "interlock", "drive", "tick")
"""Modules of the core that hold code, in the order in which they take names from each other."""


def _rich_outputs(base: Plan) -> tuple[OutputPlan, ...]:
    """Rows that are not mirrors of each other, a pair of equal ones, a gain, a jump, uneven wires."""
    left, right, lift, grip = base.outputs
    return (
        replace(left, weights=(ONE, 12000, 0)),
        replace(right, weights=(ONE, -7000, 0), low_span=200),
        replace(left, name="left_rear", weights=(ONE, 12000, 0)),
        plain_output("fork", (9000, 9000, 16384), gain=20000, breakaway=1500, reverse=True),
        plain_output("spare", (12000, -12000, 0), gain=9000, up_step=900, down_step=500),
        replace(lift, weights=(ONE, 0, 0), breakaway=700),
        replace(grip, weights=(0, ONE, 0)),
    )


def _rich() -> Plan:
    """What the small robot lacks: a median, uneven sticks, trim, three shapes, a mixed switch, twins."""
    base = rig()
    throttle, turn = base.sticks
    bands = (0, 500, 2000)
    shapes = tuple(
        ShapePlan(band, round(ONE * ONE / (ONE - band)), expo, rate)
        for band, expo, rate in zip(bands, (-3000, 5000, 9000), (ONE, 12000, 7000), strict=True)
    )
    low = round(ONE * ONE / 400)
    throttle = replace(throttle, low_span_us=400, low_gain=low, trim=500, reverse=True)
    turn = replace(turn, shapes=shapes, chooser=2)
    mode = plain_switch("mode", 4, edges_us=(1300, 1700), position_names=("one", "two", "three"))
    lifting, gripping = base.actuators
    channels = tuple(replace(channel, median=channel.name == "throttle") for channel in base.channels)
    return replace(
        base,
        name="rich",
        channels=(*channels, plain_channel("mode")),
        sticks=(throttle, turn),
        switches=(*base.switches, mode),
        mixed_switches=(2,),
        outputs=_rich_outputs(base),
        groups=(
            GroupPlan("wheels", (0, 1, 2), OverRange.YIELD, 0),
            GroupPlan("arms", (3,), OverRange.SCALE, None),
        ),
        actuators=(replace(lifting, output=5), replace(gripping, output=6)),
        guard=replace(base.guard, off_ticks=6, neutral_within=900),
    )


def _shared(base: Plan) -> Plan:
    """Two actuators on one controller, one with a single stop; a crowded group; nothing turns over."""
    lifting, gripping = base.actuators
    left, right, rear, *rest = base.outputs
    outputs = (left, right, replace(rear, weights=(ONE, 12000, 9000)), *rest)
    actuators = (
        replace(lifting, in_stop=None, travel_limit=None),
        replace(gripping, output=lifting.output),
    )
    sticks = tuple(replace(stick, flips=False) for stick in base.sticks)
    return replace(base, name="shared", outputs=outputs, actuators=actuators, sticks=sticks, flip=None)


RIG, RAMPING, RESUMING, RICH = rig(), rig(ramps=True), rig(resumes=True), _rich()
SHARED = _shared(RICH)
STOPPING = replace(RIG, actuators=tuple(replace(item, stops_robot=True) for item in RIG.actuators))
"""Either actuator's fault stops the whole robot."""
UNEVEN = replace(RICH, outputs=(replace(RICH.outputs[0], weights=(9000, 12000, 0)), *RICH.outputs[1:]))
"""What gives way counts more in one output of the group than in the others."""


@dataclass(frozen=True)
class WrongCore:
    """One edited line: what stood there, what stands there now, and on which robot it shows."""

    module: str
    old: str
    new: str
    plan: Plan
    dangerous: bool

    @property
    def key(self) -> str:
        """The module and the edit."""
        return f"{self.module}: {self.old} -> {self.new}"

    @property
    def source(self) -> str:
        """The module's text with the edit. The line that stood there has to stand there once."""
        text = Path(str(_module(self.module).__file__)).read_text(encoding="utf-8")
        if text.count(self.old) != 1:
            raise AssertionError(f"{self.key}: stands {text.count(self.old)} times in {self.module}.py")
        return text.replace(self.old, self.new)

    @contextmanager
    def built_in(self) -> Iterator[None]:
        """The core with this edit, in every module that takes names from the edited one."""
        source = self.source
        touched = [_module(name) for name in STAGES[STAGES.index(self.module) :]]
        saved = [dict(vars(module)) for module in touched]
        _forget()
        try:
            for module in touched:
                text = Path(str(module.__file__)).read_text(encoding="utf-8")
                edited = source if module is touched[0] else text
                exec(compile(edited, str(module.__file__), "exec"), vars(module))
            _forget()
            yield
        finally:
            for module, names in zip(touched, saved, strict=True):
                vars(module).clear()
                vars(module).update(names)
            _forget()


def _module(name: str) -> ModuleType:
    import_module(f"mixer.core.{name}")
    return sys.modules[f"mixer.core.{name}"]


def _forget() -> None:
    """What was worked out of the other core."""
    _traced.cache_clear()
    watched_graph.cache_clear()
    layout_of.cache_clear()


Edit = tuple[str, str] | tuple[str, str, Plan]

DANGEROUS: dict[str, tuple[Edit, ...]] = {
    "ops": (
        ("less = a < b", "less = a > b"),
        ("more = a > b", "more = a >= a"),
        ("above = x > high", "above = x > high + 4000"),
        ("below = x < low", "below = x < low - 4000"),
        ("return select(x < 0, -x, x)", "return select(x < 0, x, -x)"),
    ),
    "layout": (
        ("lost = plan.guard.lost_ticks", "lost = 0"),
        ("int(Guard.SEARCHING), 0, 0, 0", "int(Guard.LIVE), 0, 0, 0"),
        ("int(Guard.SEARCHING), 0, 0, 0", "int(Guard.SEARCHING), 0, 1, 0"),
        ("int(Guard.SEARCHING), 0, 0, 0", "int(Guard.RESTING), 0, 1, 0"),
    ),
    "intake": (
        ("return touching | (remaining > 0), remaining", "return remaining > 1, remaining"),
        ("(pulse >= channel.good_low_us) & (pulse <=", "(pulse >= 1) & (pulse <="),
        ("& (pulse <= channel.good_high_us)", "& (pulse <= 4 * channel.good_high_us)"),
        ("& (pulse <= channel.good_high_us)", "| (pulse <= channel.good_high_us)"),
        ("minimum(age + 1, lost_ticks)", "minimum(age + 1, lost_ticks - 1)"),
        ("minimum(age + 1, lost_ticks)", "minimum(age, lost_ticks)"),
        ("select(good, 0, minimum(age", "select(good, -1, minimum(age"),
        ("select(good, 0, minimum(age", "select(good, maximum(age - 2, 0), minimum(age"),
        ("maximum(minimum(a, b), minimum(maximum(a, b), c))", "maximum(minimum(a, b), c)", RICH),
        ("maximum(minimum(a, b), minimum(maximum(a, b), c))", "maximum(a, maximum(b, c))", RICH),
        ("maximum(minimum(a, b), minimum(maximum(a, b), c))", "minimum(a, b)", RICH),
        ("maximum(minimum(a, b), minimum(maximum(a, b), c))", "a", RICH),
        ("away = pulse - stick.centre_us", "away = pulse - stick.centre_us - 40"),
        ("away = pulse - stick.centre_us", "away = stick.centre_us - pulse"),
        (
            "mul(clamp(away, -stick.low_span_us, stick.high_span_us), stick.high_gain)",
            "mul(away, stick.high_gain)",
        ),
        (
            "below = mul(clamp(away, -stick.low_span_us, 0), stick.low_gain)",
            "below = mul(clamp(away, -stick.low_span_us, 0), stick.high_gain)",
            RICH,
        ),
        ("command = select(away < 0, below, above)", "command = select(away < 0, above, below)", RICH),
        ("command = -command", "command = command", RICH),
        ("clamp(command + stick.trim, -ONE, ONE)", "clamp(command - stick.trim, -ONE, ONE)", RICH),
        ("clamp(command + stick.trim, -ONE, ONE)", "command + 2 * stick.trim", RICH),
        ("raised = last - position if switch.reverse else position", "raised = position"),
        ("edge - switch.hysteresis_us, edge + switch.hysteresis_us", "edge, edge"),
        (
            "edge - switch.hysteresis_us, edge + switch.hysteresis_us",
            "edge + switch.hysteresis_us, edge - switch.hysteresis_us",
        ),
        ("passed = passed + as_number(pulse >= threshold)", "passed = as_number(pulse >= threshold)", RICH),
        ("return last - passed if switch.reverse else passed", "return passed"),
        ("(position - (len(switch.edges_us) - 1)) * ONE", "position * ONE", RICH),
        ("touching = reading == contact.closed_reads", "touching = reading == 1"),
        ("touching = reading == contact.closed_reads", "touching = reading != contact.closed_reads"),
        ("touching | (remaining > 0), remaining", "touching, remaining"),
        ("touching | (remaining > 0), remaining", "remaining > 1, remaining"),
        (
            "select(touching, contact.release_ticks, maximum(remaining - 1, 0))",
            "select(touching, contact.release_ticks - 1, maximum(remaining - 1, 0))",
        ),
        ("differs = as_number(reading) == negation_of(flipped)", "differs = waited >= 0"),
        ("waited = select(differs, waited + 1, 0)", "waited = select(differs, waited + 1, waited)"),
        ("settled = waited >= flip.settle_ticks", "settled = waited >= 1"),
        ("settled = waited >= flip.settle_ticks", "settled = waited > flip.settle_ticks"),
    ),
    "shape": (
        ("mul(x - clamp(x, -band, band), gain) if band else x", "x"),
        ("x - clamp(x, -band, band)", "x - clamp(x, 0, band)"),
        ("(ONE - k) + mul(k, mul(x, x))", "(ONE - k) - mul(k, mul(x, x))"),
        ("(ONE - k) + mul(k, mul(x, x))", "(ONE - k) + mul(k, x)"),
        ("return mul(x, most) if most != ONE else x", "return x"),
        ("curved = expo(banded, plan.expo)", "curved = expo(x, plan.expo)"),
        ("at = position == number", "at = position != number", RICH),
        ("chosen = shape(shapes[-1], x)", "chosen = shape(shapes[0], x)", RICH),
    ),
    "blend": (
        ("        return -source", "        return source"),
        ("total = total + contribution", "total = total - contribution"),
        ("return clamp(mixed, -ONE, ONE)", "return mixed", RICH),
        ("return clamp(mixed, -ONE, ONE)", "return clamp(mixed, 0, ONE)"),
        ("peak = maximum(peak, magnitude(value))", "peak = maximum(peak, value)"),
        ("peak = maximum(peak, magnitude(value))", "peak = magnitude(value)"),
        ("factor = divide(ONE * ONE, peak)", "factor = ONE"),
        ("this_room = ONE - select(part < 0, -kept, kept)", "this_room = ONE - kept", RICH),
        ("this_room * share < room * this_share", "this_room * share > room * this_share", RICH),
        ("room = select(tighter, this_room, room)", "room = this_room", RICH),
        ("clip(kept + mul(part, factor))", "clip(mul(kept, factor) + part)", RICH),
    ),
    "guard": (
        (
            "select(signal, before.seen_off, 0)",
            "select(signal | (before.state == Guard.LIVE), before.seen_off, 0)",
        ),
        (
            "minimum(grown, plan.off_ticks - 1)), 0)",
            "minimum(grown, plan.off_ticks - 1)), select(off, before, 0))",
            RICH,
        ),
        ("signal & negation(arm_on), heard", "negation(arm_on), heard"),
        ("disarmed: Flag = off_for >= plan.off_ticks", "disarmed: Flag = off_for >= 1", RICH),
        ("disarmed: Flag = off_for >= plan.off_ticks", "disarmed: Flag = off_for >= 0"),
        ("sure = heard | (before >= plan.off_ticks)", "sure = True", RICH),
        ("select(off & clean, select", "select(off, select", RICH),
        ("before.seen_off if plan.resumes else select(signal, before.seen_off, 0)", "before.seen_off"),
        ("seen_off: Value = select(disarmed, 1, remembered) if plan.arm else 1", "seen_off: Value = 1"),
        ("signal & neutral & arm_on & (seen_off > 0)", "signal & arm_on & (seen_off > 0)"),
        ("signal & neutral & arm_on & (seen_off > 0)", "neutral & arm_on & (seen_off > 0)", RESUMING),
        ("signal & neutral & arm_on & (seen_off > 0)", "signal & neutral & (seen_off > 0)"),
        (
            "minimum(before.held + 1, plan.hold_ticks), 0)",
            "minimum(before.held + 1, plan.hold_ticks), before.held)",
        ),
        ("minimum(before.held + 1, plan.hold_ticks), 0)", "plan.hold_ticks, 0)"),
        ("(held >= plan.hold_ticks) |", "(held >= plan.hold_ticks - 1) |"),
        ("((before.state == Guard.LIVE) & arm_on)", "(before.state == Guard.LIVE)"),
        ("((before.state == Guard.LIVE) & arm_on)", "((before.state == Guard.STOPPED) & arm_on)"),
        ("select(never_had_it, int(Guard.SEARCHING), int(Guard.STOPPED))", "before.state"),
        ("fault | ((before.state == Guard.FAULTED) & negation(disarmed))", "fault"),
        (
            "fault | ((before.state == Guard.FAULTED) & negation(disarmed))",
            "(fault | (before.state == Guard.FAULTED)) & negation(disarmed)",
        ),
        ("select(signal, with_signal, without))", "with_signal)"),
        ("never_had_it = before.state == Guard.SEARCHING", "never_had_it = before.state != Guard.LIVE"),
    ),
    "interlock": (
        ("return both >= plan.both_ticks, both", "return both > plan.both_ticks, both"),
        ("select(out_closed & in_closed,", "select(out_closed | in_closed,"),
        ("select(fault, 1, select(disarmed, 0, latched))", "select(fault, 1, 0)"),
        (
            "select(fault, 1, select(disarmed, 0, latched))",
            "select(disarmed, 0, select(fault, 1, latched))",
        ),
        (
            "out_blocked, in_blocked = out_closed, in_closed",
            "out_blocked, in_blocked = in_closed, out_closed",
        ),
        ("out_blocked, in_blocked = out_closed, in_closed", "out_blocked, in_blocked = out_closed, False"),
        ("out_blocked | (driven >= plan.travel_limit)", "out_blocked | (driven > plan.travel_limit)"),
        ("in_blocked | (driven <= -plan.travel_limit)", "in_blocked | (driven >= plan.travel_limit)"),
        (
            "return select(in_blocked, 0, -ONE), select(out_blocked, 0, ONE)",
            "return select(in_blocked, -100, -ONE), select(out_blocked, 0, ONE)",
        ),
        (
            "return select(in_blocked, 0, -ONE), select(out_blocked, 0, ONE)",
            "return select(out_blocked, 0, -ONE), select(in_blocked, 0, ONE)",
        ),
        ("out_blocked = out_blocked | (latched > 0)", "out_blocked = out_blocked | (latched > 1)"),
        ("select(met, 0, clamp(start + command", "select(met, 0, clamp(start"),
        ("met = (out_closed & (start > 0)) | (in_closed & (start < 0))", "met = out_closed | in_closed"),
        ("select(command > 0, maximum(driven, 0),", "select(command > 0, driven,"),
    ),
    "drive": (
        ("start = select(x > 0, jump,", "start = select(x >= 0, jump,", RICH),
        ("start + mul(x, ONE - jump)", "start + x", RICH),
        ("clamp(started, -plan.limit, plan.limit)", "clamp(started, -ONE, ONE)"),
        ("clamp(started, -plan.limit, plan.limit)", "clamp(started, -plan.limit, ONE)"),
        ("mul(blended, plan.gain) if", "mul(blended, plan.gain + 900) if", RICH),
        ("maximum(before - plan.down_step, 0), before", "before - plan.down_step, before"),
        ("before - plan.up_step)", "before - ONE)"),
        ("before + plan.up_step)", "before + plan.down_step)"),
        ("return clamp(wanted, least, most)", "return wanted"),
        ("return clamp(wanted, least, most)", "return clamp(before, least, most)"),
        ("full = plan.pause_ticks", "full = plan.pause_ticks - 1"),
        ("resting = select(pause > 0, pause - 1,", "resting = select(pause > 0, 0,"),
        ("select(before.pause > 0, 0, -ONE)", "select(before.pause > 9, 0, -ONE)"),
        ("command = select(cut, 0, clamp(moved, low, high))", "command = select(cut, 0, moved)"),
        ("command = select(cut, 0, clamp(moved, low, high))", "command = clamp(moved, low, high)"),
        (
            "command = select(cut, 0, clamp(moved, low, high))",
            "command = select(cut, before.command, clamp(moved, low, high))",
        ),
        ("sent = -command if plan.reverse else command", "sent = command"),
        ("plan.rest + mul(sent, plan.high_span)", "plan.rest + mul(sent, plan.high_span) + 1"),
        (
            "plan.rest + select(sent < 0, mul(sent, plan.low_span), mul(sent, plan.high_span))",
            "plan.rest + mul(sent, plan.high_span)",
            RICH,
        ),
    ),
    "tick": (
        ("fault = fault | faults[-1][0]", "fault = fault | faults[0][0]", STOPPING),
        ("fault = fault | faults[-1][0]", "fault = faults[-1][0]", STOPPING),
        (
            "signal = signal & (channel.age < plan.guard.lost_ticks)",
            "signal = channel.age < plan.guard.lost_ticks",
        ),
        (
            "signal = signal & (channel.age < plan.guard.lost_ticks)",
            "signal = signal & (channel.age <= plan.guard.lost_ticks)",
        ),
        ("held = select(good, pulse, before.pulse)", "held = pulse"),
        ("lost = before.age >= lost_ticks", "lost = before.age >= 0", RICH),
        ("lost = before.age >= lost_ticks", "lost = before.age > lost_ticks", RICH),
        (
            "command = select(flipped > 0, -bent.rated, bent.rated) if stick.flips else bent.rated",
            "command = bent.rated",
        ),
        (
            "command = select(flipped > 0, -bent.rated, bent.rated) if stick.flips else bent.rated",
            "command = select(flipped > 0, -bent.rated, bent.rated)",
        ),
        (
            "neutral & (magnitude(stick.scaled) <= plan.guard.neutral_within)",
            "magnitude(stick.scaled) <= plan.guard.neutral_within",
        ),
        (
            "neutral & (magnitude(stick.scaled) <= plan.guard.neutral_within)",
            "neutral & (stick.scaled <= plan.guard.neutral_within)",
        ),
        (
            "neutral & (magnitude(stick.scaled) <= plan.guard.neutral_within)",
            "neutral & (magnitude(stick.rated) <= plan.guard.neutral_within)",
        ),
        ("neutral = neutral & (command == 0)", "neutral = neutral", RICH),
        ("wanted = select(live, level.limited, 0)", "wanted = level.limited"),
        ("wanted = select(live, level.limited, 0)", "wanted = select(live, -level.limited, 0)"),
        (
            "cut = (state == Guard.FAULTED) if plan.guard.ramps else negation(live)",
            "cut = state == Guard.FAULTED",
            RIG,
        ),
        (
            "cut = (state == Guard.FAULTED) if plan.guard.ramps else negation(live)",
            "cut = state == Guard.STOPPED",
            RAMPING,
        ),
        ("low, high = ranges.get(index, (-ONE, ONE))", "low, high = -ONE, ONE"),
        ("if actuator.stops_robot:\n            fault", "if not actuator.stops_robot:\n            fault"),
        ("False if actuator.out_stop is None else heard.closed[actuator.out_stop]", "False"),
        ("rest = [value - part for value, part", "rest = [value + part for value, part", RICH),
        ("after.append(ActuatorState(state.both, state.latched, driven))", "after.append(state)"),
    ),
}
"""By module: what stood there, what stands there now, and the robot where it is not the small one."""

HARMLESS: dict[str, tuple[Edit, ...]] = {
    "intake": (
        (
            "clamp(away, 0, stick.high_span_us), stick.high_gain)",
            "clamp(away, 0, stick.high_span_us), stick.high_gain) - 1",
            RICH,
        ),
    ),
    "blend": (
        ("factor = divide(ONE * ONE, peak)", "factor = divide(ONE * ONE, peak) - 1"),
        (
            "share = select(tighter, this_share, share)",
            "share = select(tighter, share, this_share)",
            UNEVEN,
        ),
    ),
    "tick": (
        (
            "as_number(signal), as_number(neutral), as_number(arm_on)",
            "as_number(neutral), as_number(neutral), as_number(arm_on)",
        ),
        (
            "contacts=tuple([ContactSignals(as_number(closed))",
            "contacts=tuple([ContactSignals(1 - as_number(closed))",
        ),
        (
            "ranges.append(ActuatorSignals(low, high, as_number(broken)))",
            "ranges.append(ActuatorSignals(low, high, 0))",
        ),
    ),
}
"""What hurts nobody and is still not what the firmware says or should do."""


def _wrong_cores() -> Iterator[WrongCore]:
    for dangerous, edits in ((True, DANGEROUS), (False, HARMLESS)):
        for module, lines in edits.items():
            for old, new, *plan in lines:
                yield WrongCore(module, old, new, plan[0] if plan else RIG, dangerous)


WRONG_CORES = tuple(_wrong_cores())
