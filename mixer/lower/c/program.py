"""mix.h and mix.c: one robot's mix as a pair of C99 files.

Only what a board needs is computed: what each output's wire carries, and the guard's state. Slots of the
state that never change, or always equal another, are left out. Equal plans give equal text.
"""

import re
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

from mixer.core.layout import layout_of
from mixer.core.plan import Guard, OutputPlan, Plan, Wire
from mixer.lower.c.plain.expressions import SHORT, Level
from mixer.lower.c.plain.names import Identifiers, comment_text
from mixer.lower.c.tick.expressions import Expression, Width, literal, local
from mixer.lower.c.tick.folding import folded
from mixer.lower.c.tick.spelling import spelled
from mixer.lower.c.tick.stages import Function
from mixer.lower.c.tick.stores import Line
from mixer.lower.c.tick.tables import SEGMENT, segments_of, tabled
from mixer.lower.c.tick.tick import Target, body_of
from mixer.lower.graph.intervals import is_within
from mixer.lower.graph.names import trade_name
from mixer.lower.graph.nodes import Graph, Range
from mixer.lower.graph.trace import trace, wire_signals

_COLUMNS = 108
_TOGETHER = re.compile(r"(?<! =) (?!&& |\|\| |\? |: )")
"""Spaces that are no good place for a line to end."""

_NEEDS = {
    "mul14": ("round14", "share14"),
    "mul14_short": ("multiply_short", "shift_right_14_short", "upper_half"),
    "scale14": ("upper_half", "part14"),
    "shift_right_14_short": ("upper_half",),
    "upper_half": ("as_signed",),
    "round14": ("shift_right_14",),
    "shift_right_14": ("as_signed",),
    "signed_bytes14": ("bytes14", "magnitude"),
    "clipped_sum": ("minimum", "maximum"),
    "clipped_difference": ("clipped_sum",),
    "mul14_long": ("magnitude_long",),
    "share14": ("product14",),
    "signed_duty14": ("duty14",),
}


@dataclass(frozen=True, slots=True)
class Field:
    """One member of a struct: its name in C, in the plan's layout, and in words; its type."""

    identifier: str
    name: str
    words: str
    kind: str

    @property
    def size(self) -> int:
        """Bytes."""
        return int(re.sub(r"\D", "", self.kind)) // 8


@dataclass(frozen=True, slots=True)
class Interface:
    """The three structs of mix.h. All inputs are of one type, and all outputs: these have no padding."""

    inputs: tuple[Field, ...]
    state: tuple[Field, ...]
    outputs: tuple[Field, ...]


def interface_of(graph: Graph) -> Interface:
    """What goes into, stays in and comes out of the exported tick."""
    layout = layout_of(graph.plan)
    own = [name for number, name in enumerate(layout.state) if graph.twins[number] == number]
    kept = [name for name in own if name not in graph.fixed]
    wires, guard_state = wire_signals(graph.plan), layout.names.guard.state
    words = zip(layout.inputs, _input_words(graph.plan), strict=True)
    inputs = [(name, name, said, "uint16_t") for name, said in words]
    reaches = dict(zip(layout.state, graph.state_ranges, strict=True))
    state = [(name, name, trade_name(name), _narrowest(reaches[name])) for name in kept]
    outputs = zip(graph.plan.outputs, wires, strict=True)
    short = all(is_within(graph.ranges[graph.signals[wire]], SHORT) for wire in wires)
    kind = "int16_t" if short else "int32_t"
    sent = [(f"wire.{output.name}", wire, _wire_words(output), kind) for output, wire in outputs]
    guard = (guard_state, guard_state, "one of enum mix_guard", kind)
    return Interface(_fields(inputs), _fields(state), _fields([*sent, guard]))


def _narrowest(reach: Range) -> str:
    """The narrowest type that holds these numbers and whose sums are signed, whatever int is."""
    held = {"uint8_t": Range(0, 255), "int8_t": Range(-128, 127), "int16_t": SHORT}
    return next((kind for kind, numbers in held.items() if is_within(reach, numbers)), "int32_t")


def _fields(wanted: Iterable[tuple[str, str, str, str]]) -> tuple[Field, ...]:
    give = Identifiers().give
    return tuple(Field(give(short), name, comment_text(words), kind) for short, name, words, kind in wanted)


def _input_words(plan: Plan) -> list[str]:
    pulses = [
        f"{channel.name}: pulse in µs, 0 = none came since the last tick; good from"
        f" {channel.good_low_us} to {channel.good_high_us}"
        for channel in plan.channels
    ]
    return pulses + [
        f"{contact.name}: level read, 0 or 1; {contact.closed_reads} means closed"
        for contact in plan.contacts
    ]


def _wire_words(output: OutputPlan) -> str:
    name = output.name.replace("_", " ")
    low, high = output.rest - output.low_span, output.rest + output.high_span
    if output.wire is Wire.PULSE:
        return f"{name}: servo pulse in µs, {low} to {high}, at rest {output.rest}"
    rest = "brake" if output.brake else "coast"
    return f"{name}: duty count, {low} to {high}, the sign is the direction; {rest} at 0"


def header_text(plan: Plan, fingerprint: str) -> str:
    """mix.h."""
    graph = trace(plan)
    shape = interface_of(graph)
    states = ",\n".join(f"    MIX_{state.name} = {int(state)}" for state in Guard)
    return fill(
        "mix.h",
        robot=comment_text(plan.name),
        fingerprint=fingerprint,
        tick_ms=str(plan.tick_ms),
        channels=str(len(plan.channels)),
        receivers=", ".join(map(str, plan.receivers)),
        highest_receiver=str(max(plan.receivers)),
        contacts=str(len(plan.contacts)),
        contact_inputs=", ".join(map(str, plan.contact_inputs)) or "0",
        highest_input=str(max(plan.contact_inputs, default=0)),
        states=states,
        inputs=_members(shape.inputs),
        state=_members(shape.state),
        outputs=_members(shape.outputs),
    )


def source_text(plan: Plan, fingerprint: str, *, tables: bool = True) -> str:
    """mix.c, with tables in flash where they pay, or without."""
    graph = _graph_of(plan, tables)
    shape = interface_of(graph)
    layout = layout_of(plan)
    start = dict(zip(layout.state, layout.start, strict=True))
    places = {field.name: f"state->{field.identifier}" for field in shape.state}
    nodes = dict(zip(layout.state, graph.state, strict=True))
    targets = [Target(places[field.name], nodes[field.name], field.kind) for field in shape.state]
    targets += [
        Target(f"out->{field.identifier}", graph.signals[field.name], field.kind) for field in shape.outputs
    ]
    inputs = [Expression(f"in->{field.identifier}", Level.ATOM, Width.WORD) for field in shape.inputs]
    kinds = {field.name: field.kind for field in shape.state}
    state = [
        local(places[name], kinds[name]) if name in places else literal(value)
        for name, value in start.items()
    ]
    body = body_of(graph, targets, inputs, state)
    return fill(
        "mix.c",
        robot=comment_text(plan.name),
        fingerprint=fingerprint,
        flash=f"\n{template_text('flash.c')}" if graph.table else "",
        functions="\n\n".join(
            [*_tables(graph.table), runtime("tick.c", body.calls), *map(_function, body.functions)]
        ),
        start="\n".join(f"    {places[field.name]} = {start[field.name]};" for field in shape.state),
        body=_laid_out(body.lines),
    )


def table_bytes(plan: Plan) -> int:
    """How much flash the tables take where they pay, in bytes."""
    held = segments_of(_graph_of(plan, tables=True).table)
    return 0 if held is None else 2 * len(held.base) + len(held.slope) + len(held.more)


@lru_cache(maxsize=8)
def _graph_of(plan: Plan, tables: bool) -> Graph:
    """The tick as a board calculates it."""
    graph = spelled(folded(trace(plan)))
    return tabled(graph, _roots(graph, interface_of(graph))) if tables else graph


def _roots(graph: Graph, shape: Interface) -> list[int]:
    """What the tick is calculated for."""
    states = dict(zip(layout_of(graph.plan).state, graph.state, strict=True))
    return [
        *(states[field.name] for field in shape.state),
        *(graph.signals[field.name] for field in shape.outputs),
    ]


def _tables(numbers: Sequence[int]) -> list[str]:
    """The arrays that stay in flash, where there are numbers, and how they are read."""
    held = segments_of(numbers)
    if held is None or not numbers:
        return []
    segments, count = str(len(held.base)), str(len(held.more))
    base, slope, more = (_rows(column) for column in held)
    made = fill("tables.c", segments=segments, count=count, base=base, slope=slope, more=more)
    return [made.rstrip()]


def _rows(numbers: Sequence[int]) -> str:
    """Sixteen in a row."""
    rows = [numbers[at : at + SEGMENT] for at in range(0, len(numbers), SEGMENT)]
    return ",\n".join("    " + ", ".join(map(str, row)) for row in rows)


def _function(function: Function) -> str:
    return f"/* {function.comment} */\n{function.head}\n{{\n{_laid_out(function.lines)}\n}}"


def runtime(template: str, calls: Iterable[str]) -> str:
    """The run-time functions that are called, and those they call, in the order of the template."""
    wanted = set(calls)
    waiting = list(wanted)
    while waiting:
        more = set(_NEEDS.get(waiting.pop(), ())) - wanted
        wanted |= more
        waiting += more
    blocks = template_text(template).strip().split("\n\n")
    return "\n\n".join(block for block in blocks if _function_of(block) in wanted)


def _function_of(block: str) -> str:
    found = re.match(r"/\* (\w+):", block)
    return found.group(1) if found else ""


def template_text(name: str) -> str:
    """A file of the folder `templates`."""
    return (files("mixer.lower.c") / "templates" / name).read_text(encoding="utf-8")


def fill(template: str, **values: str) -> str:
    """A template with each @name@ replaced."""
    return re.sub(r"@(\w+)@", lambda found: values[found.group(1)], template_text(template))


def _members(fields: Sequence[Field]) -> str:
    return "\n".join(f"    {field.kind} {field.identifier}; /* {field.words} */" for field in fields)


def _laid_out(lines: Sequence[Line]) -> str:
    """The statements indented and wrapped, a blank line before each comment."""
    shown: list[str] = []
    for line in lines:
        is_comment = line.text.startswith("/*")
        if is_comment and shown and not shown[-1].endswith("{"):
            shown.append("")
        shown += _wrapped(line, "   " if is_comment else "    ")
    return "\n".join(shown)


def _wrapped(line: Line, hanging: str) -> list[str]:
    """The line broken where a reader takes breath: before a choice or `&&`, after `=`; text anywhere."""
    kept = line.text if line.text.startswith("/*") else _TOGETHER.sub("\0", line.text)
    indent = "    " * (line.depth + 1)
    lines = textwrap.wrap(
        kept,
        _COLUMNS,
        initial_indent=indent,
        subsequent_indent=indent + hanging,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [part.replace("\0", " ") for part in lines]
