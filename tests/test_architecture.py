"""The shape of the house, read from its syntax trees and tried in fresh interpreters."""

import ast
import re
import subprocess
import sys
import tomllib
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import cache
from pathlib import Path

import pytest

from mixer.core.layout import meaning_of

ROOT = Path(__file__).parent.parent
ORDER = (
    ("system", "text"),
    ("errors", "markup"),
    ("files",),
    ("core", "examples"),
    ("lower", "laws", "profile"),
    ("board",),
    ("plant",),
    ("runs",),
    ("faults",),
    ("live",),
    ("failsafe", "link", "sizing"),
    ("course", "review", "sheet"),
    ("cli", "program"),
)
"""The parts of `mixer`, from the ground up: each may import what stands before it, not beside it."""

MAY_IMPORT = {
    part: {below for floor in ORDER[:height] for below in floor}
    for height, floor in enumerate(ORDER)
    for part in floor
}
"""Which parts of `mixer` each part may import besides itself; `testing` may import all of them."""

TUI_MAY_IMPORT = set(MAY_IMPORT) - {"cli", "program", "sheet", "review"}
ON_USE_ONLY = ("z3", "serial", "matplotlib")
MOST_MODULES = 16
LONGEST_FUNCTION = 30
MOST_METHODS = 15

FUNCTION = ast.FunctionDef | ast.AsyncFunctionDef

MODULES = sorted([*ROOT.glob("mixer/**/*.py"), *ROOT.glob("tui/**/*.py")])
MIXER = [path for path in MODULES if path.relative_to(ROOT).parts[0] == "mixer"]
SCREEN = [path for path in MODULES if path not in MIXER]


HOOKS = (
    "__", "on_", "_on_", "action_", "watch_", "validate_", "compute_", "compose", "render", "get_content_",
    "get_system_commands", "initialize_logging",
)  # fmt: skip
"""How names begin that the language or the screen's library calls."""

FRONT_DOORS = {"mixer"}


@cache
def tree_of(path: Path) -> ast.Module:
    """A module's syntax tree."""
    return ast.parse(path.read_text(encoding="utf-8"), str(path))


def against(law: Callable[[Path], Iterable[str]], paths: Iterable[Path] = MODULES) -> dict[str, list[str]]:
    """What in which file is against a law."""
    found = {str(path.relative_to(ROOT)): list(law(path)) for path in paths}
    return {name: said for name, said in found.items() if said}


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


def climbing(path: Path) -> list[str]:
    """The imports of a module of mixer that go up or aside."""
    part = part_of(path)
    if part == "testing":
        allowed = set(MAY_IMPORT)
    else:
        assert not part or part in MAY_IMPORT or part == "__main__", f"{part} has no place in the order"
        door = {"errors", "program"} if part == "" else set(MAY_IMPORT)
        allowed = MAY_IMPORT.get(part, door)
    return wrong_imports(part, list(imports_of(path)), allowed)


def test_imports_run_one_way() -> None:
    """No part of mixer imports one that stands above or beside it, and none imports the screen."""
    assert against(climbing, MIXER) == {}


def test_the_import_rule_can_fail() -> None:
    """An edge against the order is found, in either spelling."""
    assert wrong_imports("core", ["mixer.profile.schema.root"], MAY_IMPORT["core"]) == [
        "mixer.profile.schema.root"
    ]
    assert wrong_imports("lower", ["mixer.laws"], MAY_IMPORT["lower"]) == ["mixer.laws"]
    assert wrong_imports("runs", ["tui.engine"], MAY_IMPORT["runs"]) == ["tui.engine"]


def not_for_the_screen(path: Path) -> list[str]:
    """What a module of the screen imports of mixer and should not."""
    imported = [name for name in imports_of(path) if name.split(".")[0] == "mixer"]
    return wrong_imports("", imported, TUI_MAY_IMPORT)


def test_the_screen_uses_only_what_is_meant_for_it() -> None:
    """The screen asks the robot, not the command line and not the sheet."""
    assert against(not_for_the_screen, SCREEN) == {}


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
        if isinstance(child, FUNCTION | ast.Lambda):
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


def test_importing_all_of_mixer_loads_no_heavy_package() -> None:
    """In a fresh interpreter no part of mixer loads solver, serial port, plotter or screen."""
    modules = (name_of(path) for path in MIXER if path.stem != "__main__")
    loaded = {name.split(".")[0] for name in loaded_by("import " + ", ".join(modules))}
    assert not loaded & {*ON_USE_ONLY, "textual", "tui"}


def name_of(path: Path) -> str:
    """``mixer.core.ops`` for mixer/core/ops.py, ``mixer.core`` for its `__init__`."""
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


BY_NAME = {name_of(path): path for path in MODULES}


def needs_of(path: Path) -> set[str]:
    """The modules of the house that a file names in an import, for types only or not."""
    named = {name if name in BY_NAME else name.rpartition(".")[0] for name in imports_of(path)}
    return {name for name in named if name in BY_NAME} - {name_of(path)}


def circles(needs: Mapping[str, Iterable[str]]) -> set[frozenset[str]]:
    """Every largest set of names of which each needs each, by way of the others (Tarjan 1972)."""
    order: dict[str, int] = {}
    lowest: dict[str, int] = {}
    stack: list[str] = []
    found = set()

    def visit(name: str) -> None:
        order[name] = lowest[name] = len(order)
        stack.append(name)
        for needed in needs.get(name, ()):
            if needed not in order:
                visit(needed)
            if needed in stack:
                lowest[name] = min(lowest[name], lowest[needed])
        if lowest[name] == order[name]:
            ring = frozenset(stack[stack.index(name) :])
            del stack[stack.index(name) :]
            if len(ring) > 1:
                found.add(ring)

    for name in needs:
        if name not in order:
            visit(name)
    return found


def test_no_module_needs_itself_by_way_of_others() -> None:
    """Modules can be read one after the other: no circles, not even of imports for types."""
    assert circles({name: needs_of(path) for name, path in BY_NAME.items()}) == set()


def test_no_folder_needs_itself_by_way_of_others() -> None:
    """Folders stand in an order as well: what one needs does not need it."""
    folders: defaultdict[str, set[str]] = defaultdict(set)
    for path in MODULES:
        if path == ROOT / "mixer" / "__init__.py":
            continue  # the front door: it gives names of the upper floors and stands on none itself
        home = str(path.parent.relative_to(ROOT))
        away = {str(BY_NAME[name].parent.relative_to(ROOT)) for name in needs_of(path)}
        folders[home] |= away - {home}
    assert circles(folders) == set()


def test_the_rule_of_circles_can_fail() -> None:
    """A circle of two and one of three are found, a chain and a diamond are none."""
    found = circles({"a": "b", "b": "a", "c": "d", "d": "e", "e": "cf", "f": "a"})
    assert found == {frozenset("ab"), frozenset("cde")}
    assert circles({"a": "bc", "b": "d", "c": "d", "d": ""}) == set()


def test_few_modules_stand_side_by_side() -> None:
    """A folder can be taken in at a glance."""
    counts = Counter(str(path.parent.relative_to(ROOT)) for path in MODULES if path.stem[0] != "_")
    crowded = {folder: count for folder, count in counts.items() if count > MOST_MODULES}
    assert crowded == {}


def defined_in(tree: ast.Module) -> set[str]:
    """The names that a module makes itself, at its top level."""
    names = set()
    for node in at_import_time(tree):
        if isinstance(node, FUNCTION | ast.ClassDef):
            names.add(node.name)
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            names.add(node.id)
    return names | {node.name for node in tree.body if isinstance(node, FUNCTION)}


def handed_on(path: Path) -> Iterator[str]:
    """What a file takes from a module that only has it from elsewhere."""
    for name in imports_of(path):
        home, _, taken = name.rpartition(".")
        inside = home in BY_NAME and name not in BY_NAME and home not in FRONT_DOORS
        if inside and taken not in defined_in(tree_of(BY_NAME[home])) | {"*"}:
            yield name


def test_a_name_is_taken_where_it_is_made() -> None:
    """No module hands another's names on, so that an import says where a thing is and what needs it."""
    assert {name for path in MODULES for name in handed_on(path)} == set()


def test_no_module_is_only_a_corridor() -> None:
    """A module with imports and nothing of its own is none; a package's `__init__` holds its docstring."""
    corridors = {
        name
        for name, path in BY_NAME.items()
        if any(isinstance(node, ast.Import | ast.ImportFrom) for node in tree_of(path).body)
        and not defined_in(tree_of(path)) - {"__all__"}
        and path.stem != "__main__"
    }
    assert corridors <= FRONT_DOORS


def uses_in(tree: ast.AST) -> Counter[str]:
    """How often each name is read: bare, after a dot, in an import, in an address ``module:name``."""
    seen: Counter[str] = Counter()
    for node in ast.walk(tree):
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
            seen[node.id] += 1
        elif isinstance(node, ast.Attribute):
            seen[node.attr] += 1
        elif isinstance(node, ast.ImportFrom):
            seen.update(alias.name for alias in node.names)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            module, _, name = node.value.partition(":")
            seen[name] += module in BY_NAME
    return seen


def makings(tree: ast.Module) -> Iterator[tuple[str, str]]:
    """A module's functions, classes and methods, as (``Class.name``, name), that no library calls."""
    for node in tree.body:
        if isinstance(node, FUNCTION | ast.ClassDef) and not called_by_libraries(node):
            yield node.name, node.name
        for part in node.body if isinstance(node, ast.ClassDef) else ():
            if isinstance(part, FUNCTION) and not called_by_libraries(part):
                yield f"{node.name}.{part.name}", part.name


def called_by_libraries(node: FUNCTION | ast.ClassDef) -> bool:
    """Whether a name or a decorator makes a library call it: dunder, handler, validator, fixture."""
    plain = {
        "property",
        "cached_property",
        "staticmethod",
        "classmethod",
        "dataclass",
        "cache",
        "lru_cache",
    }
    marks = {ast.unparse(mark).split("(")[0].split(".")[-1] for mark in node.decorator_list}
    return bool(marks - plain) or node.name.startswith(HOOKS)


def test_every_function_has_a_caller() -> None:
    """What only tests call is no part of the program; `testing` and `program` are for others too."""
    uses: Counter[str] = Counter()
    for path in MODULES:
        uses += uses_in(tree_of(path))
    idle = {
        f"{module}.{full}"
        for module, path in BY_NAME.items()
        for full, name in makings(tree_of(path))
        if not uses[name] and not module.startswith(("mixer.testing", "mixer.program"))
    }
    assert idle == set()


def body_lines(function: FUNCTION) -> int:
    """Lines of a function's body, its docstring left out."""
    body = function.body[1:] if ast.get_docstring(function) is not None else function.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


def too_big(path: Path) -> Iterator[str]:
    """Functions of too many lines, classes of too many public methods."""
    for node in ast.walk(tree_of(path)):
        if isinstance(node, FUNCTION) and body_lines(node) > LONGEST_FUNCTION:
            yield f"{node.name}: {body_lines(node)} lines"
        if isinstance(node, ast.ClassDef):
            methods = [part for part in node.body if isinstance(part, FUNCTION)]
            public = [method for method in methods if not method.name.startswith("_")]
            if len(public) > MOST_METHODS:
                yield f"{node.name}: {len(public)} public methods"


def test_functions_and_classes_are_small() -> None:
    """A function's body has at most 30 lines without its docstring, a class at most 15 public methods."""
    assert against(too_big) == {}


def undocumented(node: ast.Module | ast.ClassDef, prefix: str = "") -> Iterator[str]:
    """Public classes, functions and methods without a docstring; functions inside functions are private."""
    for child in node.body:
        if not isinstance(child, FUNCTION | ast.ClassDef):
            continue
        if child.name.startswith("_"):
            continue
        if ast.get_docstring(child) is None:
            yield prefix + child.name
        if isinstance(child, ast.ClassDef):
            yield from undocumented(child, f"{child.name}.")


def unsaid(path: Path) -> Iterator[str]:
    """What of a module is public and has no docstring, itself included."""
    tree = tree_of(path)
    if tree.body and not ast.get_docstring(tree):
        yield "the module"
    yield from undocumented(tree)


def test_everything_public_says_what_it_does() -> None:
    """Every module with code and every public class, function and method has a docstring."""
    assert against(unsaid) == {}


def test_no_star_imports() -> None:
    """Every name says where it comes from."""
    assert against(lambda path: (name for name in imports_of(path) if name.endswith(".*"))) == {}


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


def test_no_module_level_mutable_state() -> None:
    """Modules hold constants only: upper-case tables that nothing writes to, and no `global`."""
    assert against(lambda path: changes_of_names(tree_of(path))) == {}


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


OF_TWO_HOLES = re.compile(r"(output|actuator|channel|stick|switch|contact)\.NAME\.NAME|(guard|flip)\.NAME")


def spelt_out(tree: ast.Module) -> list[str]:
    """Texts in a module that are a signal's or state slot's name, holes of f-strings as ``NAME``."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            text = "".join(str(p.value) if isinstance(p, ast.Constant) else "NAME" for p in node.values)
            found += [text] if meaning_of(text) or OF_TWO_HOLES.fullmatch(text) else []
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and meaning_of(node.value):
            found.append(node.value)
    return found


def test_no_signal_is_spelt_out() -> None:
    """Signals are read by their fields; what they are called is made from those in `core.layout` alone."""
    assert against(lambda path: spelt_out(tree_of(path))) == {}


def test_a_signal_spelt_out_is_found() -> None:
    """In every form one might write it; a profile's key or a part of the plant is none."""
    wrong = ['s["guard.state"]', 's[f"output.{n}.wire"]', 's[f"actuator.{a}.{end}"]', 's[f"guard.{x}"]']
    right = ['p["guard.arm"]', 'p[f"output.{n}.mix"]', 'p[f"output.{n}.current"]', "names.guard.state"]
    assert all(spelt_out(ast.parse(text)) for text in wrong)
    assert not any(spelt_out(ast.parse(text)) for text in right)


def mapped(text: str) -> set[str]:
    """The folders of a map in which deeper ones stand further in, as paths."""
    found: set[str] = set()
    above: list[str] = []
    for line in text.splitlines():
        indent = (len(line) - len(line.lstrip())) // 2
        folders = re.findall(r"([\w.]+)/", re.split(r"\s{2,}", line.strip())[0])
        found |= {"/".join([*above[:indent], name]) for name in folders}
        above = above[:indent] + folders[-1:]
    return found


def test_the_map_of_the_house_is_true() -> None:
    """Every folder with code is on the map of DEVELOPERS.md, and what is on it is there."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    drawn = mapped(text.split("## The house")[1].split("```")[1])
    there = {str(path.parent.relative_to(ROOT)) for path in MODULES}
    assert there <= drawn
    assert {folder for folder in drawn if not (ROOT / folder).is_dir()} == set()


def test_every_folder_is_built() -> None:
    """The packages that pyproject.toml names are the folders of mixer/ and tui/, and the robots."""
    with (ROOT / "pyproject.toml").open("rb") as file:
        built = tomllib.load(file)["tool"]["setuptools"]["packages"]
    folders = (path for top in ("mixer", "tui") for path in [ROOT / top, *(ROOT / top).rglob("*")])
    holding = {
        ".".join(path.relative_to(ROOT).parts)
        for path in folders
        if path.is_dir() and path.name != "__pycache__" and any(item.is_file() for item in path.iterdir())
    }
    assert set(built) == holding | {"mixer.examples.robots"}
    assert len(built) == len(set(built))
