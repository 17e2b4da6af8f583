"""Generated code for the plan in use, made beside the running bench and taken up when it is ready.

Generating takes a fraction of a second, so it waits until a value has not been turned for a moment, and the
last few are kept: undo and A/B find theirs ready.
"""

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Protocol

from mixer.core.plan import Plan
from mixer.live.judge.monitored import Quick, quick_of

KEPT = 8
SETTLE_S = 0.3


class Worker(Protocol):
    """Something that does a job some time; the library's executors, or a test's own."""

    def submit(self, job: Callable[[Plan], Quick], plan: Plan, /) -> "Future[Quick]":
        """Begin."""
        ...

    def shutdown(self, *, wait: bool, cancel_futures: bool) -> None:
        """Take no more jobs."""
        ...


class GeneratedTicks:
    """Asks a worker for the generated tick of the plan in use."""

    def __init__(self, worker: Worker | None = None) -> None:
        self._worker: Worker = worker or ThreadPoolExecutor(1, "tick writer")
        self._ready: dict[Plan, Quick] = {}
        self._running: Future[Quick] | None = None

    def look(self, plan: Plan, steady_s: float) -> Quick | None:
        """The plan's tick, if it is ready; begins on it when the plan has been steady for a moment."""
        if self._running is not None and self._running.done():
            if not self._running.cancelled() and self._running.exception() is None:
                self._keep(self._running.result())
            self._running = None
        found = self._ready.get(plan)
        if found is None and self._running is None and steady_s >= SETTLE_S:
            self._running = self._worker.submit(quick_of, plan)
        return found

    def close(self) -> None:
        """Begin nothing any more."""
        self._worker.shutdown(wait=False, cancel_futures=True)

    def _keep(self, quick: Quick) -> None:
        self._ready[quick.plan] = quick
        while len(self._ready) > KEPT:
            del self._ready[next(iter(self._ready))]
