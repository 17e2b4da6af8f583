"""The coupled step in C, over many ticks at once: the operations of generated Python in the same order.

Double precision throughout and no contraction of a product and a sum, so both give the same numbers.
"""

import ctypes
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from mixer.lower.run.native_build import FLAGS, load
from mixer.plant.parts.robot import Robot
from mixer.plant.step.advance import trace_step
from mixer.plant.step.layout import plant_layout_of
from mixer.plant.step.lowering import live_nodes
from mixer.plant.step.trace import FloatSymbol, Points, Trace, Value

EXACT = (
    *FLAGS, "-O1", "-march=native", "-ffp-contract=off", "-fno-math-errno", "-fno-trapping-math", "-lm"
)  # fmt: skip
"""-O1 builds in half the time of -O2, and what it builds is as quick."""
_FORMS = {
    "neg": "-{0}", "abs": "fabs({0})", "select": "{0} ? {1} : {2}",
    "clamp": "{0} < {1} ? {1} : {0} > {2} ? {2} : {0}",
}  # fmt: skip
_FLAGS = ("<", ">", "<=", ">=", "&", "|")
"""Operations whose result is a flag, not a number."""


def native_run(
    robot: Robot, seconds: float, parts: int, finer: int, lively_a: float
) -> Callable[..., None]:
    """`run(duties, state, out, ticks)` on pointers to doubles, each tick being `parts` steps of `seconds`.

    Raises MissingToolError where there is no C compiler, or one that cannot build this.
    """
    layout, tables = plant_layout_of(robot), list[Points]()
    values = {
        "state": str(len(layout.state)), "seen": str(len(layout.seen)), "outputs": str(len(robot.outputs)),
        "parts": str(parts), "finer": str(finer), "lively": repr(lively_a),
        "kinds": ", ".join(kind.upper() for kind in layout.kinds),
        "whole": "\n".join(_body(*trace_step(robot, seconds), tables)),
        "fine": "\n".join(_body(*trace_step(robot, seconds / finer), tables)),
    }  # fmt: skip
    values["tables"] = "\n".join(_table(number, points) for number, points in enumerate(tables))
    text = Path(__file__).with_name("native.c").read_text(encoding="utf-8")
    function = load(re.sub(r"@(\w+)@", lambda found: values[found.group(1)], text), EXACT).run
    function.restype = None
    function.argtypes = [ctypes.c_void_p] * 3 + [ctypes.c_int64]
    return function


def _body(trace: Trace, results: Sequence[Value], tables: list[Points]) -> list[str]:
    """One constant a node, then the results; what is read twice costs the compiler nothing."""
    lines = []
    for index in live_nodes(trace, [r.index for r in results if isinstance(r, FloatSymbol)]):
        node = trace.nodes[index]
        kind = "int" if node[0] in _FLAGS else "double"
        lines.append(f"    const {kind} t{index} = {_expression(node, tables)};")
    for place, result in enumerate(results):
        value = f"t{result.index}" if isinstance(result, FloatSymbol) else repr(float(result))
        lines.append(f"    r[{place}] = {value};")
    return lines


def _expression(node: tuple[Any, ...], tables: list[Points]) -> str:
    name = node[0]
    if name == "input":
        return str(node[1])
    if name == "along":
        points = node[1][1]
        if points not in tables:
            tables.append(points)
        return f"along(TABLE_{tables.index(points)}, {len(points)}, {_operand(node[2])})"
    parts = [_operand(part) for part in node[1:]]
    if name in _FORMS:
        return _FORMS[name].format(*parts)
    return f"{name}({parts[0]})" if len(parts) == 1 else f"{parts[0]} {name} {parts[1]}"


def _operand(part: tuple[str, Any]) -> str:
    kind, value = part
    return f"t{value}" if kind == "s" else f"({float(value)!r})"


def _table(number: int, points: Points) -> str:
    rows = ", ".join(f"{{{float(x)!r}, {float(y)!r}}}" for x, y in points)
    return f"static const double TABLE_{number}[{len(points)}][2] = {{{rows}}};"
