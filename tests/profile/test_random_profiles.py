"""Laws over random profiles: valid ones keep the plan's promises, spoiled ones are refused in words."""

import random
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from mixer.core.layout import layout_of
from mixer.core.plan import Guard, Plan
from mixer.core.tick import flat_tick
from mixer.errors import ProfileError
from mixer.profile.checks.plan import broken_promises
from mixer.profile.integers.numbers import numbers
from mixer.profile.profile import Profile, parse_profile
from tests.lengths import examples
from tests.profile.random_profiles import Table, as_text, profiles

EXAMPLES = sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))


def parsed_or_refused(text: str) -> Profile | None:
    """The profile, or None when it was refused with complete problems; any other error escapes."""
    try:
        return parse_profile(text, "p.toml")
    except ProfileError as error:
        problems = error.problems
    assert problems
    for problem in problems:
        assert problem.where.startswith("p.toml")
        assert problem.said
        assert problem.remedy
        assert "\n" not in problem.said
    return None


@given(profiles())
@examples(40, 120)
def test_valid_profiles_give_plans_that_keep_every_promise(tables: Table) -> None:
    """Whatever the schema allows without contradiction is a plan the core can trust."""
    profile = parse_profile(as_text(tables), "p.toml")
    plan = profile.plan()

    assert list(broken_promises(plan)) == []
    assert all(row.unit and row.real for row in numbers(plan))
    assert set(plan.sources) == {name for output in tables["output"].values() for name in output["mix"]}


@given(profiles())
@examples(40, 120)
def test_the_promised_stop_is_kept_and_not_too_late(tables: Table) -> None:
    """From full command, the outputs are at zero within the worked-out promise after the last good pulse.

    The state is set by hand to live, with every output at its limit and the last pulses just taken.
    """
    profile = parse_profile(as_text(tables), "p.toml")
    plan = profile.plan()
    ticks = ticks_to_zero(plan)
    promised = profile.stop_within_ms()

    assert (ticks + 1) * plan.tick_ms <= promised
    if not plan.actuators and all(output.limit > 0 for output in plan.outputs):
        assert (ticks + 1) * plan.tick_ms == promised


def ticks_to_zero(plan: Plan) -> int:
    """Ticks without pulses from live at full limit until every output's command is zero."""
    layout = layout_of(plan)
    state = list(layout.start)
    for index, name in enumerate(layout.state):
        if name.startswith("channel.") and name.endswith(".age"):
            state[index] = 0
        if name.startswith("output.") and name.endswith(".command"):
            output = next(item for item in plan.outputs if name == f"output.{item.name}.command")
            state[index] = output.limit
    state[layout.state.index("guard.state")] = Guard.LIVE
    state[layout.state.index("guard.seen_off")] = 1
    inputs = [0] * len(plan.channels) + [1 - contact.closed_reads for contact in plan.contacts]
    wanted = [layout.signals.index(f"output.{output.name}.command") for output in plan.outputs]
    for count in range(1, 100_000):
        done = flat_tick(plan, inputs, state)
        state = hold_until_lost(plan, list(done.state), done.signals, layout.signals)
        if all(done.signals[index] == 0 for index in wanted) and count >= plan.guard.lost_ticks:
            return count
    raise AssertionError("never at zero")


def hold_until_lost(plan: Plan, state: list[int], signals: list[int], names: tuple[str, ...]) -> list[int]:
    """While the gap is still bridged, put every output back to its limit: the worst moment to lose it."""
    layout = layout_of(plan)
    if signals[names.index("guard.signal")]:
        for output in plan.outputs:
            state[layout.state.index(f"output.{output.name}.command")] = output.limit
        state[layout.state.index("guard.state")] = Guard.LIVE
    return state


@given(profiles(), st.randoms(use_true_random=False))
@settings(max_examples=40)
def test_order_of_the_file_changes_no_channel(tables: Table, rng: random.Random) -> None:
    """Channels stand by receiver number, wherever the file names them."""
    shuffled = tables | {"stick": dict(rng.sample(sorted(tables["stick"].items()), len(tables["stick"])))}

    first, second = (parse_profile(as_text(each), "p.toml").plan() for each in (tables, shuffled))

    assert first.channels == second.channels
    assert first.sticks == second.sticks


_ODD_VALUES = st.one_of(
    st.none().map(lambda _: []),
    st.booleans(),
    st.integers(-(2**70), 2**70),
    st.floats(),
    st.text(max_size=6),
    st.lists(st.integers(0, 3), max_size=3),
    st.dictionaries(st.text("ab", min_size=1, max_size=2), st.integers(0, 3), max_size=2),
)


def _tables_within(tables: Table) -> list[Table]:
    inner = [tables]
    for value in tables.values():
        if isinstance(value, dict):
            inner += _tables_within(value)
    return inner


@given(profiles(), _ODD_VALUES, st.data())
@examples(40, 120)
def test_any_value_in_any_place_is_taken_or_refused_in_words(
    tables: Table, odd: object, data: st.DataObject
) -> None:
    """A value of any type anywhere gives a profile or problems, never another error."""
    table = data.draw(st.sampled_from([inner for inner in _tables_within(tables) if inner]))
    table[data.draw(st.sampled_from(sorted(table)))] = odd
    profile = parsed_or_refused(as_text(tables))

    assert profile is None or list(broken_promises(profile.plan())) == []


@given(profiles(), st.data())
@examples(40, 120)
def test_any_missing_key_is_a_default_or_refused_in_words(tables: Table, data: st.DataObject) -> None:
    """Taking out any key or table gives a profile or problems, never another error."""
    table = data.draw(st.sampled_from([inner for inner in _tables_within(tables) if inner]))
    del table[data.draw(st.sampled_from(sorted(table)))]
    parsed_or_refused(as_text(tables))


@given(st.sampled_from(EXAMPLES), st.data())
def test_spoiled_texts_never_end_in_a_traceback(path: Path, data: st.DataObject) -> None:
    """Any few characters put in place of any few others give a profile or problems."""
    text = path.read_text(encoding="utf-8")
    start = data.draw(st.integers(0, len(text)))
    length = data.draw(st.integers(0, 30))
    junk = data.draw(st.text("[]{}=\"'#.,\n 019eabx-_é", max_size=12))
    parsed_or_refused(text[:start] + junk + text[start + length :])


@given(st.sampled_from(EXAMPLES), st.data())
def test_loadouts_of_any_content_never_end_in_a_traceback(path: Path, data: st.DataObject) -> None:
    """A loadout may hold anything at all: it is laid over, or refused in words."""
    section = data.draw(
        st.sampled_from(["stick", "output", "guard", "part", "remove", "robot", "nonsense"])
    )
    inner = st.recursive(
        _ODD_VALUES,
        lambda deeper: st.dictionaries(st.sampled_from(["left", "mix", "arm", "name"]), deeper, max_size=3),
        max_leaves=6,
    )
    extra = as_text({"loadout": {"odd": {section: data.draw(inner)}}})
    parsed_or_refused(f"{path.read_text(encoding='utf-8')}\n{extra}")
