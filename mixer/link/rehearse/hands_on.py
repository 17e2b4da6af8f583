"""The steps with the transmitter on: readiness, every stick and switch, arming and disarming."""

from mixer.core.plan import Guard, StickPlan, SwitchPlan
from mixer.link.rehearse.report import Outcome, Prompt, StepVerdict
from mixer.link.rehearse.script import DONE, LATE, NO, SEEN, SKIP, YES, Lasting, Step, Waiting, wait
from mixer.link.rehearse.stand import Stand

PATIENCE_S = 120.0
SIGNAL_S = 0.5
NEAR_END = 0.06
"""How close to an end counts as reached, as a share of the span; at least `NEAR_US`."""
NEAR_US = 15
MOVED = 0.5
"""A channel that went through this share of 1000 µs was moved on purpose."""

_READY = (
    "Wheels off the ground? Weapon locked or taken out? Hands, hair and cables away from all that turns, "
    "eye protection on, battery where you can pull it? Answer yes when all of it is so."
)


def confirm_ready(stand: Stand) -> Step:
    """Nothing begins before a yes."""
    answer = yield from wait(stand, Prompt("ready", _READY, (YES, NO), in_full=True), float("1e9"))
    if answer == YES:
        return [StepVerdict("ready", Outcome.PASSED, "confirmed: wheels off the ground, weapon locked")]
    return [StepVerdict("ready", Outcome.FAILED, "not confirmed, so nothing was tried")]


def find_signal(stand: Stand) -> Step:
    """Pulses on every channel."""
    prompt = Prompt("signal", "Switch transmitter and receiver on, sticks at rest.", (SKIP,))
    answer = yield from wait(stand, prompt, PATIENCE_S, Lasting(stand, lambda: stand.has_signal, SIGNAL_S))
    if answer == SEEN:
        return [StepVerdict("signal", Outcome.PASSED, "good pulses on every channel")]
    missing = ", ".join(stand.plan.channels[k].name for k in stand.silent_channels()) or "none missing"
    outcome = Outcome.SKIPPED if answer == SKIP else Outcome.FAILED
    return [StepVerdict("signal", outcome, f"no good signal; channels without pulses: {missing}")]


class _Sweep:
    """What all channels did while one stick was asked to move."""

    def __init__(self, stand: Stand, stick: StickPlan) -> None:
        self._stand = stand
        self._stick = stick
        self.low = list(stand.pulses)
        self.high = list(stand.pulses)
        self.first_end = 0
        """-1 or +1: the end that was reached first, as a pulse; 0 while none was."""

    def __call__(self) -> bool:
        """Take in one frame; whether both ends were reached and the stick is back."""
        for k, pulse in enumerate(self._stand.pulses):
            self.low[k] = min(self.low[k], pulse)
            self.high[k] = max(self.high[k], pulse)
        reached = self.reached()
        if not self.first_end and any(reached):
            self.first_end = 1 if reached[1] else -1
        spans = self._stick.low_span_us, self._stick.high_span_us
        wanted = all(done for done, span in zip(reached, spans, strict=True) if span)
        back = min(span for span in spans if span)
        return wanted and abs(self._stand.away_us(self._stick)) <= max(NEAR_US, round(NEAR_END * back))

    def reached(self) -> tuple[bool, bool]:
        """Whether the low and the high end were reached."""
        stick, k = self._stick, self._stick.channel
        low_near = max(NEAR_US, round(NEAR_END * stick.low_span_us))
        high_near = max(NEAR_US, round(NEAR_END * stick.high_span_us))
        return (
            stick.low_span_us > 0 and self.low[k] <= stick.centre_us - stick.low_span_us + low_near,
            stick.high_span_us > 0 and self.high[k] >= stick.centre_us + stick.high_span_us - high_near,
        )

    def moved_instead(self) -> list[int]:
        """Other channels that were clearly moved."""
        least = round(MOVED * 1000)
        moved = [k for k in range(len(self.low)) if self.high[k] - self.low[k] >= least]
        return [k for k in moved if k != self._stick.channel]


def sweep_stick(stand: Stand, stick: StickPlan) -> Step:
    """Endpoints, direction and place of one stick."""
    step = f"stick {stick.name}"
    order = "first forward, right or up, then the other way"
    text = f"Move the stick {stick.name} slowly to its ends and back to rest: {order}."
    sweep = _Sweep(stand, stick)
    answer = yield from wait(stand, Prompt(step, text, (DONE, SKIP)), PATIENCE_S, sweep)
    if answer == SKIP:
        return [StepVerdict(step, Outcome.SKIPPED, "skipped")]
    return [_judge_sweep(stand, stick, step, sweep, finished=answer == SEEN)]


def _judge_sweep(stand: Stand, stick: StickPlan, step: str, sweep: _Sweep, finished: bool) -> StepVerdict:
    low, high = sweep.low[stick.channel], sweep.high[stick.channel]
    ends = stick.centre_us - stick.low_span_us, stick.centre_us + stick.high_span_us
    facts = (("low_us", low), ("rest_us", stand.pulses[stick.channel]), ("high_us", high))
    others = [stand.plan.channels[k].name for k in sweep.moved_instead()]
    if not finished and others and high - low < MOVED * 1000:
        said = f"the wire of {', '.join(others)} moved instead: the channel map is wrong"
        return StepVerdict(step, Outcome.FAILED, said, facts)
    if not finished:
        said = f"went from {low} to {high} µs; the profile says {ends[0]} to {ends[1]}: calibrate"
        return StepVerdict(step, Outcome.FAILED, said, facts)
    two_sided = stick.low_span_us > 0 and stick.high_span_us > 0
    if two_sided and (sweep.first_end > 0) == stick.reverse:
        said = "goes the wrong way: turn its reverse in the profile, or move it forward first and try again"
        return StepVerdict(step, Outcome.FAILED, said, facts)
    if others:
        said = f"right, but {', '.join(others)} moved with it: is a mix switched on in the transmitter?"
        return StepVerdict(step, Outcome.FAILED, said, facts)
    return StepVerdict(
        step, Outcome.PASSED, f"both ends and rest as in the profile ({low} to {high} µs)", facts
    )


def flip_switch(stand: Stand, switch: SwitchPlan) -> Step:
    """Every position of one switch."""
    step = f"switch {switch.name}"
    seen: set[int] = set()

    def all_seen() -> bool:
        seen.add(sum(stand.pulses[switch.channel] >= edge for edge in switch.edges_us))
        return len(seen) == len(switch.edges_us) + 1

    text = (
        f"Flip the switch {switch.name} through all its positions, then back to {switch.position_names[0]}."
    )
    answer = yield from wait(stand, Prompt(step, text, (DONE, SKIP)), PATIENCE_S, all_seen)
    facts = (("positions_seen", len(seen)),)
    if answer == SKIP:
        return [StepVerdict(step, Outcome.SKIPPED, "skipped")]
    if answer == SEEN:
        return [StepVerdict(step, Outcome.PASSED, "every position seen", facts)]
    said = f"{len(seen)} of {len(switch.edges_us) + 1} positions seen: is it on this channel?"
    return [StepVerdict(step, Outcome.FAILED, said, facts)]


def arm(stand: Stand, step: str) -> Waiting:
    """Until the firmware is live: "seen", or what was answered."""
    on = stand.plan.guard.arm
    text = "Leave all sticks at rest until the robot is live."
    if on is not None:
        switch = stand.plan.switches[on.switch]
        position = switch.position_names[on.position]
        text = f"Sticks at rest; take the switch {switch.name} out of {position} and back to it, to arm."
    return (
        yield from wait(stand, Prompt(step, text, (SKIP,)), PATIENCE_S, lambda: stand.guard is Guard.LIVE)
    )


def arm_and_disarm(stand: Stand) -> Step:
    """Live when armed, not live when disarmed."""
    answer = yield from arm(stand, "arm")
    if answer != SEEN:
        outcome = Outcome.FAILED if answer == LATE else Outcome.SKIPPED
        return [StepVerdict("arm", outcome, f"never went live; the guard is {stand.guard.name.lower()}")]
    armed = StepVerdict("arm", Outcome.PASSED, "live")
    on = stand.plan.guard.arm
    if on is None:
        return [armed]
    name = stand.plan.switches[on.switch].name
    prompt = Prompt("disarm", f"Disarm with the switch {name}.", (SKIP,))
    answer = yield from wait(stand, prompt, PATIENCE_S, lambda: stand.guard is not Guard.LIVE)
    if answer == SEEN:
        return [armed, StepVerdict("disarm", Outcome.PASSED, "no longer live")]
    outcome = Outcome.FAILED if answer == LATE else Outcome.SKIPPED
    return [armed, StepVerdict("disarm", outcome, "stayed live")]
