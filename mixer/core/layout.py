"""Names and flat order of what goes into a tick, is remembered and comes out, read off `signals`.

Whatever runs a tick without objects (an array, C, a file) keeps the numbers in a flat row; here is what
stands where. The order is that of the fields, so that every number follows those it depends on.

    layout = layout_of(plan)
    layout.signals_of(row).outputs[0].wire      a row's numbers by their fields
    layout.places.outputs[0].wire               where that number stands in a row
    layout.names.outputs[0].wire                what it is called, such as output.left_front.wire
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache, lru_cache, partial
from itertools import chain
from types import MappingProxyType, UnionType
from typing import Annotated, Any, NamedTuple, TypeVar, get_args, get_origin, get_type_hints

from mixer.core.plan import ChannelPlan, Guard, Plan
from mixer.core.signals import (
    ActuatorState,
    ChannelState,
    ContactState,
    Family,
    FlipState,
    GuardState,
    Inputs,
    Meaning,
    OutputState,
    Signals,
    State,
    SwitchState,
    V,
)

S = TypeVar("S")


@dataclass(frozen=True)
class Layout:
    """What stands where in a plan's inputs, state and signals."""

    inputs: tuple[str, ...]
    """A pulse in µs for each channel (0 = none came), then a 0/1 reading for each contact."""
    state: tuple[str, ...]
    start: tuple[int, ...]
    """The state of a board that has just been powered up."""
    signals: tuple[str, ...]
    """Every number worth showing."""
    names: Signals[str]
    places: Signals[int]
    slot_names: State[str]
    slots: State[int]
    """Where each part of the state stands."""
    input_names: Inputs[str]

    def index(self, signal: str) -> int:
        """Where a signal stands. Raises ValueError for an unknown name."""
        return self.signals.index(signal)

    def signals_of(self, row: Sequence[V]) -> Signals[V]:
        """A row's numbers by their fields. Raises IndexError for a row that is too short."""
        made: Signals[V] = self._read_signals(row)
        return made

    def state_of(self, row: Sequence[V]) -> State[V]:
        """The same for a state."""
        made: State[V] = self._read_state(row)
        return made

    def inputs_of(self, row: Sequence[V]) -> Inputs[V]:
        """The same for inputs."""
        channels = len(self.input_names.channels)
        return Inputs(tuple(row[:channels]), tuple(row[channels:]))

    _read_signals: Callable[[Sequence[Any]], Any] = field(repr=False, compare=False)
    _read_state: Callable[[Sequence[Any]], Any] = field(repr=False, compare=False)


@lru_cache(maxsize=32)  # a robot being tuned is another plan with every edit
def layout_of(plan: Plan) -> Layout:
    """The plan's layout (worked out once a plan)."""
    names: Signals[str] = _named(plan, Signals)
    slots: State[str] = _named(plan, State)
    inputs: Inputs[str] = _named(plan, Inputs)
    read_signals, read_state = _reader_of(names), _reader_of(slots)
    return Layout(
        inputs=tuple(flat(inputs)),
        state=tuple(flat(slots)),
        start=tuple(flat(power_up(plan))),
        signals=tuple(flat(names)),
        names=names,
        places=read_signals(range(len(flat(names)))),
        slot_names=slots,
        slots=read_state(range(len(flat(slots)))),
        input_names=inputs,
        _read_signals=read_signals,
        _read_state=read_state,
    )


def flat(parts: Signals[V] | State[V] | Inputs[V]) -> list[V]:
    """All numbers in one row."""
    row: list[V] = []
    part: Any
    for part in parts:
        if part.__class__ is not tuple:
            row.extend(part or ())
        elif part and isinstance(part[0], tuple):
            row.extend(chain.from_iterable(part))
        else:
            row.extend(part)
    return [number for number in row if number is not None]


def power_up(plan: Plan) -> State[int]:
    """The state of a board that has just been powered up: every channel lost, nothing seen, all at rest."""
    lost = plan.guard.lost_ticks
    return State(
        channels=tuple(
            ChannelState(lost, channel.rest_us, *((0, 0) if channel.median else (None, None)))
            for channel in plan.channels
        ),
        switches=(SwitchState(0),) * len(plan.switches),
        contacts=(ContactState(0),) * len(plan.contacts),
        flip=None if plan.flip is None else FlipState(0, 0),
        guard=GuardState(int(Guard.SEARCHING), 0, 0, 0),
        actuators=(ActuatorState(0, 0, 0),) * len(plan.actuators),
        outputs=(OutputState(0, 0),) * len(plan.outputs),
    )


# ---- Reading the annotations -----------------------------------------------------------------------


class _Group(NamedTuple):
    """One field of `Signals`, `State` or `Inputs`."""

    field: str
    family: str
    record: Any
    """The class of one member; None where a member is one number."""
    many: bool
    """One member for each part of the plan of that name; else one alone."""
    optional: bool
    """Not there where the plan has no such part."""


@cache
def _groups(kind: Any) -> tuple[_Group, ...]:  # noqa: ANN401 - a class
    return tuple(_group(name, hint) for name, hint in get_type_hints(kind, include_extras=True).items())


def _group(name: str, hint: Any) -> _Group:  # noqa: ANN401 - a type
    inner, family = get_args(hint)
    optional = get_origin(inner) is UnionType or type(None) in get_args(inner)
    member = get_args(inner)[0] if optional or get_origin(inner) is tuple else inner
    many = get_origin(inner) is tuple
    record = get_origin(member)
    assert isinstance(family, Family)
    return _Group(name, family.word, record, many, optional)


@cache
def _leaves(record: type) -> Mapping[str, tuple[Meaning, bool]]:
    """The numbers of a record: what each means, and whether it may be absent."""
    found = {}
    for name, hint in get_type_hints(record, include_extras=True).items():
        assert get_origin(hint) is Annotated
        inner, meaning = get_args(hint)
        found[name] = (meaning, type(None) in get_args(inner))
    return MappingProxyType(found)


def _named(plan: Plan, kind: Callable[..., S]) -> S:
    """The names of all numbers of a kind, by their fields."""
    return kind(*(_members(plan, group) for group in _groups(kind)))


def _members(plan: Plan, group: _Group) -> Any:  # noqa: ANN401 - names, as the group is shaped
    owners = getattr(plan, group.field)
    if group.many:
        return tuple(_names(group, f"{group.family}.{owner.name}", owner) for owner in owners)
    return None if group.optional and owners is None else _names(group, group.family, owners)


def _names(group: _Group, prefix: str, owner: object) -> Any:  # noqa: ANN401 - names, as the group is shaped
    if group.record is None:
        return prefix
    steadied = isinstance(owner, ChannelPlan) and owner.median
    return group.record(
        *(
            f"{prefix}.{leaf}" if steadied or not optional else None
            for leaf, (_, optional) in _leaves(group.record).items()
        )
    )


def _places(names: Signals[str] | State[str]) -> Mapping[str, int]:
    return {name: place for place, name in enumerate(flat(names))}


@lru_cache(maxsize=32)  # by names, which most edits of a robot leave as they are
def _reader_of(names: Signals[str] | State[str]) -> Callable[[Sequence[Any]], Any]:
    return _reader(names, _places(names))


def _reader(shape: Any, places: Mapping[str, int]) -> Callable[[Sequence[Any]], Any]:  # noqa: ANN401
    """A function that puts a row's numbers where their names stand in `shape`."""
    if shape is None:
        return lambda _: None
    if isinstance(shape, str):
        place = places[shape]
        return lambda row: row[place]
    if shape.__class__ is tuple:
        members = [_reader(part, places) for part in shape]
        return lambda row: tuple([member(row) for member in members])
    make = partial(tuple.__new__, shape.__class__)  # what `_make` does, without its call
    numbers = [part for part in shape if isinstance(part, str)]
    absent = (None,) * (len(shape) - len(numbers))
    if (*numbers, *absent) == shape:
        start, stop = places[numbers[0]], places[numbers[-1]] + 1
        return lambda row: make((*row[start:stop], *absent))
    parts = [_reader(part, places) for part in shape]
    return lambda row: make([part(row) for part in parts])


@cache
def _meanings() -> Mapping[str, Meaning]:
    """By ``family.field``."""
    return {
        f"{group.family}.{leaf}": meaning
        for kind in (State, Signals)
        for group in _groups(kind)
        for leaf, (meaning, _) in _leaves(group.record).items()
    }


def meaning_of(name: str) -> Meaning | None:
    """What a signal or state slot means, by its name; None for a name of neither."""
    family, owner, leaf = parted(name)
    meaning = _meanings().get(f"{family}.{leaf}")
    return meaning and meaning._replace(keys=tuple(key.format(owner) for key in meaning.keys))


def parted(name: str) -> tuple[str, str, str]:
    """A signal's name as family, the name in the plan (empty for the guard and flip), and field."""
    family, _, rest = name.partition(".")
    owner, _, leaf = rest.rpartition(".")
    return family, owner, leaf
