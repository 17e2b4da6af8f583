"""Steps with a hand on the robot: end stops pressed, outputs twitched by their sticks, boxes ticked."""

from collections.abc import Callable

from mixer.core.plan import ContactPlan, Guard, OutputPlan, Plan
from mixer.link.rehearse.hands_on import PATIENCE_S, arm
from mixer.link.rehearse.report import Outcome, Prompt, StepVerdict
from mixer.link.rehearse.script import DONE, NO, SEEN, SKIP, YES, Step, wait
from mixer.link.rehearse.stand import Stand

FOREVER_S = 1e9
LOW = 0.4
"""Of its way: an output that went further was not twitched but driven."""
FELT = 0.02
"""Of its way: an output that went less far did nothing."""
WHEELS_UP = "wheels up"


def contact_step(plan: Plan, number: int) -> str:
    """What a contact's step is called: by what the contact is for."""
    kind = "end stop" if _place_of(plan, number) else "way up" if _tells_way_up(plan, number) else "contact"
    return f"{kind} {plan.contacts[number].name}"


def _tells_way_up(plan: Plan, number: int) -> bool:
    return plan.flip is not None and plan.flip.told_by == number


def press_stop(stand: Stand, number: int) -> Step:
    """One contact, pressed and let go: it reads both ways, and no other moves with it."""
    contact = stand.plan.contacts[number]
    step = contact_step(stand.plan, number)
    seen = _Pressed(stand, number)
    text = f"Press the {step}{_place_of(stand.plan, number)} by hand, and let it go."
    if _tells_way_up(stand.plan, number):
        text = f"Turn the robot over until {contact.name} closes, or close it by hand, and back again."
    answer = yield from wait(stand, Prompt(step, text, (DONE, SKIP), reason=True), PATIENCE_S, seen)
    facts = (("seen_closed", int(seen.closed)), ("seen_open", int(seen.opened)))
    if answer == SKIP:
        return [StepVerdict(step, Outcome.SKIPPED, "skipped")]
    if answer == SEEN and not seen.others:
        return [StepVerdict(step, Outcome.PASSED, "reads closed when pressed, open when let go", facts)]
    others = ", ".join(sorted(seen.others))
    if others:
        wrong = "and" if seen.closed and seen.opened else "instead:"
        said = f"{others} changed {wrong} its wire is another's, or they touch"
        return [StepVerdict(step, Outcome.FAILED, said, facts)]
    always = "closed" if seen.closed else "open"
    said = f"it read {always} all the time: a broken wire, a stuck switch, or closed_reads is wrong"
    return [StepVerdict(step, Outcome.FAILED, said, facts)]


class _Pressed:
    """Whether a contact has been closed, and open after that; and which others changed meanwhile."""

    def __init__(self, stand: Stand, number: int) -> None:
        self._stand = stand
        self._number = number
        self._before = list(stand.levels)
        self.closed = self.opened = False
        self.others: set[str] = set()

    def __call__(self) -> bool:
        """Take in one frame."""
        contacts, levels = self._stand.plan.contacts, self._stand.levels
        if len(self._before) != len(levels):
            self._before = list(levels)
        moved = (k for k, level in enumerate(levels) if level != self._before[k] and k != self._number)
        self.others |= {contacts[k].name for k in moved}
        is_closed = _is_closed(contacts[self._number], levels[self._number])
        self.closed = self.closed or is_closed
        self.opened = self.opened or not is_closed
        return self.closed and self.opened and levels[self._number] == self._before[self._number]


def _is_closed(contact: ContactPlan, level: int) -> bool:
    return level == contact.closed_reads


def _place_of(plan: Plan, number: int) -> str:
    for actuator in plan.actuators:
        if number == actuator.out_stop:
            return f" (of {actuator.name}, fully out)"
        if number == actuator.in_stop:
            return f" (of {actuator.name}, fully in)"
    return ""


class Lifted:
    """Whether somebody has typed that the wheels are up: without that no output is twitched."""

    yes = False


def lift_wheels(stand: Stand, lifted: Lifted) -> Step:
    """Outputs move from here on; typed in full or not at all."""
    step = "before outputs"
    text = f"Outputs are twitched next. Robot on its stand, nobody near wheels or screws: type {WHEELS_UP}."
    answer = yield from wait(stand, Prompt(step, text, (WHEELS_UP, NO), in_full=True), FOREVER_S)
    lifted.yes = answer == WHEELS_UP
    if lifted.yes:
        return [StepVerdict(step, Outcome.PASSED, "wheels up, as typed")]
    return [StepVerdict(step, Outcome.SKIPPED, "not confirmed, so no output is moved")]


def twitch(stand: Stand, output: OutputPlan, lifted: Lifted) -> Step:
    """One output moved a little by its stick: the board's wire must move, the person sees which way."""
    step = f"output {output.name}"
    if not lifted.yes:
        return [StepVerdict(step, Outcome.SKIPPED, "the wheels were not said to be up")]
    if stand.mix is None:
        return [StepVerdict(step, Outcome.SKIPPED, "no board that drives outputs is connected")]
    if stand.guard is not Guard.LIVE and (yield from arm(stand, step)) != SEEN:
        return [StepVerdict(step, Outcome.SKIPPED, "the robot was never live")]
    watch = _Wire(stand, output)
    source, way = stick_of(stand.plan, output)
    text = f"Push {source} a little {way}, and let it go. Did {output.name} go forward, or out?"
    answer = yield from wait(
        stand, Prompt(step, text, (YES, NO, SKIP), reason=True), PATIENCE_S, watch.look
    )
    facts = (("furthest", round(watch.furthest, 3)),)
    if answer not in {YES, NO}:
        return [StepVerdict(step, Outcome.SKIPPED, "not tried")]
    return [_judged(step, watch, facts, went=answer == YES)]


def _judged(
    step: str, watch: "_Wire", facts: tuple[tuple[str, int | float | str | None], ...], *, went: bool
) -> StepVerdict:
    far = f"{watch.furthest:.0%} of its way"
    if watch.furthest < FELT:
        said = "the board never moved it: was its stick pushed, the robot live, no stop closed?"
        return StepVerdict(step, Outcome.UNCLEAR, said, facts)
    if not went:
        said = f"the board moved it ({far}) and it did not go the right way: its wires, or reverse"
        return StepVerdict(step, Outcome.FAILED, said, facts)
    if watch.furthest > LOW:
        said = f"pushed to {far}: that is no twitch, so again and more gently"
        return StepVerdict(step, Outcome.UNCLEAR, said, facts)
    return StepVerdict(step, Outcome.PASSED, f"went the right way at {far}, as seen by the builder", facts)


class _Wire:
    """How far the board's own wire of an output has gone from rest, 0 to 1."""

    def __init__(self, stand: Stand, output: OutputPlan) -> None:
        self._stand = stand
        self._output = output
        self._at = stand.plan.outputs.index(output)
        self.furthest = 0.0

    def look(self) -> bool:
        """Take in one frame; the person says when it is over."""
        if self._stand.mix is not None:
            away = self._stand.mix.wires[self._at] - self._output.rest
            span = self._output.high_span if away > 0 else self._output.low_span
            self.furthest = max(self.furthest, abs(away) / span if span else 0.0)
        return False


def stick_of(plan: Plan, output: OutputPlan) -> tuple[str, str]:
    """What has the most say over an output, and which way of it is forward for that output."""
    at = max(range(len(plan.sources)), key=lambda k: abs(output.weights[k]))
    return plan.sources[at], "forward, right or up" if output.weights[at] >= 0 else "backward, left or down"


def tick_off(stand: Stand, key: str, words: str) -> Step:
    """A check by hand from the event's sheet."""
    step = f"by hand: {key}"
    answer = yield from wait(stand, Prompt(step, words, (YES, NO, SKIP), reason=True), FOREVER_S)
    ends: dict[str, Callable[[], StepVerdict]] = {
        YES: lambda: StepVerdict(step, Outcome.PASSED, "ticked by the builder"),
        NO: lambda: StepVerdict(step, Outcome.FAILED, f"not so: {words}"),
    }
    return [ends.get(answer, lambda: StepVerdict(step, Outcome.SKIPPED, "skipped"))()]
