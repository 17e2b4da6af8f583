"""The solver's part of a proof: relations that keep themselves, and rules that follow from them.

The solver may take so many steps of its own (z3's resource limit) for each question, never so much time:
what is proven on one machine is proven on every other, however busy it is.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from mixer.core.layout import layout_of
from mixer.failsafe.proof.asking import ask
from mixer.laws.relations import relations
from mixer.live.judge.watched import Watched
from mixer.lower.solve.terms import Encoded, Term, encode, z3_module

DEFAULT_STEPS = 12_000_000
"""Of the solver, for each question; the examples need a tenth of it at most."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of one rule."""

    proven: bool
    reason: str = ""


class Prover:
    """All questions about one watched tick."""

    def __init__(self, watched: Watched, steps: int = DEFAULT_STEPS) -> None:
        self.watched = watched
        self.steps = steps
        self.z3 = z3_module()
        self.context = self.z3.Context()
        self.tick = encode(watched.graph, self.context)
        self.outline = encode(watched.graph, self.context, "outline ", coarse=True)
        """The same tick with less known of its products: what follows here follows, and is found faster."""
        self.names = [
            name.removeprefix("kept.") for name in watched.graph.signals if name.startswith("kept.")
        ]
        self.kept: list[str] = []
        self.dropped: list[str] = []
        self.proven: list[str] = []
        """Rules that may be taken for granted from now on, within the same tick."""

    def find_relations(self) -> tuple[list[str], list[str]]:
        """The relations that hold at power-up and keep themselves, and those dropped on the way."""
        at_start = self._at_start()
        self.kept = [name for name in self.names if at_start[name] and not self._never(self.tick, name)]
        while not (self._follows_in_outline("kept", self.kept) or self._all_kept()):
            pass
        self.dropped = [name for name in self.names if name not in self.kept]
        return self.kept, self.dropped

    def settle(self, rule: str) -> Answer:
        """Prove a rule from the relations, or say why it is not."""
        broken = _is_one(self.tick.signals[f"broken.{rule}"])
        if broken is False or self._follows_in_outline("broken", [rule]):
            return self._proven(rule)
        solver = self._solver(self.tick, self.kept)
        solver.add(broken)
        answer = ask(solver)
        if answer == self.z3.unsat:
            return self._proven(rule)
        if answer == self.z3.unknown:
            return Answer(proven=False, reason=f"the solver gave up after {self.steps} steps")
        unkept = f"; not kept by a tick: {'; '.join(self.dropped)}" if self.dropped else ""
        return Answer(proven=False, reason=f"does not follow from what a tick keeps{unkept}")

    def settle_together(self, rules: list[str]) -> bool:
        """Prove several rules in one question; False says nothing about any of them."""
        followed = self._follows_in_outline("broken", rules)
        self.proven += rules if followed else []
        return followed

    def _proven(self, rule: str) -> Answer:
        self.proven.append(rule)
        return Answer(proven=True)

    def _at_start(self) -> Mapping[str, bool]:
        plan, start = self.watched.plan, self.watched.start
        layout = layout_of(plan)
        return relations(plan, layout.state_of(start), start[len(layout.state) :])

    def _never(self, tick: Encoded, name: str) -> bool:
        return any(_is_one(tick.signals[f"{prefix}.{name}"]) is False for prefix in ("assumed", "kept"))

    def _all_kept(self) -> bool:
        """Ask whether one tick keeps all of the kept; drop what a model, or the limit, speaks against."""
        questions = {name: _is_one(self.tick.signals[f"kept.{name}"]) for name in self.kept}
        open_ones = {name: kept for name, kept in questions.items() if kept is not True}
        if not open_ones:
            return True
        solver = self._solver(self.tick, self.kept)
        solver.add(self.z3.Or([self.z3.Not(kept) for kept in open_ones.values()]))
        answer = ask(solver)
        if answer == self.z3.unsat:
            return True
        if answer == self.z3.unknown:
            self.kept = [name for name in self.kept if name not in open_ones]
            return True
        model = solver.model()
        lost = {
            name
            for name, kept in open_ones.items()
            if not self.z3.is_true(model.eval(kept, model_completion=True))
        }
        self.kept = [name for name in self.kept if name not in lost]
        return False

    def _follows_in_outline(self, prefix: str, names: list[str]) -> bool:
        """Whether the outline alone shows that the relations are kept, or that the rules are not broken."""
        wrong = 0 if prefix == "kept" else 1
        values = [self.outline.signals[f"{prefix}.{name}"] for name in names]
        if any(not isinstance(value, Term) and value == wrong for value in values):
            return False
        doubts = [value.expression == wrong for value in values if isinstance(value, Term)]
        if not doubts:
            return True
        solver = self._solver(self.outline, self.kept)
        solver.add(self.z3.Or(doubts))
        return bool(ask(solver) == self.z3.unsat)

    def _solver(self, tick: Encoded, assumed: list[str]) -> Any:  # noqa: ANN401
        solver = self.z3.Solver(ctx=self.context)
        solver.set("rlimit", self.steps)
        solver.add(tick.assumed)
        for name in assumed:
            condition = _is_one(tick.signals[f"assumed.{name}"])
            if not isinstance(condition, bool):
                solver.add(condition)
        for rule in self.proven:
            broken = _is_one(tick.signals[f"broken.{rule}"])
            if not isinstance(broken, bool):
                solver.add(self.z3.Not(broken))
        return solver


def _is_one(value: Any) -> Any:  # noqa: ANN401 - z3 has no types
    """The condition that a 0/1 signal is 1; a plain bool where that is known."""
    return value.expression == 1 if isinstance(value, Term) else value == 1
