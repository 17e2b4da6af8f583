"""A proof is interrupted at whatever moment: the interrupt is told to who waits, and the solver ends."""

import _thread
import threading
from collections.abc import Callable
from typing import Any

import pytest

from mixer.errors import InternalError
from mixer.failsafe.proof import asking
from mixer.failsafe.proof.asking import ask, in_own_thread

z3 = pytest.importorskip("z3")
pytestmark = pytest.mark.needs_tool("z3")


def endless() -> Any:  # noqa: ANN401 - z3 has no types
    """A question that takes the solver far longer than any test: pigeons in too few holes."""
    context = z3.Context()
    solver = z3.Solver(ctx=context)
    sits = [[z3.Bool(f"{pigeon} {hole}", context) for hole in range(13)] for pigeon in range(14)]
    solver.add([z3.Or(row) for row in sits])
    for hole in zip(*sits, strict=True):
        solver.add([z3.Or(z3.Not(a), z3.Not(b)) for n, a in enumerate(hole) for b in hole[:n]])
    return solver


def proofs() -> list[threading.Thread]:
    """Proofs at work."""
    return [thread for thread in threading.enumerate() if thread.name == "proof" and thread.is_alive()]


@pytest.fixture(autouse=True)
def _patience(monkeypatch: pytest.MonkeyPatch) -> None:
    """However busy the machine is, the solver is waited for."""
    monkeypatch.setattr(asking, "GIVE_UP_S", 60.0)


def interrupted(work: Callable[[], object]) -> None:
    """The work is waited for, interrupted, and has ended when the interrupt is heard."""
    with pytest.raises(KeyboardInterrupt):
        in_own_thread(work)
    assert proofs() == []


def test_an_interrupt_ends_the_question() -> None:
    """While the solver works."""

    def work() -> None:
        solver = endless()
        threading.Timer(0.3, _thread.interrupt_main).start()
        ask(solver)

    interrupted(work)


def test_an_interrupt_before_the_question_ends_it_too() -> None:
    """Between two questions, where the solver itself would hear nothing of it."""

    def work() -> None:
        _thread.interrupt_main()
        while True:
            ask(endless())

    interrupted(work)


def test_result_and_failure_are_handed_over() -> None:
    """What the work gives, or raises."""
    context = z3.Context()

    def fails() -> None:
        raise ValueError("so it is")

    assert in_own_thread(lambda: ask(z3.Solver(ctx=context)) == z3.sat)
    with pytest.raises(ValueError, match="so it is"):
        in_own_thread(fails)


def test_nobody_else_asks() -> None:
    """Where Ctrl-C would be swallowed, or worse, the solver is not asked at all."""
    with pytest.raises(InternalError):
        ask(z3.Solver())
