"""The shape of the house, read from its syntax trees and tried in fresh interpreters."""

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
ORDER = (
    ("errors",),
    ("core",),
    ("lower", "laws", "profile"),
    ("plant",),
    ("runs",),
    ("faults",),
    ("live",),
    ("failsafe", "link"),
    ("sheet",),
    ("cli",),
)
"""The parts of `mixer`, from the ground up: each may import what stands before it, not beside it."""

MAY_IMPORT = {
    part: {below for floor in ORDER[:height] for below in floor}
    for height, floor in enumerate(ORDER)
    for part in floor
}
"""Which parts of `mixer` each part may import besides itself; `testing` may import all of them."""

TUI_MAY_IMPORT = set(MAY_IMPORT) - {"cli", "sheet"}
ON_USE_ONLY = ("z3", "serial", "matplotlib")
LONGEST_FILE = 300
MOST_MODULES = 16
LONGEST_FUNCTION = 30
MOST_METHODS = 15

MODULES = sorted([*ROOT.glob("mixer/**/*.py"), *ROOT.glob("tui/**/*.py")])
MIXER = [path for path in MODULES if path.relative_to(ROOT).parts[0] == "mixer"]
by_path = pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))


def tree_of(path: Path) -> ast.Module:
    """A module's syntax tree."""
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


def imports_of(path: Path) -> Iterator[str]:
    """Every module a file names in an import, wherever it stands, as ``mixer.core.ops``."""
    package = path.relative_to(ROOT).with_suffix("").parts[:-1]
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = ".".join(package[: len(package) - node.level + 1]) if node.level else ""
            source = ".".join(part for part in (base, node.module) if part)
            yield from (f"{source}.{alias.name}" for alias in node.names)


def part_of(path: Path) -> str:
    """``core`` for a module in mixer/core, ``errors`` for mixer/errors.py, empty for mixer/__init__.py."""
    inside = path.relative_to(ROOT).with_suffix("").parts[1:]
    return "" if inside == ("__init__",) else inside[0]


def wrong_imports(part: str, imported: list[str], allowed: set[str]) -> list[str]:
    """The imports of `mixer` parts that are neither the part itself nor allowed."""
    wrong = []
    for name in imported:
        words = name.split(".")
        if words[0] == "mixer" and len(words) > 1 and words[1] not in allowed | {part, "__version__"}:
            wrong.append(name)
        if words[0] == "tui":
            wrong.append(name)
    return wrong


@pytest.mark.parametrize("path", MIXER, ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_run_one_way(path: Path) -> None:
    """No part of mixer imports one that stands above or beside it, and none imports the screen."""
    part = part_of(path)
    if part == "testing":
        allowed = set(MAY_IMPORT)
    else:
        assert not part or part in MAY_IMPORT or part == "__main__", f"{part} has no place in the order"
        allowed = MAY_IMPORT.get(part, set(MAY_IMPORT) if part == "__main__" else set())
    assert wrong_imports(part, list(imports_of(path)), allowed) == []


def test_the_import_rule_can_fail() -> None:
    """An edge against the order is found, in either spelling."""
    assert wrong_imports("core", ["mixer.profile.schema.root"], MAY_IMPORT["core"]) == [
        "mixer.profile.schema.root"
    ]
    assert wrong_imports("lower", ["mixer.laws"], MAY_IMPORT["lower"]) == ["mixer.laws"]
    assert wrong_imports("runs", ["tui.engine"], MAY_IMPORT["runs"]) == ["tui.engine"]


@pytest.mark.parametrize(
    "path",
    [path for path in MODULES if path not in MIXER],
    ids=lambda path: str(path.relative_to(ROOT)),
)
def test_the_screen_uses_only_what_is_meant_for_it(path: Path) -> None:
    """The screen asks the robot, not the command line and not the sheet."""
    imported = [name for name in imports_of(path) if name.split(".")[0] == "mixer"]
    assert wrong_imports("", imported, TUI_MAY_IMPORT) == []


def test_numpy_stays_out_of_core_and_profile() -> None:
    """Core and profile do with the standard library (and pydantic, tomlkit for profile)."""
    for path in MIXER:
        if part_of(path) in ("core", "profile"):
            assert not [name for name in imports_of(path) if name.split(".")[0] == "numpy"], path


@pytest.mark.parametrize("package", ON_USE_ONLY)
def test_heavy_packages_have_one_door(package: str) -> None:
    """The solver, the serial port and the plotter are each imported in one module at most, and on use."""
    doors = [path for path in MODULES if package in {name.split(".")[0] for name in imports_of(path)}]
    assert len(doors) <= 1, doors
    for path in doors:
        for node in at_import_time(tree_of(path)):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert package not in {name.split(".")[0] for name in names}, (
                f"{path} imports {package} at once"
            )


def at_import_time(node: ast.AST) -> Iterator[ast.AST]:
    """Everything that runs when a module is imported: not the bodies of functions, nor type checking."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            continue
        if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test):
            continue
        yield child
        yield from at_import_time(child)


def loaded_by(statement: str) -> set[str]:
    """Which top-level packages a fresh interpreter has loaded after a statement."""
    code = f"import sys\n{statement}\nprint(*sorted(sys.modules))"
    done = subprocess.run(
        [sys.executable, "-I", "-c", f"import sys; sys.path.insert(0, {str(ROOT)!r})\n{code}"],
        capture_output=True,
        text=True,
        check=True,
    )
    return set(done.stdout.split())


def test_the_core_pulls_in_nothing_but_the_standard_library() -> None:
    """In a fresh interpreter, importing the whole core loads core and standard library modules only."""
    names = sorted(path.stem for path in (ROOT / "mixer" / "core").glob("*.py") if path.stem != "__init__")
    new = loaded_by("import " + ", ".join(f"mixer.core.{name}" for name in names)) - loaded_by("pass")
    ours = {name for name in new if name.split(".")[0] == "mixer"}
    assert {".".join(name.split(".")[:2]) for name in ours} <= {"mixer", "mixer.core", "mixer.errors"}
    assert {name.split(".")[0] for name in new - ours} <= set(sys.stdlib_module_names)


@pytest.mark.parametrize(
    "package", sorted(path.name for path in (ROOT / "mixer").iterdir() if path.is_dir())
)
def test_importing_a_part_loads_no_heavy_package(package: str) -> None:
    """In a fresh interpreter no part of mixer loads solver, serial port, plotter or screen."""
    modules = sorted(
        ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        for path in (ROOT / "mixer" / package).rglob("*.py")
        if path.stem != "__main__"
    )
    if modules:
        loaded = {name.split(".")[0] for name in loaded_by("import " + ", ".join(modules))}
        assert not loaded & {*ON_USE_ONLY, "textual", "tui"}


@by_path
def test_files_are_short(path: Path) -> None:
    """A file has one purpose and at most 300 lines."""
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST_FILE


def body_lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of a function's body, its docstring left out."""
    body = function.body[1:] if ast.get_docstring(function) is not None else function.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


@by_path
def test_functions_and_classes_are_small(path: Path) -> None:
    """A function's body has at most 30 lines without its docstring, a class at most 15 public methods."""
    too_big = []
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and body_lines(node) > LONGEST_FUNCTION:
            too_big.append(f"{node.name}: {body_lines(node)} lines")
        if isinstance(node, ast.ClassDef):
            methods = [
                part for part in node.body if isinstance(part, ast.FunctionDef | ast.AsyncFunctionDef)
            ]
            public = [method for method in methods if not method.name.startswith("_")]
            if len(public) > MOST_METHODS:
                too_big.append(f"{node.name}: {len(public)} public methods")
    assert too_big == []


def undocumented(node: ast.Module | ast.ClassDef, prefix: str = "") -> Iterator[str]:
    """Public classes, functions and methods without a docstring; functions inside functions are private."""
    for child in node.body:
        if not isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            continue
        if child.name.startswith("_"):
            continue
        if ast.get_docstring(child) is None:
            yield prefix + child.name
        if isinstance(child, ast.ClassDef):
            yield from undocumented(child, f"{child.name}.")


@by_path
def test_everything_public_says_what_it_does(path: Path) -> None:
    """Every module with code and every public class, function and method has a docstring."""
    tree = tree_of(path)
    assert not tree.body or ast.get_docstring(tree)
    assert list(undocumented(tree)) == []


@by_path
def test_no_star_imports(path: Path) -> None:
    """Every name says where it comes from."""
    assert not [name for name in imports_of(path) if name.endswith(".*")]


MUTABLE_CALLS = {"list", "dict", "set", "bytearray", "defaultdict", "deque", "Counter", "OrderedDict"}


def changes_of_names(tree: ast.Module) -> Iterator[str]:
    """What makes module state: `global`, unnamed-as-constant collections, and constants written to."""
    constants = set()
    for statement in tree.body:
        targets: list[ast.expr] = []
        if isinstance(statement, ast.Assign):
            targets = statement.targets
        elif isinstance(statement, ast.AnnAssign):
            targets = [statement.target]
        value = getattr(statement, "value", None)
        built = isinstance(value, ast.Call) and ast.unparse(value.func).split(".")[-1] in MUTABLE_CALLS
        literal = isinstance(
            value, ast.List | ast.Dict | ast.Set | ast.ListComp | ast.DictComp | ast.SetComp
        )
        for target in targets:
            name = ast.unparse(target)
            constants.add(name)
            if built or (literal and not name.isupper() and name != "__all__"):
                yield f"{name} is a collection that can change"
    for node in ast.walk(tree):
        if isinstance(node, ast.Global):
            yield f"global {', '.join(node.names)}"
        yield from _writes(
            node, {name for name in constants if name.isupper() or name.lstrip("_").isupper()}
        )


def _writes(node: ast.AST, constants: set[str]) -> Iterator[str]:
    """Stores into, and changing methods of, a constant collection."""
    changing = {
        "append",
        "add",
        "update",
        "clear",
        "pop",
        "extend",
        "insert",
        "remove",
        "setdefault",
        "popitem",
    }
    if isinstance(node, ast.Subscript) and isinstance(node.ctx, ast.Store | ast.Del):
        changed = node.value
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in changing:
        changed = node.func.value
    else:
        return
    if ast.unparse(changed) in constants:
        yield f"{ast.unparse(node)} changes a constant"


@by_path
def test_no_module_level_mutable_state(path: Path) -> None:
    """Modules hold constants only: upper-case tables that nothing writes to, and no `global`."""
    assert list(changes_of_names(tree_of(path))) == []


@pytest.mark.parametrize(
    "code",
    [
        "seen = []",
        "CACHE = dict()",
        "def f():\n    global x\n    x = 1",
        "A = {}\nA['b'] = 1",
        "A = []\nA.append(1)",
    ],
)
def test_the_state_rule_can_fail(code: str) -> None:
    """Each kind of module state is found."""
    assert list(changes_of_names(ast.parse(code)))
