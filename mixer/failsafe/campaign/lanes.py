"""The watched tick over many scenarios at once: numpy, or the same graph as native vectors.

Both hold one column a scenario and give the same bits. `raw` is their state itself, so that a campaign can
power a board up anew in the middle of a run, or keep it from running for a tick.
"""

from collections.abc import Callable
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from mixer.core.layout import layout_of
from mixer.errors import OptionError
from mixer.live.judge.watched import Watched
from mixer.lower.c.expressions import Expression, Level
from mixer.lower.c.program import fill, runtime
from mixer.lower.graph.nodes import Op
from mixer.lower.run.arrays import ArrayTick
from mixer.lower.run.native import WIDTH
from mixer.lower.run.native_build import THIS_MACHINE, load
from mixer.lower.run.native_source import LANES

Lanes = NDArray[np.int32]


class Scenarios(Protocol):
    """Many watched boards side by side."""

    names: tuple[str, ...]
    """Names of the rows `step` gives."""
    raw: Lanes
    """(slots, lanes): the state itself; write a whole column to put a board into that state."""

    def step(self, inputs: Lanes) -> Lanes:
        """(inputs, lanes) -> (signals, lanes), good until the next step."""
        ...


class ArrayScenarios(ArrayTick):
    """In numpy."""

    def __init__(self, watched: Watched, lanes: int) -> None:
        """Power up all lanes; two at least."""
        super().__init__(watched.plan, lanes, graph=watched.graph)
        self.raw = self._state


class NativeScenarios:
    """As C vectors. Raises MissingToolError without a C compiler."""

    def __init__(self, watched: Watched, lanes: int) -> None:
        """Power up all lanes."""
        self.names = tuple(watched.graph.signals)
        self._room = -(-lanes // WIDTH) * WIDTH
        self._lanes = lanes
        library = load(_source(watched), THIS_MACHINE)
        self._run = library.run_lanes
        self._run.restype = None
        self._padded = np.zeros((len(watched.start), self._room), np.int32)
        self._padded[:] = np.array(watched.start, np.int32)[:, None]
        self._inputs = np.zeros((len(layout_of(watched.plan).inputs), self._room), np.int32)
        self._signals = np.zeros((len(self.names), self._room), np.int32)
        self.raw = self._padded[:, :lanes]
        self._arguments = _arguments(self._inputs, self._padded, self._signals, self._room)

    def step(self, inputs: Lanes) -> Lanes:
        """One tick of every board."""
        self._inputs[:, : self._lanes] = inputs
        self._run(*self._arguments)
        return self._signals[:, : self._lanes]


def _arguments(inputs: Lanes, state: Lanes, signals: Lanes, room: int) -> tuple[object, ...]:
    import ctypes  # noqa: PLC0415 - only where C is called

    pointers = [ctypes.c_void_p(array.ctypes.data) for array in (inputs, state, signals)]
    return (*pointers, ctypes.c_int64(1), ctypes.c_int64(room), ctypes.c_int64(room))


def _source(watched: Watched) -> str:
    """C for the watched graph: one local for each node, the state assigned in the end."""
    graph = watched.graph
    written: dict[int, Expression] = {}
    lines: list[str] = []
    calls = {"all", "choose", "minimum", "maximum"}
    for index, node in enumerate(graph.nodes):
        if node.op in (Op.INPUT, Op.STATE):
            place = f"READ(in, {node.value})" if node.op is Op.INPUT else f"state[{node.value}]"
            written[index] = Expression(place, Level.ATOM)
            continue
        made = LANES.express(graph, node, [written[arg] for arg in node.args])
        calls |= made.calls
        lines.append(f"const lanes v{index} = {made.text};")
        written[index] = Expression(f"v{index}", Level.ATOM)
    kept = [f"const lanes next{slot} = {written[node].text};" for slot, node in enumerate(graph.state)]
    kept += [f"AT(out, {row}) = {written[node].text};" for row, node in enumerate(graph.signals.values())]
    kept += [f"state[{slot}] = next{slot};" for slot in range(len(graph.state))]
    return fill(
        "native_lanes.c",
        functions=runtime("lanes.c", calls),
        body="\n".join(lines + kept),
        inputs=str(len(layout_of(watched.plan).inputs)),
        signals=str(len(graph.signals)),
        slots=str(len(graph.state)),
        width=str(WIDTH),
    )


ENGINES: tuple[str, ...] = ("numpy", "native")


def make_scenarios(engine: str, watched: Watched, lanes: int) -> Scenarios:
    """An engine by its name. Raises OptionError for an unknown one, MissingToolError without a compiler."""
    makers: dict[str, Callable[[Watched, int], Scenarios]] = {
        "numpy": ArrayScenarios,
        "native": NativeScenarios,
    }
    if engine not in makers:
        raise OptionError(f"there is no campaign engine {engine!r}", f"one of {', '.join(ENGINES)}")
    return makers[engine](watched, lanes)
