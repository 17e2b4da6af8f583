"""Mutation testing of the firmware: one small mistake at a time, and who notices it.

PYTHONPATH=. python tests/bench/mutate_core.py [--count N] [--seed S] [--judges] [--jobs J]

Each mutant is the core with one operator, number, name or statement changed in its syntax tree. The unit
tests (`tests/core`, `tests/published/test_core_*`) that call the changed function are tried on it, the
quickest first, until one fails. With `--judges` runs from power-up, proof and a small campaign are tried as
well, on the robots of `tests/failsafe/wrong_cores.py`. Mutants that survive the unit tests are printed
with their place; those in `EQUIVALENT` change nothing that can be seen, and say why.

Everything is imported and collected once. Each mutant lives in a child process, where the functions of the
core get the changed code in place, so that nothing on disk is touched, all who hold a function have the
changed one, and a mutant that never ends can be stopped.
"""
# ruff: noqa: ANN401 - syntax trees have many types, and importers fixed arguments

import argparse
import ast
import os
import random
import resource
import select
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import FunctionType
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings

from mixer.failsafe.campaign.run import Request, run_campaign
from mixer.failsafe.proof.hunt import breaking_runs
from mixer.failsafe.proof.theorems import ProofOutcome, prove_rules
from mixer.live.judge.watched import watched_graph
from tests.failsafe.wrong_cores import RAMPING, RESUMING, RICH, RIG, SHARED

ROOT = Path(__file__).parents[2]
CORE = ROOT / "mixer" / "core"
FILES = ("ops", "intake", "shape", "blend", "guard", "interlock", "drive", "tick", "rest", "layout", "plan")
UNIT_TESTS = (
    "test_ops", "test_intake", "test_shape", "test_blend", "test_guard", "test_interlock", "test_drive",
    "test_tick", "test_flip", "test_rest", "test_layout", "test_rules", "test_symmetry",
    "test_guard_machine",
)  # fmt: skip
PYTEST = (
    "-q", "--noconftest", "-n0", "--assert=plain", "-p", "no:cacheprovider", "-m", "not long",
    "-W", "ignore::pytest.PytestAssertRewriteWarning", "-W", "ignore::pytest.PytestUnknownMarkWarning",
)  # fmt: skip
LONGEST_S = 120
ROBOTS = (RIG, RICH, SHARED, RAMPING, RESUMING)
CAMPAIGN = 1000
"""Scenarios of one second each, on each of two robots."""

_NO_ROOM = "a part of 0 takes no room: it is never the tightest, whichever way its sign is read"
_EQUAL = "stands where both are equal"
_EITHER = "at 0 both arms give 0, and beyond it the other arm is taken"
_BELOW = "below = mul(clamp(away, -stick.low_span_us, 0), stick.low_gain)"
_WITHIN = "within = clamp(gained, -ONE, ONE) if plan.gain > ONE else gained"
_ZERO = "0 is its own opposite"
_CROWDED = "if any(sum(map(abs, row)) - abs(row[giver]) > ONE for row in weights):"
_POSITION = "intake.position_of(switch, channels[switch.channel][0].pulse, before.position)"
_NO_MEDIAN = "if before.newer is None or before.older is None:"
_ABSENT = "absent = (None,) * (len(shape) - len(numbers))"
_EVEN = "command = mul(clamp(away, -stick.low_span_us, stick.high_span_us), stick.high_gain)"
EQUIVALENT: Mapping[str, str] = {
    "this_room = ONE - select(part < 0, -kept, kept): part < 0 -> part <= 0": _NO_ROOM,
    "this_room = ONE - select(part < 0, -kept, kept): 0 -> 1": _NO_ROOM,
    f"{_WITHIN}: plan.gain > ONE -> plan.gain >= ONE": "a gain of exactly one leaves nothing to clamp",
    "less = a < b: a < b -> a <= b": _EQUAL,
    "more = a > b: a > b -> a >= b": _EQUAL,
    "above = x > high: x > high -> x >= high": _EQUAL,
    "below = x < low: x < low -> x <= low": _EQUAL,
    "return select(x < 0, -x, x): 0 -> 1": _ZERO,
    "return select(x < 0, -x, x): x < 0 -> x <= 0": _ZERO,
    f"{_CROWDED}: sum(map(abs, row)) - abs(row[giver]) -> sum(map(abs, row)) + abs(row[giver])": (
        "what fits already stays exactly as it is when it is scaled"
    ),
    f"{_POSITION}: 0 -> 1": "the pulse that is told is the pulse that is kept",
    "at = bisect_left(good, 0, key=command): 0 -> 1": "the pulse before it is looked at as well",
    f"{_NO_MEDIAN}: before.newer -> before.older": "both or neither are there",
    f"{_ABSENT}: len(shape) - len(numbers) -> len(shape) + len(numbers)": "read one by one, slower",
    "@lru_cache(maxsize=32)  # a robot being tuned is another plan with every edit: 32 -> 33": "only speed",
    "return plan.rest + mul(sent, plan.high_span): plan.high_span -> plan.low_span": _EQUAL,
    f"{_EVEN}: stick.high_gain -> stick.low_gain": _EQUAL,
    f"{_EVEN}: stick.high_span_us -> stick.low_span_us": _EQUAL,
    f"{_EVEN}: stick.low_span_us -> stick.high_span_us": _EQUAL,
    f"{_BELOW}: 0 -> 1": _EITHER,
    "command = select(away < 0, below, above): 0 -> 1": _EITHER,
    "command = select(away < 0, below, above): away < 0 -> away <= 0": _EITHER,
}
"""By what a mutant's key says, why nobody can tell it from the core."""

SWAPPED_NAMES = {
    "low": "high", "low_span_us": "high_span_us", "low_gain": "high_gain", "low_span": "high_span",
    "up_step": "down_step", "out_stop": "in_stop", "out_closed": "in_closed", "newer": "older",
    "out_blocked": "in_blocked", "minimum": "maximum", "LIVE": "RESTING", "STOPPED": "SEARCHING",
    "FAULTED": "STOPPED", "hold_ticks": "lost_ticks", "good_low_us": "good_high_us",
}  # fmt: skip
SWAPPED_NAMES |= {after: before for before, after in SWAPPED_NAMES.items()}
COMMUTING = ("mul", "minimum", "maximum", "min", "max")
"""Their two arguments exchanged are no mistake."""
OPERATORS: Mapping[type[ast.AST], tuple[type[ast.AST], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.Add: (ast.Sub,),
    ast.Sub: (ast.Add,),
    ast.Mult: (ast.Add,),
    ast.FloorDiv: (ast.Mult,),
    ast.BitAnd: (ast.BitOr,),
    ast.BitOr: (ast.BitAnd,),
    ast.RShift: (ast.LShift,),
    ast.And: (ast.Or,),
    ast.Or: (ast.And,),
}


@dataclass(frozen=True)
class Mutant:
    """The core with one mistake."""

    module: str
    line: int
    function: int
    """The line where the innermost function around it begins."""
    before: str
    after: str
    source: str
    """The whole text of the changed module."""

    def __str__(self) -> str:
        return f"{self.module}.py:{self.line} {self.before}  ->  {self.after}"

    @property
    def key(self) -> str:
        """The same with the text of the line instead of its number, which moves."""
        text = (CORE / f"{self.module}.py").read_text(encoding="utf-8").splitlines()[self.line - 1].strip()
        return f"{text}: {self.before} -> {self.after}"


def mutants_of(module: str) -> Iterator[Mutant]:
    """Every mutant of a module of the core, in the order of its text."""
    text = (CORE / f"{module}.py").read_text(encoding="utf-8")
    sites = [node for node in ast.walk(ast.parse(text)) if isinstance(node, ast.expr | ast.stmt)]
    for number, site in enumerate(sites):
        for change in range(len(list(_changes(site)))):
            tree = ast.parse(text)
            node = [node for node in ast.walk(tree) if isinstance(node, ast.expr | ast.stmt)][number]
            if _is_said(tree, node):
                continue
            before = ast.unparse(node).splitlines()[0]
            list(_changes(node))[change]()
            after = ast.unparse(node).splitlines()[0]
            changed = ast.unparse(ast.fix_missing_locations(tree))
            if before != after and changed != ast.unparse(ast.parse(text)):
                yield Mutant(module, site.lineno, _function_around(tree, node), before, after, changed)


def _function_around(tree: ast.Module, node: ast.AST) -> int:
    around = [
        each for each in ast.walk(tree) if isinstance(each, ast.FunctionDef) and node in ast.walk(each)
    ]
    return around[-1].lineno if around else 0


def _is_said(tree: ast.Module, node: ast.AST) -> bool:
    """Whether the node is a type or at module level: what is only said, or breaks every import."""
    for function in ast.walk(tree):
        if not isinstance(function, ast.FunctionDef):
            continue
        said = [*function.args.args, *function.args.kwonlyargs]
        types = [part.annotation for part in said] + [function.returns]
        types += [s.annotation for s in ast.walk(function) if isinstance(s, ast.AnnAssign)]
        said_twice = [word.value for word in ast.walk(function) if _is_strict(word)]
        if any(node in set(ast.walk(kind)) for kind in (*types, *said_twice) if kind is not None):
            return True
        if node in set(ast.walk(function)) and node is not function:
            return False
    return True


def _is_strict(node: ast.AST) -> bool:
    """`zip(..., strict=...)`, which only speaks where lengths are wrong already."""
    return isinstance(node, ast.keyword) and node.arg == "strict"


def _changes(node: ast.AST) -> Iterator[Callable[[], None]]:
    """What may be done to a node, each as something to call."""
    for kind, changes in CHANGES:
        if isinstance(node, kind):
            yield from changes(node)


def _operators(node: Any) -> Iterator[Callable[[], None]]:
    if isinstance(node, ast.Compare):
        for other in OPERATORS.get(type(node.ops[0]), ()) if len(node.ops) == 1 else ():
            yield lambda other=other: node.ops.__setitem__(0, other())
    else:
        for other in OPERATORS.get(type(node.op), ()):
            yield lambda other=other: setattr(node, "op", other())


def _signs(node: Any) -> Iterator[Callable[[], None]]:
    if isinstance(node.op, ast.USub):
        yield lambda: setattr(node, "op", ast.UAdd())


def _constants(node: Any) -> Iterator[Callable[[], None]]:
    if isinstance(node.value, bool):
        yield lambda: setattr(node, "value", not node.value)
    elif isinstance(node.value, int):
        yield lambda: setattr(node, "value", node.value + 1)


def _names(node: Any) -> Iterator[Callable[[], None]]:
    field = "attr" if isinstance(node, ast.Attribute) else "id"
    if (name := getattr(node, field)) in SWAPPED_NAMES:
        yield lambda: setattr(node, field, SWAPPED_NAMES[name])


def _arguments(node: Any) -> Iterator[Callable[[], None]]:
    if isinstance(node.func, ast.Name) and len(node.args) >= 2 and node.func.id not in COMMUTING:
        yield lambda: node.args.__setitem__(slice(-2, None), node.args[:-3:-1])


def _branches(node: Any) -> Iterator[Callable[[], None]]:
    yield lambda: setattr(node, "test", ast.UnaryOp(ast.Not(), node.test))


CHANGES: tuple[tuple[Any, Callable[[Any], Iterator[Callable[[], None]]]], ...] = (
    (ast.Compare | ast.BinOp | ast.BoolOp, _operators),
    (ast.UnaryOp, _signs),
    (ast.Constant, _constants),
    (ast.Attribute | ast.Name, _names),
    (ast.Call, _arguments),
    (ast.If | ast.IfExp, _branches),
)


# ---- Running one -----------------------------------------------------------------------------------


def put_in(module: str, source: str) -> None:
    """Give every function of a module of the core the code of another text, and empty the caches."""
    home = sys.modules[f"mixer.core.{module}"]
    changed: dict[str, Any] = {"__name__": home.__name__}
    exec(compile(source, str(home.__file__), "exec", dont_inherit=True), changed)
    for name, old in vars(home).items():
        _exchange(old, changed.get(name), home.__name__)
    forget()


def _exchange(old: Any, new: Any, home: str) -> None:
    old, new = (getattr(each, "__wrapped__", getattr(each, "fget", each)) for each in (old, new))
    if getattr(old, "__module__", "") != home:
        return
    if isinstance(old, FunctionType):
        old.__code__ = new.__code__
        if not any(map(callable, new.__defaults__ or ())):
            old.__defaults__ = new.__defaults__
    elif isinstance(old, type):
        for name, member in list(vars(old).items()):
            _exchange(member, vars(new).get(name), home)


def forget() -> None:
    """Clear every cache of what is built on the core."""
    for name, module in list(sys.modules.items()):
        for value in list(vars(module).values()) if name.startswith(("mixer.", "tests.")) else ():
            if hasattr(value, "cache_clear"):
                value.cache_clear()


def in_children(mutants: Sequence[Mutant], judge: Callable[[Mutant], str], jobs: int) -> list[str]:
    """What a judge in a process of its own says of each, or that it ends without a word."""
    said, waiting = [""] * len(mutants), list(enumerate(mutants))[::-1]
    running: dict[int, tuple[int, int]] = {}
    while waiting or running:
        while waiting and len(running) < jobs:
            number, mutant = waiting.pop()
            pipe, child = _begin(mutant, judge)
            running[pipe] = number, child
        for pipe in select.select(list(running), [], [])[0]:
            number, child = running.pop(pipe)
            answer = os.read(pipe, 4096).decode() or "takes too long or crashes"
            said[number] = answer.removeprefix("-")
            sys.stderr.write(f"{mutants[number]}  {said[number] or 'SURVIVES'}\n")
            os.close(pipe)
            os.waitpid(child, 0)
    return said


def _begin(mutant: Mutant, judge: Callable[[Mutant], str]) -> tuple[int, int]:
    receive, send = os.pipe()
    child = os.fork()
    if child:
        os.close(send)
        return receive, child
    try:
        for stream in (1, 2):
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream)
        resource.setrlimit(resource.RLIMIT_CPU, (LONGEST_S, LONGEST_S))
        put_in(mutant.module, mutant.source)
        os.write(send, (judge(mutant) or "-").encode())
    except BaseException as problem:
        os.write(send, f"stops with {problem!r}"[:200].encode())
    finally:
        os._exit(0)


def telling(module: str) -> str:
    """A module's text in which every function notes that it was called, by the line where it begins."""
    tree = ast.parse((CORE / f"{module}.py").read_text(encoding="utf-8"))
    for function in ast.walk(tree):
        if isinstance(function, ast.FunctionDef):
            function.body.insert(0, ast.parse(f"_called.add(({module!r}, {function.lineno}))").body[0])
    return ast.unparse(ast.fix_missing_locations(tree))


class UnitTests:
    """The unit tests, collected once: which functions each calls, and how long it takes."""

    def __init__(self) -> None:
        self.failed: list[str] = []
        self.items: list[pytest.Item] = []
        self.calls: list[set[tuple[str, int]]] = []
        """Of each test, functions by module and line."""
        self.took: list[float] = []
        self.then: Callable[[], None] = lambda: None

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Note what fails."""
        if report.failed:
            self.failed.append(report.nodeid.rpartition("/")[2])

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Instead of running them: run each once on the core as it is, then what was asked for."""
        self.items = session.items
        called: set[tuple[str, int]] = set()
        for module in FILES:
            vars(sys.modules[f"mixer.core.{module}"])["_called"] = called
            put_in(module, telling(module))
        for number in range(len(self.items)):
            called.clear()
            began = time.process_time()
            self._run(number)
            self.took.append(time.process_time() - began)
            self.calls.append(set(called))
            forget()
            if self.failed:
                raise SystemExit(f"the core as it is does not pass: {self.failed[0]}")
        for module in FILES:
            put_in(module, (CORE / f"{module}.py").read_text(encoding="utf-8"))
        show(f"{len(self.items)} unit tests take {sum(self.took):.0f} s")
        self.then()
        return True

    def _run(self, number: int) -> None:
        item = self.items[number]
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)

    def judge(self, mutant: Mutant) -> str:
        """The first test that fails; empty where none does."""
        place = mutant.module, mutant.function
        touching = [number for number, called in enumerate(self.calls) if place in called]
        for number in sorted(touching, key=self.took.__getitem__):
            self._run(number)
            if self.failed:
                return self.failed[0]
        return ""


def with_unit_tests(work: Callable[[UnitTests], None]) -> None:
    """Collect the unit tests, and do the work with them."""
    settings.register_profile(
        "mutants", deadline=None, max_examples=8, derandomize=True, database=None,
        phases=(Phase.explicit, Phase.generate), suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    settings.load_profile("mutants")
    tests = UnitTests()
    tests.then = lambda: work(tests)
    files = [ROOT / "tests" / "core" / f"{name}.py" for name in UNIT_TESTS]
    files += sorted((ROOT / "tests" / "published").glob("test_core_*.py"))
    code = pytest.main([*PYTEST, *map(str, files)], plugins=[tests])
    if not tests.took:
        raise SystemExit(f"pytest ends with {code}")


def by_judges(_: Mutant) -> str:
    """What proof or campaign has against it; empty where neither does."""
    for plan in ROBOTS:
        if runs := breaking_runs(watched_graph(plan)):
            return f"run: {min(runs, key=lambda rule: len(runs[rule]))}"
    for plan in ROBOTS:
        if not (proof := prove_rules(plan)).proven:
            unproven = [item.rule for item in proof.rules if item.outcome is not ProofOutcome.PROVEN]
            return f"proof: {', '.join(unproven)}"[:80]
    for plan in (RIG, RICH):
        campaign = run_campaign(Request(plan, scenarios=CAMPAIGN, jobs=1, seconds=1.0))
        if campaign.broken or campaign.unreached:
            return "campaign"
    return ""


# ---- The table -------------------------------------------------------------------------------------


def show(line: str) -> None:
    """One line of the outcome."""
    sys.stdout.write(line + "\n")


def main() -> None:
    """Run them and print the table."""
    options = _options()
    every = [mutant for module in FILES for mutant in mutants_of(module)]
    rng = random.Random(options.seed)
    chosen = every if options.count >= len(every) else sorted(rng.sample(every, options.count), key=str)
    with_unit_tests(lambda tests: _judge_all(tests, every, chosen, options))


def _judge_all(
    tests: UnitTests, every: Sequence[Mutant], chosen: Sequence[Mutant], options: argparse.Namespace
) -> None:
    began = time.monotonic()
    killed = in_children(chosen, tests.judge, options.jobs)
    judged = in_children(chosen, by_judges, options.jobs) if options.judges else []
    for mutant, by in zip(chosen, killed, strict=True):
        if not by and mutant.key not in EQUIVALENT:
            show(f"survives: {mutant}")
    _table(chosen, killed, judged)
    show(f"{len(every)} mutants there are, seed {options.seed}, {time.monotonic() - began:.0f} s")


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Change the core, one small mistake at a time.")
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--judges", action="store_true", help="try proof and campaign as well")
    return parser.parse_args()


def _table(chosen: Sequence[Mutant], killed: Sequence[str], judged: Sequence[str]) -> None:
    rows = {module: [i for i, m in enumerate(chosen) if m.module == module] for module in FILES}
    show(
        "| module | mutants | killed by unit tests | argued equivalent | survive |"
        + (" proof or campaign |" if judged else "")
    )
    show("|---|---|---|---|---|" + ("---|" if judged else ""))
    total: Counter[str] = Counter()
    for module, places in rows.items():
        counts = Counter(
            mutants=len(places),
            killed=sum(bool(killed[i]) for i in places),
            same=sum(not killed[i] and chosen[i].key in EQUIVALENT for i in places),
        )
        counts["live"] = counts["mutants"] - counts["killed"] - counts["same"]
        counts["judged"] = sum(bool(judged[i]) for i in places) if judged else 0
        total.update(counts)
        _line(module, counts, bool(judged))
    _line("all", total, bool(judged))


def _line(name: str, counts: Mapping[str, int], judged: bool) -> None:
    cells = [counts[key] for key in ("mutants", "killed", "same", "live", *(["judged"] if judged else []))]
    show(f"| {name} | {' | '.join(map(str, cells))} |")


if __name__ == "__main__":
    main()
