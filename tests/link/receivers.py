"""Simulated receivers of each kind, and a person who does what the prompts say."""

import random
from dataclasses import dataclass, field

from mixer.board.frames import Frame
from mixer.link.rehearse.guided import Guided
from mixer.link.rehearse.report import Prompt, ReceiverKind

REST = {"throttle": 1500, "steer": 1500, "arm": 1000}
ORDER = ("throttle", "steer", "arm")


@dataclass
class Receiver:
    """Hears the transmitter while it is on; then does what its kind does after `delay_us`."""

    kind: ReceiverKind
    delay_us: int = 180_000
    presets: dict[str, int] = field(default_factory=lambda: dict(REST))
    held: dict[str, int] = field(default_factory=lambda: dict(REST))
    heard_us: int = 0
    ever: bool = False

    def pulses(self, now_us: int, on_air: dict[str, int] | None) -> dict[str, int]:
        """The pulses of this moment, by channel; none for a channel that is silent."""
        if on_air is not None:
            self.held, self.heard_us, self.ever = dict(on_air), now_us, True
        elif not self.ever or now_us - self.heard_us >= self.delay_us:
            if self.kind is ReceiverKind.STOPS or (not self.ever and self.kind is ReceiverKind.HOLDS):
                return {}
            if self.kind is ReceiverKind.PRESET:
                return dict(self.presets)
            if self.kind is ReceiverKind.MIXED:
                return {"arm": self.held["arm"]}
        return dict(self.held)

    def power_cycle(self) -> None:
        """Power away and back."""
        self.ever = False


class Person:
    """Follows the prompts: where the sticks are, whether the transmitter is on, what is answered when."""

    def __init__(self, receiver: Receiver, reaction_us: int = 120_000) -> None:
        self.receiver = receiver
        self.reaction_us = reaction_us
        self.sticks = dict(REST)
        self.transmits = True
        self.refuses: set[str] = set()
        self.swaps: dict[str, str] = {}
        """Sticks whose wires go elsewhere."""
        self.forgets_to_switch_off = False
        self._prompt: Prompt | None = None
        self._since_us = 0

    def act(self, prompt: Prompt, now_us: int) -> str:
        """Do what the prompt asks; the answer to give now, or ""."""
        if prompt != self._prompt:
            self._prompt, self._since_us = prompt, now_us
        after = now_us - self._since_us
        if prompt.step in self.refuses:
            return "no" if "no" in prompt.answers else "skip"
        kind = prompt.step.split()[0]
        if kind in {"stick", "switch"}:
            return self._move(prompt.step.split()[1], after, prompt)
        if kind == "disarm":
            self.sticks["arm"] = 1000
        elif "to arm" in prompt.text:
            self.sticks |= {"throttle": 1500, "steer": 1500, "arm": 1000 if after < 300_000 else 2000}
        elif kind in {"off", "power-up"}:
            return self._lights(prompt, after)
        return "yes" if "yes" in prompt.answers else ""

    def _move(self, name: str, after: int, prompt: Prompt) -> str:
        """Out, over, back: half a second each; then "done" if it has not been seen."""
        place = (REST[name], 2000, 1000, REST[name])[min(after // 500_000, 3)]
        self.sticks[self.swaps.get(name, name)] = place
        return "done" if after > 2_500_000 and "done" in prompt.answers else ""

    def _lights(self, prompt: Prompt, after: int) -> str:
        text = prompt.text
        if "ON again" in text:
            self.sticks |= {"throttle": 1500, "steer": 1500}
            self.transmits = True
            return "done" if "done" in prompt.answers and after > 500_000 else ""
        if "move all sticks" in text:
            self.sticks |= {"throttle": 1900 if after % 600_000 < 300_000 else 1500, "steer": 1200}
            return ""
        if "Deflect" in text:
            self.sticks["throttle"] = 1780
        if " OFF" in text:
            if after >= 400_000 and not self.forgets_to_switch_off:
                self.transmits = False
            done = after >= 400_000 + self.reaction_us
            if done and "power away" in text:
                self.receiver.power_cycle()
            return "done" if done else ""
        return "yes" if "yes" in prompt.answers else ""

    def on_air(self) -> dict[str, int] | None:
        """What the transmitter sends now."""
        return dict(self.sticks) if self.transmits else None


def go_through(rehearsal: Guided, person: Person, limit_s: int = 400) -> list[Prompt]:
    """The whole rehearsal at 50 frames a second with half a µs of noise; the prompts that were shown."""
    noise = random.Random(7)
    shown: list[Prompt] = []
    for n in range(limit_s * 50):
        if rehearsal.prompt is None:
            return shown
        now_us = n * 20_000
        if not shown or shown[-1] != rehearsal.prompt:
            shown.append(rehearsal.prompt)
        answer = person.act(rehearsal.prompt, now_us)
        if answer and rehearsal.waited_s >= 0.25:
            rehearsal.answer(answer)
        pulses = person.receiver.pulses(now_us, person.on_air())
        widths = tuple(
            2 * pulses[name] + noise.choice((-1, 0, 1)) if name in pulses else 0 for name in ORDER
        )
        rehearsal.hear(Frame(n & 0xFFFF, now_us & 0xFFFFFFFF, widths, 1, 7400))
    raise AssertionError(f"not finished after {limit_s} s: {rehearsal.prompt}")
