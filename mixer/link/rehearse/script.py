"""How steps are written: generators that yield a prompt and are resumed by a frame or an answer.

A step yields `Prompt`s, is sent an answer (text) or "" for a frame that has just been taken in, and returns
its verdicts.
"""

from collections.abc import Callable, Generator
from typing import TypeAlias

from mixer.link.rehearse.report import Prompt, StepVerdict
from mixer.link.rehearse.stand import Stand

Sent: TypeAlias = str
"""An answer, or "" when a frame came."""
Waiting: TypeAlias = Generator[Prompt, Sent, str]
Step: TypeAlias = Generator[Prompt, Sent, list[StepVerdict]]

SEEN = "seen"
LATE = "late"
DONE = "done"
SKIP = "skip"
YES = "yes"
NO = "no"


def wait(
    stand: Stand, prompt: Prompt, within_s: float, seen: Callable[[], bool] = lambda: False
) -> Waiting:
    """Show the prompt until `seen()` (-> "seen"), an allowed answer (-> it), or too late (-> "late").

    `seen` is asked once for every frame, and only after the first one.
    """
    end_us = stand.now_us + round(within_s * 1e6)
    while True:
        answer = yield prompt
        if answer and prompt.takes(answer):
            return answer
        if answer == "":
            if seen():
                return SEEN
            if stand.now_us >= end_us:
                return LATE


class Lasting:
    """Whether a condition has held for so long without a break."""

    def __init__(self, stand: Stand, condition: Callable[[], bool], for_s: float) -> None:
        self._stand = stand
        self._condition = condition
        self._for_us = round(for_s * 1e6)
        self._since = -1

    def __call__(self) -> bool:
        """Ask once for every frame."""
        if not self._condition():
            self._since = -1
        elif self._since < 0:
            self._since = self._stand.now_us
        return self._since >= 0 and self._stand.now_us - self._since >= self._for_us
