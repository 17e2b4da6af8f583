"""Asking the solver so that an interrupt ends it at once, instead of being taken for "no answer".

Left to itself, z3 takes Ctrl-C for its own while it works and answers "unknown", and Python hears of no
signal before a call returns. So z3's own handling is off, and the call waits in a thread.
"""

import threading
from typing import Any

LOOK_S = 0.1
"""How often waiting looks for a signal, on systems where waiting itself is not interrupted."""
GIVE_UP_S = 0.5


def ask(solver: Any) -> Any:  # noqa: ANN401 - z3 has no types
    """`solver.check()`; whatever interrupts the wait also ends the solver, and is raised."""
    solver.set("ctrl_c", False)
    answers: list[Any] = []
    failures: list[Exception] = []

    def work() -> None:
        try:
            answers.append(solver.check())
        except Exception as error:
            failures.append(error)

    worker = threading.Thread(target=work, name="solver", daemon=True)
    worker.start()
    try:
        while worker.is_alive():
            worker.join(LOOK_S)
    except BaseException:
        solver.ctx.interrupt()
        worker.join(GIVE_UP_S)
        raise
    if failures:
        raise failures[0]
    return answers[0]
