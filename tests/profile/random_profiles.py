"""Random valid profiles as TOML tables: every feature of the firmware's part of the schema."""

from typing import Any

import tomlkit
from hypothesis import strategies as st

Table = dict[str, Any]

_MS = st.one_of(st.just(0), st.integers(1, 400), st.floats(0, 400))
_SHARE = st.floats(0.01, 1)


@st.composite
def shapes(draw: st.DrawFn) -> Table:
    """A shape over its whole range."""
    return {
        "deadband": draw(st.floats(0, 0.9)),
        "expo": draw(st.floats(-0.5, 1)),
        "rate": draw(st.floats(1e-6, 1)),
    }


@st.composite
def pulse_ends(draw: st.DrawFn, most: int = 2200) -> tuple[int, int, int]:
    """Low, centre, high with each side 0 or 50 µs at least, and not both 0."""
    low = draw(st.integers(800, 1400))
    first, second = draw(st.sampled_from(((1, 1), (0, 1), (1, 0))))
    centre = low + first * draw(st.integers(50, 400))
    high = centre + second * draw(st.integers(50, min(most - centre, 400)))
    return low, centre, high


@st.composite
def sticks(draw: st.DrawFn, receiver: int, switches: Table, shape_names: list[str]) -> Table:
    """A stick with its own ends, trim and one shape or one for each position of a switch."""
    low, centre, high = draw(pulse_ends())
    stick: Table = {"receiver": receiver, "low_us": low, "centre_us": centre, "high_us": high}
    stick["reverse"] = draw(st.booleans())
    stick["trim"] = draw(st.floats(-0.5, 0.5))
    if draw(st.booleans()):
        stick["lost_below_us"] = draw(st.integers(100, low - 1))
    if draw(st.booleans()):
        stick["median"] = draw(st.booleans())
    names = st.sampled_from(["linear", *shape_names])
    if switches and draw(st.booleans()):
        switch = draw(st.sampled_from(sorted(switches)))
        stick["shape"] = {"switch": switch} | {name: draw(names) for name in switches[switch]["positions"]}
    else:
        stick["shape"] = draw(names)
    return stick


@st.composite
def switches(draw: st.DrawFn, receiver: int) -> Table:
    """A switch of two or three positions whose hysteresis leaves every position reachable."""
    low = draw(st.integers(800, 1200))
    high = draw(st.integers(1400, 2200))
    positions = draw(st.sampled_from((["off", "on"], ["slow", "mid", "fast"])))
    hysteresis = draw(st.integers(0, (high - low) // 4 - 1))
    return {
        "receiver": receiver,
        "positions": positions,
        "low_us": low,
        "high_us": high,
        "hysteresis_us": hysteresis,
        "reverse": draw(st.booleans()),
    }


@st.composite
def outputs(draw: st.DrawFn, pin: int, sources: list[str]) -> Table:
    """An output on either wire with a mix within the allowed sum."""
    mixed = draw(st.lists(st.sampled_from(sources), min_size=1, max_size=2, unique=True))
    weight = st.floats(0.01, 2).flatmap(lambda size: st.sampled_from((size, -size)))
    output: Table = {"pin": pin, "mix": {source: draw(weight) for source in mixed}}
    output["gain"], output["limit"] = draw(st.floats(1e-6, 2)), draw(st.floats(1e-6, 1))
    output["breakaway"] = draw(st.floats(0, 1, exclude_max=True))
    output["reverse"] = draw(st.booleans())
    for key in ("slew_up_ms", "slew_down_ms", "reversal_pause_ms"):
        output[key] = draw(_MS)
    if draw(st.booleans()):
        low, centre, high = draw(pulse_ends())
        output |= {"wire": "pulse", "low_us": low, "centre_us": centre, "high_us": high}
    else:
        output |= {"wire": "duty", "top": draw(st.integers(1, 16383))}
        output["at_zero"] = draw(st.sampled_from(("coast", "brake")))
    return output


@st.composite
def profiles(draw: st.DrawFn) -> Table:
    """A whole robot; one of its sticks may feed nothing."""
    tick_ms = draw(st.integers(1, 20))
    tables: Table = {"robot": {"name": "random", "tick_ms": tick_ms}}
    numbers = iter(draw(st.permutations(range(1, 17))))
    count = draw(st.integers(0, 3))
    tables["switch"] = {f"switch_{n}": draw(switches(next(numbers))) for n in range(count)}
    tables["shape"] = {f"shape_{n}": draw(shapes()) for n in range(draw(st.integers(0, 2)))}
    tables["stick"] = {
        f"stick_{n}": draw(sticks(next(numbers), tables["switch"], sorted(tables["shape"])))
        for n in range(draw(st.integers(1, 4)))
    }
    sources = sorted(tables["stick"])
    tables["output"] = {f"output_{n}": draw(outputs(n, sources)) for n in range(draw(st.integers(1, 6)))}
    tables["group"] = draw(groups(tables["output"]))
    tables |= draw(actuators(sorted(tables["output"])))
    if draw(st.booleans()):
        tables["flip"] = draw(flips(tables))
    flips_by = tables.get("flip", {}).get("switch")
    others = {name: switch for name, switch in tables["switch"].items() if name != flips_by}
    tables["guard"] = draw(guards(others, tick_ms))
    return tables


@st.composite
def groups(draw: st.DrawFn, of_outputs: Table) -> Table:
    """Disjoint groups of every policy."""
    names = draw(st.permutations(sorted(of_outputs)))
    cut = draw(st.integers(0, len(names)))
    made: Table = {}
    for number, members in enumerate((names[:cut], names[cut:])):
        policy = draw(st.sampled_from(("none", "clip", "scale", "yield")))
        if not members or policy == "none":
            continue
        made[f"group_{number}"] = {"outputs": list(members), "over_range": policy}
        if policy == "yield":
            made[f"group_{number}"]["yields"] = draw(st.sampled_from(sorted(of_outputs[members[0]]["mix"])))
    return made


@st.composite
def actuators(draw: st.DrawFn, names: list[str]) -> Table:
    """Actuators on outputs of their own, with both stops, one, or only their travel watched."""
    made: Table = {"contact": {}, "actuator": {}}
    for number, output in enumerate(draw(st.lists(st.sampled_from(names), max_size=3, unique=True))):
        actuator: Table = {"output": output, "both_closed_ms": draw(_MS)}
        actuator["both_closed"] = draw(st.sampled_from(("stop-robot", "stop-actuator")))
        for end in draw(st.sampled_from((("out", "in"), ("out",), ("in",), ()))):
            contact = {"pin": f"A{len(made['contact'])}", "closed_reads": draw(st.integers(0, 1))}
            made["contact"][f"end_{number}_{end}"] = contact | {"debounce_ms": draw(_MS)}
            actuator[f"{end}_stop"] = f"end_{number}_{end}"
        if draw(st.booleans()):
            actuator["full_travel_ms"] = draw(st.floats(1, 20_000))
            actuator["travel_margin"] = draw(st.floats(1, 3))
        made["actuator"][f"actuator_{number}"] = actuator
    return made


@st.composite
def flips(draw: st.DrawFn, tables: Table) -> Table:
    """A flip by a switch where there is one, else by a contact made for it."""
    flip: Table = {
        "reverses": draw(st.lists(st.sampled_from(sorted(tables["stick"])), min_size=1, unique=True))
    }
    flip["settle_ms"] = draw(_MS)
    if tables["switch"] and draw(st.booleans()):
        flip["switch"] = draw(st.sampled_from(sorted(tables["switch"])))
        flip["position"] = draw(st.sampled_from(tables["switch"][flip["switch"]]["positions"]))
    else:
        tables["contact"]["belly"] = {"pin": "D9"}
        flip["contact"] = "belly"
    return flip


@st.composite
def guards(draw: st.DrawFn, of_switches: Table, tick_ms: int) -> Table:
    """A guard of every policy; the promise is left to be worked out."""
    guard: Table = {"lost_after_ms": draw(st.floats(20 + tick_ms, 800))}
    guard["stop"] = draw(st.sampled_from(("cut", "ramp")))
    guard["arm_hold_ms"] = draw(_MS)
    guard["neutral_within"] = draw(st.floats(0, 0.3))
    guard["after_loss"] = draw(st.sampled_from(("re-arm", "resume")))
    if of_switches and draw(st.booleans()):
        switch = draw(st.sampled_from(sorted(of_switches)))
        position = draw(st.sampled_from(of_switches[switch]["positions"]))
        guard["arm"] = {"switch": switch, "position": position}
    return guard


def as_text(tables: Table) -> str:
    """The tables as TOML."""
    return tomlkit.dumps(tables)
