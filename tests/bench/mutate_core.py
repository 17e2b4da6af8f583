"""Mutation testing of the firmware: one small mistake at a time, and who notices it.

PYTHONPATH=. python tests/bench/mutate_core.py [--count N] [--seed S] [--judges] [--jobs J]

Each mutant is the core with one operator, number, name or statement changed in its syntax tree. The unit
tests (`tests/core`, `tests/published/test_core_*`) are run on it until one fails. With `--judges` proof and
campaign are tried as well, on robots of `tests/plans.py`. Mutants that survive the unit tests are
printed with their place; those in `EQUIVALENT` change nothing that can be seen, and say why.

Changed code runs in a child process that is forked before the core is imported, so that nothing on disk
is touched and a mutant that never ends can be stopped.
"""
# ruff: noqa: ANN401, ARG002 - syntax trees have many types, and importers fixed arguments

import argparse
import ast
import importlib.abc
import importlib.machinery
import os
import random
import select
import signal
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings

ROOT = Path(__file__).parents[2]
CORE = ROOT / "mixer" / "core"
FILES = ("ops", "intake", "shape", "blend", "guard", "interlock", "drive", "tick", "rest", "layout", "plan")
UNIT_TESTS = (
    "test_ops", "test_intake", "test_shape", "test_blend", "test_guard", "test_interlock", "test_drive",
    "test_tick", "test_flip", "test_rest", "test_layout", "test_rules", "test_symmetry",
    "test_guard_machine",
)  # fmt: skip
PYTEST = (
    "-x", "-q", "--noconftest", "-n0", "--assert=plain", "-p", "no:cacheprovider", "-m", "not long",
    "-W", "ignore::pytest.PytestAssertRewriteWarning", "-W", "ignore::pytest.PytestUnknownMarkWarning",
)  # fmt: skip
LONGEST_S = 600

EQUIVALENT: Mapping[str, str] = {}
"""By what a mutant prints as, why nobody can tell it from the core."""

SWAPPED_NAMES = {
    "low": "high", "low_span_us": "high_span_us", "low_gain": "high_gain", "low_span": "high_span",
    "up_step": "down_step", "out_stop": "in_stop", "out_closed": "in_closed", "newer": "older",
    "out_blocked": "in_blocked", "minimum": "maximum", "LIVE": "RESTING", "STOPPED": "SEARCHING",
    "FAULTED": "STOPPED", "hold_ticks": "lost_ticks", "good_low_us": "good_high_us",
}  # fmt: skip
SWAPPED_NAMES |= {after: before for before, after in SWAPPED_NAMES.items()}
COMMUTING = ("mul", "minimum", "maximum")
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
    before: str
    after: str
    source: str
    """The whole text of the changed module."""

    def __str__(self) -> str:
        return f"{self.module}.py:{self.line} {self.before}  ->  {self.after}"

    @property
    def key(self) -> str:
        """The same without the line, which moves."""
        return f"{self.module}: {self.before} -> {self.after}"


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
                yield Mutant(module, site.lineno, before, after, changed)


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


class _Loader(importlib.machinery.SourceFileLoader):
    """Loads one module from a changed text, without a cache on disk."""

    def __init__(self, name: str, mutant: Mutant) -> None:
        super().__init__(name, str(CORE / f"{mutant.module}.py"))
        self._text = mutant.source

    def get_code(self, fullname: str) -> object:  # type: ignore[override]
        return compile(self._text, self.path, "exec", dont_inherit=True)


class _Finder(importlib.abc.MetaPathFinder):
    """Finds the changed module before anybody else does."""

    def __init__(self, mutant: Mutant) -> None:
        self._mutant = mutant

    def find_spec(self, name: str, path: object, target: object = None) -> object:  # type: ignore[override]
        if name != f"mixer.core.{self._mutant.module}":
            return None
        return importlib.machinery.ModuleSpec(name, _Loader(name, self._mutant), origin=str(CORE))


def in_a_child(mutant: Mutant, work: Callable[[], str], longest_s: float = LONGEST_S) -> str:
    """What `work` says with the changed core, "never ends", or "crashes"."""
    receive, send = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            sys.meta_path.insert(0, _Finder(mutant))
            quiet = os.open(os.devnull, os.O_WRONLY)
            os.dup2(quiet, 1)
            os.dup2(quiet, 2)
            os.write(send, work().encode())
        except BaseException as problem:
            os.write(send, f"stops with {problem!r}"[:200].encode())
        finally:
            os._exit(0)
    os.close(send)
    try:
        if not select.select([receive], [], [], longest_s)[0]:
            return "never ends"
        return os.read(receive, 4096).decode() or "crashes"
    finally:
        os.close(receive)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)


def by_unit_tests(mutant: Mutant) -> str:
    """The first unit test that fails; empty where none does. The module's own tests come first."""

    def work() -> str:
        settings.register_profile(
            "mutants", deadline=None, max_examples=20, derandomize=True, database=None,
            phases=(Phase.explicit, Phase.generate), suppress_health_check=list(HealthCheck),
        )  # fmt: skip
        settings.load_profile("mutants")
        failed: list[str] = []

        class Noted:
            def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
                if report.failed:
                    failed.append(report.nodeid.rpartition("/")[2])

            def pytest_collectreport(self, report: pytest.CollectReport) -> None:
                if report.failed:
                    failed.append(report.nodeid.rpartition("/")[2])

        code = pytest.main([*PYTEST, *_tests(mutant)], plugins=[Noted()])
        return failed[0] if failed else f"pytest ends with {code}" if code else "-"

    said = in_a_child(mutant, work)
    return "" if said == "-" else said


def _tests(mutant: Mutant) -> list[str]:
    ordered = sorted(UNIT_TESTS, key=lambda name: name != f"test_{mutant.module}")
    files = [ROOT / "tests" / "core" / f"{name}.py" for name in ordered]
    files += sorted((ROOT / "tests" / "published").glob("test_core_*.py"))
    return [str(path) for path in files if path.exists()]


def by_judges(mutant: Mutant) -> str:
    """What proof or campaign has against it; empty where neither does."""

    def work() -> str:
        from mixer.failsafe.campaign.run import Request, run_campaign  # noqa: PLC0415
        from mixer.failsafe.proof.theorems import prove_rules  # noqa: PLC0415
        from tests.plans import rig  # noqa: PLC0415

        for plan in (rig(), rig(ramps=True)):
            campaign = run_campaign(Request(plan, scenarios=700, jobs=1))
            if campaign.broken:
                return "campaign"
            if not (proof := prove_rules(plan)).proven:
                unproven = [item.rule for item in proof.rules if item.outcome.name != "PROVEN"]
                return f"proof: {', '.join(unproven)}"[:80]
        return "-"

    said = in_a_child(mutant, work)
    return "" if said == "-" else said


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
    began = time.monotonic()
    unchanged = Mutant("drive", 0, "", "", (CORE / "drive.py").read_text(encoding="utf-8"))
    if options.check and (said := by_unit_tests(unchanged)):
        raise SystemExit(f"the core as it is does not pass: {said}")
    with ThreadPoolExecutor(options.jobs) as pool:
        killed = list(pool.map(_told(by_unit_tests), chosen))
        judged = list(pool.map(_told(by_judges), chosen)) if options.judges else []
    for mutant, by in zip(chosen, killed, strict=True):
        if not by and mutant.key not in EQUIVALENT:
            show(f"survives: {mutant}")
    _table(chosen, killed, judged)
    show(f"{len(every)} mutants there are, seed {options.seed}, {time.monotonic() - began:.0f} s")


def _told(judge: Callable[[Mutant], str]) -> Callable[[Mutant], str]:
    """The same, telling each outcome on stderr as it comes."""

    def told(mutant: Mutant) -> str:
        said = judge(mutant)
        sys.stderr.write(f"{mutant}  {said or 'SURVIVES'}\n")
        return said

    return told


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Change the core, one small mistake at a time.")
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--check", action="store_true", help="first try the core as it is")
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
