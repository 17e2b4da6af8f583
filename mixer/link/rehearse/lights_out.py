"""The steps with the transmitter off: what the receiver does, and what the firmware makes of it.

The moment of switching off is the person's answer, so the receiver's own delay is known to a few tenths
of a second, and may come out negative. What follows is exact: from the last good pulse, or from the jump,
to neutral outputs. Pulses that go on are judged by whether they still follow the sticks, and a jump only
counts as a preset when the person says that the stick was held all the time: letting go looks the same.
"""

from collections.abc import Callable, Generator
from dataclasses import dataclass, replace

from mixer.core.plan import Guard
from mixer.link.rehearse.hands_on import PATIENCE_S, arm
from mixer.link.rehearse.report import Outcome, Prompt, ReceiverKind, StepVerdict
from mixer.link.rehearse.script import DONE, NO, SEEN, SKIP, YES, Lasting, Step, wait
from mixer.link.rehearse.stand import Stand

WATCH_S = 5.0
FOLLOW_S = 3.0
RETURN_WATCH_S = 2.0
JUMP_US = 40
"""A change that no rest noise makes."""
DEFLECTED = 0.3
"""How much of its span the held stick must be deflected."""


@dataclass(frozen=True, slots=True)
class Reaction:
    """What happened after the transmitter went off."""

    kind: ReceiverKind | None
    """None when the pulses still follow the sticks."""
    changed_us: int
    """When the pulses ended or jumped; the answer's time where nothing changed."""
    answered_us: int
    presets: dict[str, int]
    """Where channels jumped to."""


class _Watch:
    """Follows the pulses from the moment the person is asked to switch off."""

    def __init__(self, stand: Stand) -> None:
        self._stand = stand
        self._last = list(stand.pulses)
        self._before = list(stand.pulses)
        self.answered_us = stand.now_us
        self.jumped_us = -1

    def look(self) -> bool:
        """Take in one frame: a jump is a change from one pulse to the next that no held stick makes."""
        pulses = self._stand.pulses
        if self.jumped_us < 0 and _differ(self._last, pulses):
            self.jumped_us, self._before = self._stand.now_us, self._last
        self._last = list(pulses)
        return False

    def is_over(self) -> bool:
        """Take in one frame; whether all channels are silent and the robot stands."""
        self.look()
        return len(self._stand.silent_channels()) == len(self._last) and not self._stand.drives

    def found(self) -> Reaction:
        """What it was, judged now."""
        silent = self._stand.silent_channels()
        names = [channel.name for channel in self._stand.plan.channels]
        jumped = _differ(self._before, self._stand.pulses) if self.jumped_us >= 0 else []
        presets = {names[k]: self._stand.pulses[k] for k in jumped if k not in silent}
        last_us = max((self._stand.came_us[k] for k in silent), default=self.answered_us)
        if len(silent) == len(names):
            return Reaction(ReceiverKind.STOPS, last_us, self.answered_us, {})
        if silent:
            return Reaction(ReceiverKind.MIXED, last_us, self.answered_us, presets)
        if presets:
            return Reaction(ReceiverKind.PRESET, self.jumped_us, self.answered_us, presets)
        return Reaction(ReceiverKind.HOLDS, self.answered_us, self.answered_us, {})


def _differ(before: list[int], now: list[int]) -> list[int]:
    pairs = zip(before, now, strict=True)
    return [k for k, (old, new) in enumerate(pairs) if abs(new - old) > JUMP_US]


def switch_off(stand: Stand, *, driving: bool, found: Callable[[ReceiverKind], None]) -> Step:
    """Arm, switch off at rest or while driving, watch, and switch on again."""
    step = "off while driving" if driving else "off at rest"
    if stand.guard is not Guard.LIVE and (yield from arm(stand, step)) != SEEN:
        return [StepVerdict(step, Outcome.SKIPPED, "the robot was never live, so nothing can be seen")]
    text = "Leave the sticks at rest"
    if driving:
        text = f"Deflect {stand.plan.sticks[0].name} by about half and keep holding it"
        held = Lasting(stand, lambda: _is_deflected(stand), 0.5)
        answer = yield from wait(stand, Prompt(step, f"{text}.", (SKIP,)), PATIENCE_S, held)
        if answer != SEEN:
            return [StepVerdict(step, Outcome.SKIPPED, "the stick was never held")]
    now = f"{text}. Switch the transmitter OFF and answer done in the same moment."
    watch = _Watch(stand)
    if (yield from wait(stand, Prompt(step, now, (DONE, SKIP)), PATIENCE_S, watch.look)) != DONE:
        return [StepVerdict(step, Outcome.SKIPPED, "the transmitter was never switched off")]
    seen = yield from _watch(stand, watch, step, text)
    if driving and seen.kind is ReceiverKind.PRESET:
        asked = f"Did you hold {stand.plan.sticks[0].name} deflected until the pulses changed?"
        if (yield from wait(stand, Prompt(step, asked, (YES, NO)), PATIENCE_S)) != YES:
            seen = replace(seen, kind=None)
    if seen.kind and (driving or seen.kind is not ReceiverKind.HOLDS):
        found(seen.kind)
    verdict = _judge(stand, step, seen, driving=driving)
    returned = yield from _switch_on(stand, f"{step}, on again", seen.kind)
    return [verdict, *returned]


def _is_deflected(stand: Stand) -> bool:
    stick = stand.plan.sticks[0]
    away = stand.away_us(stick)
    span = stick.high_span_us if away > 0 else stick.low_span_us
    return span > 0 and abs(away) >= DEFLECTED * span and stand.drives


def _watch(stand: Stand, watch: _Watch, step: str, text: str) -> Generator[Prompt, str, Reaction]:
    """Five seconds of watching; if pulses go on, three more in which sticks are moved."""
    watch.answered_us = stand.now_us
    yield from wait(stand, Prompt(step, f"{text}. Watching.", ()), WATCH_S, watch.is_over)
    seen = watch.found()
    if seen.kind is ReceiverKind.STOPS:
        return seen
    was = list(stand.pulses)
    text = "The pulses go on. With the transmitter still off, move all sticks and let them go."
    follows = Prompt(step, text, ())
    yield from wait(stand, follows, FOLLOW_S, lambda: bool(_differ(was, stand.pulses)))
    if len(stand.silent_channels()) == len(was):
        return watch.found()
    return replace(seen, kind=None) if _differ(was, stand.pulses) else seen


def _judge(stand: Stand, step: str, seen: Reaction, *, driving: bool) -> StepVerdict:
    if seen.kind is None:
        said = "the pulses followed the sticks: was the transmitter off, and the stick held?"
        return StepVerdict(step, Outcome.UNCLEAR, said)
    neutral_ms = None if stand.drives else max(stand.neutral_since_us - seen.changed_us, 0) / 1000
    facts: list[tuple[str, int | float | str | None]] = [
        ("receiver", seen.kind),
        ("receiver_after_ms", (seen.changed_us - seen.answered_us) / 1000),
        ("neutral_after_ms", neutral_ms),
        ("guard", stand.guard.name.lower()),
        *((f"preset_{name}_us", pulse) for name, pulse in seen.presets.items()),
    ]
    if seen.kind is ReceiverKind.HOLDS and not driving and neutral_ms is not None:
        said = "the pulses go on as they were, at rest; the step while driving shows what that is"
        return StepVerdict(step, Outcome.PASSED, said, tuple(facts[1:]))
    outcome, said = _verdict_on(stand, seen.kind, neutral_ms)
    return StepVerdict(step, outcome, said, tuple(facts))


def _verdict_on(stand: Stand, kind: ReceiverKind, neutral_ms: float | None) -> tuple[Outcome, str]:
    promise = stand.plan.guard.lost_ticks * stand.plan.tick_ms
    if kind in {ReceiverKind.STOPS, ReceiverKind.MIXED}:
        if neutral_ms is None or stand.guard is Guard.LIVE:
            return Outcome.FAILED, f"{kind}, and the outputs did not become neutral"
        after = f"{neutral_ms:.0f} ms after the last pulse (lost after {promise} ms)"
        return Outcome.PASSED, f"{kind}; every output neutral {after}"
    if kind is ReceiverKind.HOLDS:
        said = "the receiver repeats its last pulses: the firmware cannot know, and the robot drives on. "
        return Outcome.FAILED, said + "Set the receiver to stop its pulses, or use another one"
    if neutral_ms is None:
        return Outcome.FAILED, f"{kind}, and with those the robot drives: set others, or none at all"
    told = (
        "the firmware is still live, since it sees good pulses" if stand.guard is Guard.LIVE else "not live"
    )
    return Outcome.PASSED, f"{kind}; every output neutral {neutral_ms:.0f} ms after the jump; {told}"


def _switch_on(stand: Stand, step: str, kind: ReceiverKind | None) -> Step:
    """After the signal is back nothing may start by itself."""
    text = "Let all sticks rest, leave the switches as they are, and switch the transmitter ON again."
    back = Lasting(stand, lambda: stand.has_signal, 0.3)
    answers = (SKIP,) if kind is ReceiverKind.STOPS else (DONE, SKIP)
    seen = back if kind is ReceiverKind.STOPS else (lambda: False)
    answer = yield from wait(stand, Prompt(step, text, answers), PATIENCE_S, seen)
    if kind is not ReceiverKind.STOPS:
        return []
    if answer != SEEN:
        return [StepVerdict(step, Outcome.SKIPPED, "the signal did not come back")]
    watching = Prompt(step, "Leave everything as it is. Watching.", ())
    moved = (yield from wait(stand, watching, RETURN_WATCH_S, lambda: stand.drives)) == SEEN
    guard = stand.plan.guard
    may_be_live = guard.resumes or guard.arm is None
    facts = (("guard", stand.guard.name.lower()),)
    if moved:
        return [StepVerdict(step, Outcome.FAILED, "an output moved when the signal came back", facts)]
    if stand.guard is Guard.LIVE and not may_be_live:
        return [StepVerdict(step, Outcome.FAILED, "went live again by itself", facts)]
    return [StepVerdict(step, Outcome.PASSED, "nothing started by itself", facts)]


def power_up_without_signal(stand: Stand) -> Step:
    """A receiver that is switched on before its transmitter."""
    step = "power-up with transmitter off"
    text = "Switch the transmitter OFF, then take the receiver's power away and give it back. Answer done."
    if (yield from wait(stand, Prompt(step, text, (DONE, SKIP)), PATIENCE_S)) != DONE:
        return [StepVerdict(step, Outcome.SKIPPED, "skipped")]
    stand.power_up()
    watching = Prompt(step, "Touch nothing. Watching.", ())
    moved = (yield from wait(stand, watching, WATCH_S, lambda: stand.drives)) == SEEN
    silent = len(stand.silent_channels()) == len(stand.plan.channels)
    facts = (("pulses", "none" if silent else "some"), ("guard", stand.guard.name.lower()))
    if moved:
        return [StepVerdict(step, Outcome.FAILED, "an output moved without a transmitter", facts)]
    if stand.guard is Guard.LIVE:
        said = "the firmware went live without a transmitter, on the receiver's own pulses"
        return [StepVerdict(step, Outcome.FAILED, said, facts)]
    return [StepVerdict(step, Outcome.PASSED, "no output moved", facts)]
