"""The exported C is the graph from any state within the proven bounds, met on a drive or not."""

import random
import struct
import subprocess
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import pytest

from mixer.core.layout import layout_of
from mixer.lower.c.program import Interface, interface_of
from mixer.lower.graph.nodes import Graph, Range
from mixer.lower.graph.trace import input_ranges, trace
from mixer.lower.run.python import compile_graph
from tests.boards.avr import build_avr, run_avr
from tests.lengths import cases
from tests.lower.c_exports import write_mix
from tests.strategies import FULL_SIZE, SMALL_SIZE, adversarial, driving, random_plan

TICKS = 2000
UNDEFINED = ("-std=c99", "-g", "-fsanitize=undefined", "-fno-sanitize-recover=all")
MAIN = """#include <stdio.h>
#include "mix.h"
int main(void)
{{
    int32_t row[{count}];
    while (fread(row, sizeof row, 1, stdin) == 1) {{
        struct mix_inputs in;
        struct mix_state state;
        struct mix_outputs out;
        {given}
        mix_tick(&in, &state, &out);
        const int32_t after[] = {{ {left} }};
        fwrite(after, sizeof after, 1, stdout);
    }}
    return 0;
}}
"""
"""Ticks mix.c, each from inputs and a state of its own; slots that never change are no members."""


class Tick(NamedTuple):
    """What a tick begins with."""

    inputs: tuple[int, ...]
    state: tuple[int, ...]
    """Of every slot."""


def drawn_number(rng: random.Random, reach: Range, seen: int) -> int:
    """Ends of the bounds, small numbers, about one that was seen, any."""
    ends = (reach.low, reach.low + 1, reach.high - 1, reach.high)
    near = (seen - 1, seen, seen + 1)
    drawn = rng.choice((rng.choice(ends), rng.choice((-1, 0, 1, 2)), rng.choice(near), rng.randint(*reach)))
    return min(max(drawn, reach.low), reach.high)


def drawn_ticks(graph: Graph, rng: random.Random, count: int = TICKS) -> list[Tick]:
    """Moments of a drive of which a few numbers are others, or most; twins stay alike."""
    rows = driving(rng, graph.plan, 300) + adversarial(rng, graph.plan, 300)
    tick, state, met = compile_graph(graph), graph.start, []
    for row in rows:
        met.append(Tick(row, tuple(state)))
        _, state = tick(row, state)
    found = []
    for _ in range(count):
        here, other, often = rng.choice(met), rng.choice(met), rng.choice((0.1, 0.3, 0.9))
        inputs, state = (
            [drawn_number(rng, reach, near) if rng.random() < often else held
             for held, near, reach in zip(own, others, reaches, strict=True)]
            for own, others, reaches in zip(here, other, (input_ranges(graph.plan), graph.state_ranges),
                                            strict=True)
        )  # fmt: skip
        found.append(Tick(tuple(inputs), tuple(state[twin] for twin in graph.twins)))
    return found


def members_of(graph: Graph, shape: Interface, state: Sequence[int]) -> tuple[int, ...]:
    """The slots that are members of the C's state."""
    slots = layout_of(graph.plan).state
    return tuple(state[slots.index(field.name)] for field in shape.state)


def left_by_graph(graph: Graph, ticks: Sequence[Tick]) -> list[tuple[int, ...]]:
    """Outputs and members of the state that the graph leaves."""
    shape, run, found = interface_of(graph), compile_graph(graph), []
    for tick in ticks:
        signals, state = run(tick.inputs, tick.state)
        named = dict(zip(graph.signals, signals, strict=True))
        outputs = tuple(named[field.name] for field in shape.outputs)
        found.append((*outputs, *members_of(graph, shape, state)))
    return found


def left_here(graph: Graph, ticks: Sequence[Tick], folder: Path) -> list[tuple[int, ...]]:
    """The same of the C on this machine; what C leaves undefined ends it."""
    shape = interface_of(graph)
    given = [("in", field) for field in shape.inputs] + [("state", field) for field in shape.state]
    left = [("out", field) for field in shape.outputs] + [("state", field) for field in shape.state]
    main = MAIN.format(
        count=len(given),
        given=" ".join(
            f"{name}.{field.identifier} = ({field.kind})row[{at}];"
            for at, (name, field) in enumerate(given)
        ),
        left=", ".join(f"{name}.{field.identifier}" for name, field in left),
    )
    (folder / "main.c").write_text(main, encoding="utf-8")
    built = ["gcc", *UNDEFINED, "mix.c", "main.c", "-o", "main"]
    subprocess.run(built, cwd=folder, check=True, timeout=100)
    rows = [(*tick.inputs, *members_of(graph, shape, tick.state)) for tick in ticks]
    said = b"".join(struct.pack(f"={len(row)}i", *row) for row in rows)
    done = subprocess.run([folder / "main"], input=said, capture_output=True, check=False, timeout=100)
    assert done.returncode == 0, done.stderr.decode()
    return list(struct.iter_unpack(f"={len(left)}i", done.stdout))


def random_graph(seed: int) -> Graph:
    """A random robot's, every third a large one."""
    return trace(random_plan(random.Random(seed), SMALL_SIZE if seed % 3 else FULL_SIZE))


MORE = (3, 5, 7, 8, 11, 13, 14, 16, 19, 20, 22, 23, 28)


@pytest.mark.needs_tool("gcc")
@pytest.mark.parametrize("seed", cases((4,), (*MORE, 10, *range(30, 64))))
def test_random_robots_c_is_their_graph_from_any_state(seed: int, tmp_path: Path) -> None:
    """Ends of the bounds most of all; nothing undefined is done on the way."""
    graph = random_graph(seed)
    ticks = drawn_ticks(graph, random.Random(seed))
    write_mix(tmp_path, graph.plan, tables=seed % 2 == 0)
    assert left_here(graph, ticks, tmp_path) == left_by_graph(graph, ticks)


@pytest.mark.needs_tool("avr-gcc", "simavr")
@pytest.mark.parametrize("seed", cases((10,), (*MORE, 4, *range(31, 48))))
def test_it_is_where_an_int_has_16_bits(seed: int, tmp_path: Path) -> None:
    """On the simulated ATmega328P, whose RAM is set to each state."""
    graph = random_graph(seed)
    ticks = drawn_ticks(graph, random.Random(seed))
    write_mix(tmp_path, graph.plan, tables=seed % 2 == 0)
    states = [members_of(graph, interface_of(graph), tick.state) for tick in ticks]
    seen = run_avr(build_avr(tmp_path), [tick.inputs for tick in ticks], states)
    assert [row.outputs + row.state for row in seen] == left_by_graph(graph, ticks)


@pytest.mark.needs_tool("gcc")
@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("return a < b ? a : b", "return a <= b + 1 ? a : b"),
        ("return a < b ? a : b", "b += 2147483647; b -= 2147483647; return a < b ? a : b"),
    ],
)
def test_a_mistake_is_found(right: str, wrong: str, tmp_path: Path) -> None:
    """What is wrong for a few numbers differs; an overflow ends the program, whatever comes out."""
    graph = random_graph(4)
    ticks = drawn_ticks(graph, random.Random(4))
    write_mix(tmp_path, graph.plan)
    text = (tmp_path / "mix.c").read_text(encoding="utf-8")
    assert right in text
    (tmp_path / "mix.c").write_text(text.replace(right, wrong), encoding="utf-8")
    with pytest.raises(AssertionError):
        assert left_here(graph, ticks, tmp_path) == left_by_graph(graph, ticks)
