"""The solver's part of a proof: relations that keep themselves, rules that follow, models that do not."""

import random
import time
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from mixer.core.layout import layout_of
from mixer.failsafe.proof.asking import ask
from mixer.failsafe.proof.counter_example import CounterExample, confirmed
from mixer.laws.relations import relations
from mixer.live.judge.watched import Watched
from mixer.lower.solve.terms import Encoded, Term, encode, z3_module

DEEPEST = 3
"""Ticks looked ahead for a counter-example."""
_VARIATIONS = 300
_LEAST_MS = 50


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of one rule."""

    proven: bool
    reason: str = ""
    counter_example: CounterExample | None = None


class Prover:
    """All questions about one watched tick, within one deadline (of `time.monotonic`)."""

    def __init__(self, watched: Watched, deadline: float) -> None:
        self.watched = watched
        self.deadline = deadline
        self.until = deadline
        self.z3 = z3_module()
        self.context = self.z3.Context()
        self.ticks = [encode(watched.graph, self.context)]
        self.tick = self.ticks[0]
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

    def settle(self, rule: str, share: float = 1.0) -> Answer:
        """Prove a rule from the relations, else seek a counter-example, in a share of the time left."""
        now = time.monotonic()
        self.until = now + (self.deadline - now) * share
        broken = _is_one(self.tick.signals[f"broken.{rule}"])
        if broken is False or self._follows_in_outline("broken", [rule]):
            return self._proven(rule)
        solver = self._solver(self.tick, self.kept, divisor=2)
        solver.add(broken)
        answer = ask(solver)
        if answer == self.z3.unsat:
            return self._proven(rule)
        example = self._example(rule)
        if example is not None:
            return Answer(proven=False, counter_example=example)
        if answer == self.z3.unknown or self._ms_left() <= _LEAST_MS:
            return Answer(proven=False, reason="the time limit was reached")
        unkept = f"; not kept by a tick: {'; '.join(self.dropped)}" if self.dropped else ""
        return Answer(
            proven=False, reason=f"does not follow, and no counter-example was reproduced{unkept}"
        )

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
        """Ask whether one tick keeps all of the kept; drop those that a model, or time, speaks against."""
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
        solver = self._solver(self.outline, self.kept, divisor=3)
        solver.add(self.z3.Or(doubts))
        return bool(ask(solver) == self.z3.unsat)

    def _solver(self, tick: Encoded, assumed: list[str], divisor: int = 1) -> Any:  # noqa: ANN401
        solver = self.z3.Solver(ctx=self.context)
        solver.set("timeout", max(self._ms_left() // divisor, _LEAST_MS))
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

    def _ms_left(self) -> int:
        return int((self.until - time.monotonic()) * 1000)

    def _example(self, rule: str) -> CounterExample | None:
        """From a state in which all relations hold, over one tick or a few."""
        for depth in range(1, DEEPEST + 1):
            if self._ms_left() <= _LEAST_MS:
                return None
            if depth > len(self.ticks):
                after = self.ticks[-1].after
                self.ticks.append(encode(self.watched.graph, self.context, f"tick {depth} ", after))
            ticks = self.ticks[:depth]
            solver = self._solver(
                self.tick, [name for name in self.names if not self._never(self.tick, name)]
            )
            for later in ticks[1:]:
                solver.add(later.assumed)
            broken = _is_one(ticks[-1].signals[f"broken.{rule}"])
            if broken is False:
                continue
            if broken is not True:
                solver.add(broken)
            if ask(solver) == self.z3.sat:
                found = self._reproduced(rule, ticks, solver.model())
                if found is not None:
                    return found
        return None

    def _reproduced(self, rule: str, ticks: list[Encoded], model: Any) -> CounterExample | None:  # noqa: ANN401
        """The model as the core runs it, pulses varied where an abstracted product misled the solver."""
        plan, watched = self.watched.plan, self.watched
        state = tuple(_number(model, self.tick.before[slot]) for slot in watched.slots)
        rows = tuple(tuple(_number(model, value) for value in tick.inputs.values()) for tick in ticks)
        rng = random.Random(0)  # noqa: S311 - trials, not secrets
        for attempt in range(_VARIATIONS):
            found = confirmed(plan, rule, state, rows)
            if found is not None or (attempt and self._ms_left() <= _LEAST_MS):
                return found
            state, rows = self._varied(rng, state, rows)
        return None

    def _varied(
        self, rng: random.Random, state: tuple[int, ...], rows: tuple[tuple[int, ...], ...]
    ) -> tuple[tuple[int, ...], tuple[tuple[int, ...], ...]]:
        """Other good pulses on the sticks' channels, wherever a good pulse stands now."""
        plan = self.watched.plan
        slots = dict(zip(self.watched.slots, state, strict=True))
        changed = [list(row) for row in rows]
        for stick in plan.sticks:
            channel = plan.channels[stick.channel]
            low, high = channel.good_low_us, channel.good_high_us
            pulse = rng.choice((low, high, rng.randint(low, high)))
            held = layout_of(plan).slot_names.channels[stick.channel].pulse
            for name in (held, f"watch.pulse.{channel.name}"):
                slots[name] = pulse
            for row in changed:
                if low <= row[stick.channel] <= high:
                    row[stick.channel] = pulse
        return tuple(slots.values()), tuple(tuple(row) for row in changed)


def _is_one(value: Any) -> Any:  # noqa: ANN401 - z3 has no types
    """The condition that a 0/1 signal is 1; a plain bool where that is known."""
    return value.expression == 1 if isinstance(value, Term) else value == 1


def _number(model: Any, value: Any) -> int:  # noqa: ANN401 - z3 has no types
    if not isinstance(value, Term):
        return int(value)
    return int(model.eval(value.expression, model_completion=True).as_long())
