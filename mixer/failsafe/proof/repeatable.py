"""Equal inputs give equal outputs: the tick reads nothing but its inputs and its state.

A traced tick is a graph whose only leaves are inputs, state slots and constants, so the graph repeats
itself by what it is. That the core is that graph every time is looked at by tracing it twice and by running
it beside the graph for a drive from power-up; what a graph does not show, the arithmetic on plain ints and
the names of the numbers, by itself.
"""

from collections.abc import Iterator
from itertools import product

from mixer.core import ops
from mixer.core import tick as firmware
from mixer.core.layout import layout_of
from mixer.core.plan import Plan
from mixer.failsafe.proof.hunt import a_run
from mixer.laws import arithmetic
from mixer.lower.graph.nodes import Graph
from mixer.lower.graph.trace import trace_function
from mixer.lower.run.python import compile_graph

_TICKS = 1000
_NUMBERS = (0, 1, 3, ops.HALF - 1, ops.HALF, ops.HALF + 1, ops.ONE - 1, ops.ONE, 3 * ops.HALF, 40000)
_FAMILIES = {"channels": "channel", "switches": "switch", "contacts": "contact", "sticks": "stick",
             "actuators": "actuator", "outputs": "output"}  # fmt: skip


def repeats_itself(plan: Plan) -> str:
    """An empty text, or what was seen to differ."""
    first, second = _trace(plan), _trace(plan)
    if (first.nodes, first.state, dict(first.signals)) != (
        second.nodes,
        second.state,
        dict(second.signals),
    ):
        return "the core gives another graph when it is traced again"
    wrong = [*_misreckoned(), *_misnamed(plan)]
    if wrong:
        return f"the core goes wrong with {wrong[0]}"
    one_tick = compile_graph(first)
    state = list(layout_of(plan).start)
    for number, row in enumerate(a_run(plan, 1, _TICKS)):
        try:
            after = firmware.flat_tick(plan, row, state)
        except ZeroDivisionError:
            return f"the core divides by zero in tick {number} of a drive"
        expected = one_tick(row, state)
        if (tuple(after.signals), tuple(after.state)) != expected:
            return f"the core differs from its own graph in tick {number} of a drive"
        state = after.state
    return ""


def _trace(plan: Plan) -> Graph:
    layout = layout_of(plan)

    def run(inputs, state):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202
        after = firmware.flat_tick(plan, inputs, state)
        return dict(zip(layout.signals, after.signals, strict=True)), after.state

    return trace_function(plan, run, layout.state, layout.start)


def _misreckoned() -> Iterator[str]:
    """Operations on ints that do not give what the watcher's give, or Python's own."""
    signed = [number * sign for number in _NUMBERS for sign in (1, -1)]
    for a, b in product(signed, repeat=2):
        low, high, size = min(a, b), max(a, b), abs(b) + 1
        pairs = {
            "minimum": (ops.minimum(a, b), low),
            "maximum": (ops.maximum(a, b), high),
            "clamp": (ops.clamp(a + 1, low, high), arithmetic.clamp(a + 1, low, high)),
            "magnitude": (ops.magnitude(a), abs(a)),
            "mul": (ops.mul(a, b), arithmetic.mul(a, b)),
            "divide": (ops.divide(abs(a), size), abs(a) // size),
            "shift_right": (ops.shift_right(a, 3), a // 8),
            "select": (ops.select(a < b, a, b), low),
            "as_number": (ops.as_number(ops.negation(a < b)), int(a >= b)),
        }
        yield from (f"{name} of {a} and {b}" for name, (said, right) in pairs.items() if said != right)


def _misnamed(plan: Plan) -> Iterator[str]:
    """Parts of the plan whose numbers are not read by their own names, or not off their own wires."""
    layout = layout_of(plan)
    for record in (layout.signals_of(layout.signals), layout.state_of(layout.state)):
        for group, numbers in record._asdict().items():
            family = _FAMILIES.get(group)
            owners = [f"{family}.{part.name}" for part in getattr(plan, group)] if family else [group]
            members = numbers if family else [numbers]
            for owner, member in zip(owners, members, strict=True):
                leaves = () if member is None else member._asdict().items()
                yield from (owner for leaf, name in leaves if name not in (None, f"{owner}.{leaf}"))
    mixed = [plan.switches[at].name for at in plan.mixed_switches]
    yield from ("mix",) if list(plan.sources) != [stick.name for stick in plan.sticks] + mixed else ()
    read = layout.inputs_of(layout.inputs)
    channels = [f"channel.{item.name}" for item in plan.channels]
    contacts = [f"contact.{item.name}" for item in plan.contacts]
    for names, owners in ((read.channels, channels), (read.contacts, contacts)):
        yield from (owner for name, owner in zip(names, owners, strict=True) if name != owner)
    numbers = [(item.receiver or at, item.name) for at, item in enumerate(plan.channels, 1)]
    numbers += [(item.input or at, item.name) for at, item in enumerate(plan.contacts, 1)]
    wired = zip(numbers, (*plan.receivers, *plan.contact_inputs), strict=True)
    yield from (name for (wire, name), said in wired if wire != said)
