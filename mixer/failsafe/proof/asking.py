"""A proof in a thread of its own, so that an interrupt ends it at once and leaves the solver whole.

Left to itself, z3 takes Ctrl-C for its own while it works and answers "unknown". An interrupt within one
of its other calls is lost in a destructor or comes out as another error, and a context that is taken down
while a thread still works in it brings the process down with it. Python tells the main thread alone of
signals: so only the proof's thread touches z3, all its terms live and die there, and whoever waits may be
interrupted at any time.
"""

import threading
from collections.abc import Callable
from typing import Any, Generic, TypeVar

from mixer.errors import InternalError

LOOK_S = 0.1
"""How often waiting looks for a signal, on systems where waiting itself is not interrupted."""
AGAIN_S = 0.02
GIVE_UP_S = 0.6
"""A solver that has not ended by then is left to the end of the process."""

Result = TypeVar("Result")


class _Ended(BaseException):
    """Ends the proof's thread: nobody waits for it any more."""


class _Proof(threading.Thread, Generic[Result]):
    """Work that asks the solver, its result or failure, and the question it is waiting on."""

    def __init__(self, work: Callable[[], Result]) -> None:
        super().__init__(name="proof", daemon=True)
        self.results: list[Result] = []
        self.failure: Exception | None = None
        self.solver: Any = None
        self.unwanted = False
        self._work = work

    def run(self) -> None:
        """Do the work; whatever it raises is for the one who waits."""
        try:
            self.results.append(self._work())
        except _Ended:
            return
        except Exception as error:
            self.failure = error

    def stop(self) -> None:
        """End the question being asked, and ask no other.

        Again and again: the solver hears of no interrupt that comes before it has begun.
        """
        self.unwanted = True
        for _ in range(round(GIVE_UP_S / AGAIN_S)):
            solver = self.solver
            if solver is not None:
                solver.ctx.interrupt()
            self.join(AGAIN_S)
            if not self.is_alive():
                return


def in_own_thread(work: Callable[[], Result]) -> Result:
    """The result of `work`, which may `ask`; whatever interrupts the wait ends the work, and is raised."""
    proof = _Proof(work)
    try:
        proof.start()
        while proof.is_alive():
            proof.join(LOOK_S)
    except BaseException:
        proof.stop()
        raise
    if proof.failure is not None:
        raise proof.failure
    if not proof.results:
        raise InternalError("a proof ended without a result")
    return proof.results[0]


def ask(solver: Any) -> Any:  # noqa: ANN401 - z3 has no types
    """`solver.check()`, within `in_own_thread`."""
    proof = threading.current_thread()
    if not isinstance(proof, _Proof):
        raise InternalError("the solver is asked in a proof's own thread only")
    solver.set("ctrl_c", False)
    proof.solver = solver
    try:
        if proof.unwanted:
            raise _Ended
        answer = solver.check()
        if proof.unwanted:
            raise _Ended
        return answer
    finally:
        proof.solver = None
