"""From a log's header to the columns this robot needs: which field is what.

A channel without a column is refused, because guessing it would replay another drive than the one
recorded. A contact without a column counts as open, a column nobody needs is ignored; both are told.
"""

from collections.abc import Collection, Iterable, Sequence
from collections.abc import Mapping as MappingOf
from dataclasses import dataclass, field
from decimal import Decimal

from mixer.core.plan import Plan
from mixer.errors import LogError, Problem, nearest, offer
from mixer.runs.log.lines import Record
from mixer.runs.log.mapping import NOMINAL, TIME, VOLTS, Mapping, Scale, ends_of
from mixer.runs.log.notices import Notices


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a reader looks for in a log."""

    channels: tuple[str, ...]
    contacts: tuple[str, ...] = ()
    ends_us: MappingOf[str, tuple[int, int, int]] = field(default_factory=dict)
    """Low end, centre and high end of each channel, for columns in percent and the like."""
    unused: frozenset[str] = frozenset()
    """Names the profile has but this loadout does not use."""


def wanted_by(plan: Plan, unused: Collection[str] = ()) -> Wanted:
    """What a plan needs from a log. `unused`: names of the profile that this loadout leaves out."""
    channels = tuple(channel.name for channel in plan.channels)
    contacts = tuple(contact.name for contact in plan.contacts)
    ends = {name: ends_of(plan, name) for name in channels}
    return Wanted(channels, contacts, ends, frozenset(unused) - set(channels) - set(contacts))


@dataclass(frozen=True, slots=True)
class ChannelColumn:
    """One channel's place in a record."""

    name: str
    index: int
    """-1 where a constant stands for it."""
    scale: Scale
    ends_us: tuple[int, int, int]
    reach: tuple[Decimal, Decimal]
    """What the column's low and high end are in its own unit."""
    constant: int | None = None


@dataclass(frozen=True, slots=True)
class Columns:
    """Where everything stands in a record."""

    width: int
    time: int
    time_unit_us: Decimal
    channels: tuple[ChannelColumn, ...]
    contacts: tuple[tuple[str, int], ...]
    """Name and place, -1 where the log has no such column."""
    volts: int
    """Place, or -1."""


def find_columns(
    file: str, header: Record | None, wanted: Wanted, mapping: Mapping, notices: Notices
) -> Columns:
    """Bind the header's names. Raises LogError with every problem of the header."""
    if header is None:
        raise LogError(
            [Problem(file, "", "holds no header and no rows", "record a log, or give another file")]
        )
    where = f"{file}:{header.line}"
    names = [name.strip() for name in header.fields]
    problems = list(_header_problems(where, header, names))
    if problems:
        raise LogError(problems)
    return _bind(where, names, wanted, mapping, notices, header.line)


def _header_problems(where: str, header: Record, names: Sequence[str]) -> Iterable[Problem]:
    if header.trouble:
        yield Problem(where, "", f"the header cannot be split: {header.trouble}", "mend the quotes")
        return
    if all(_is_number(name) for name in names if name):
        said = f"the first line holds numbers ({', '.join(names[:3])}, ...) instead of names"
        yield Problem(where, "", said, "let the first line name the columns: t_ms, then the channels")
        return
    for name in sorted({name for name in names if name and names.count(name) > 1}):
        yield Problem(
            where, name, f"{names.count(name)} columns have this name", "rename or remove all but one"
        )


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _bind(
    where: str, names: Sequence[str], wanted: Wanted, mapping: Mapping, notices: Notices, line: int
) -> Columns:
    places = {name: index for index, name in enumerate(names) if name}
    ours = {mapping.column_of(name) for name in (TIME, *wanted.channels, *wanted.contacts, VOLTS)}
    free = [name for name in places if name not in ours]
    problems = list(_binding_problems(where, places, free, wanted, mapping))
    if problems:
        raise LogError(problems)
    _tell_ignored(line, free, wanted, notices)
    contacts = tuple((name, places.get(mapping.column_of(name), -1)) for name in wanted.contacts)
    for name in (name for name, place in contacts if place < 0):
        notices.add("no contact", "no such column, so the contact counts as open", key=name, line=line)
    return Columns(
        width=len(names),
        time=places[mapping.column_of(TIME)],
        time_unit_us=mapping.time_unit_us(),
        channels=tuple(
            ChannelColumn(
                name,
                places.get(mapping.column_of(name), -1),
                mapping.scale_of(name),
                wanted.ends_us.get(name, NOMINAL),
                mapping.range_of(name),
                mapping.constant_of(name),
            )
            for name in wanted.channels
        ),
        contacts=contacts,
        volts=places.get(mapping.column_of(VOLTS), -1),
    )


def _binding_problems(
    where: str, places: Collection[str], free: Sequence[str], wanted: Wanted, mapping: Mapping
) -> Iterable[Problem]:
    needed = [TIME, *wanted.channels]
    known = {*needed, *wanted.contacts, VOLTS, *wanted.unused}
    for name in _bound_names(mapping):
        if name not in known:
            yield _unknown_binding(where, name, known)
    bound = [name for name in (*wanted.contacts, VOLTS) if mapping.binds(name)]
    for name in (*needed, *bound):
        if mapping.constant_of(name) is not None:
            if name not in wanted.channels:
                said = "only a channel can have a constant"
                yield Problem(
                    where, name, said, "leave the binding out: a contact without a column is open"
                )
        elif mapping.column_of(name) not in places:
            yield _missing(where, name, mapping, free)


def _bound_names(mapping: Mapping) -> list[str]:
    return [binding.name for binding in mapping.bindings]


def _unknown_binding(where: str, name: str, known: Collection[str]) -> Problem:
    said = "the mapping binds a name this robot does not have"
    return Problem(where, name, said, offer(name, known, "names"))


def _missing(where: str, name: str, mapping: Mapping, free: Sequence[str]) -> Problem:
    column = mapping.column_of(name)
    what = "time" if name == TIME else "channel"
    said = f"no column {column!r} for this {what}"
    lowered = {candidate.lower(): candidate for candidate in reversed(free)}
    near = nearest(column.lower(), lowered)
    guess = lowered[near] if near else "COLUMN"
    unit = ":UNIT" if not near else ""
    remedy = (
        f"rename column {guess!r} or bind it with --map {name}={guess}"
        if near
        else (
            f"add the column, or bind another with --map {name}={guess}{unit}"
            + (f", or give a constant pulse with --map {name}==1500" if name != TIME else "")
            + (f" (unbound columns: {', '.join(free[:8])})" if free else "")
        )
    )
    return Problem(where, name, said, remedy)


def _tell_ignored(line: int, free: Sequence[str], wanted: Wanted, notices: Notices) -> None:
    known = sorted({*wanted.channels, *wanted.contacts, *wanted.unused, VOLTS})
    for name in free:
        if name in wanted.unused:
            notices.add("unused", "this loadout does not use it, ignored", key=name, line=line)
            continue
        near = nearest(name, known)
        hint = f"; the nearest known name is {near}" if near else ""
        notices.add("unknown", f"unknown column, ignored{hint}", key=name, line=line)
