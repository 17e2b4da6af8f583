"""What is fitted to a robot: a loadout of its hardware, who drives it, which receiver it hears.

The three are apart from one another and go together in any combination. Everywhere one text names such a
fitting, None the base robot alone: ``long_tray+driver:calm+receiver:spare``.
"""

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import NamedTuple

from mixer.profile.read.complaint import Complaint
from mixer.profile.read.overlay import Table, laid_over, with_loadout

_DRIVER, _RECEIVER = "driver:", "receiver:"
OPERATOR_KEYS: Mapping[str, tuple[str, ...]] = MappingProxyType({
    "stick": ("trim", "shape"),
    "shape": ("deadband", "expo", "rate"),
    "output": (
        "mix", "gain", "limit", "breakaway", "slew_up_ms", "slew_down_ms", "reversal_pause_ms",
    ),
    "group": ("over_range", "yields"),
})  # fmt: skip
"""What an [operator.NAME] may say: how the robot answers the hands. What keeps it safe is the robot's."""
_MARKS = ("lost_below_us", "lost_above_us")
_WIRE = ("receiver", "low_us", "high_us", "reverse", *_MARKS, "median")
RECEIVER_KEYS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {"stick": (*_WIRE, "centre_us", "trim"), "switch": (*_WIRE, "hysteresis_us")}
)
"""What a [receiver.NAME] may say of channels, beside the keys of [receiver] itself."""
OF_RECEIVER = ("frame_ms", "valid_us", "median")


class Fitting(NamedTuple):
    """Names, empty for the base robot, for whoever drives, for the receiver that is built in."""

    loadout: str = ""
    operator: str = ""
    receiver: str = ""

    @property
    def name(self) -> str | None:
        """The text that names it; None for the base robot alone."""
        parts = [self.loadout] if self.loadout else []
        parts += [f"{_DRIVER}{self.operator}"] if self.operator else []
        parts += [f"{_RECEIVER}{self.receiver}"] if self.receiver else []
        return "+".join(parts) or None

    @property
    def words(self) -> str:
        """The same for people."""
        return (self.name or "").replace("+", ", ").replace(":", " ")

    @property
    def title(self) -> str:
        """The same where nothing else says what the words are about."""
        return f"loadout {self.words}" if self.loadout else self.words or "base robot"

    @property
    def options(self) -> tuple[str, ...]:
        """As commands take it."""
        named = zip(("--loadout", "--driver", "--receiver"), self, strict=True)
        return tuple(word for option, name in named if name for word in (option, name))

    @property
    def overlays(self) -> tuple[tuple[str, str], ...]:
        """Where its tables stand in the file, the one that has the last word first."""
        named = (("operator", self.operator), ("receiver", self.receiver), ("loadout", self.loadout))
        return tuple((section, name) for section, name in named if name)


def fitting_of(name: str | None) -> Fitting:
    """The fitting that a text names."""
    found = Fitting()
    for part in (name or "").split("+"):
        if part.startswith(_DRIVER):
            found = found._replace(operator=part.removeprefix(_DRIVER))
        elif part.startswith(_RECEIVER):
            found = found._replace(receiver=part.removeprefix(_RECEIVER))
        elif part:
            found = found._replace(loadout=part)
    return found


def own_path(section: str, name: str, path: tuple[str | int, ...]) -> tuple[str | int, ...]:
    """Where an overlay says what stands at a path of the robot."""
    own = path[1:] if section == "receiver" and path[:1] == ("receiver",) else path
    return (section, name, *own)


def base_of(whole: Table) -> Table:
    """A file's tables without its overlays."""
    base = {key: value for key, value in whole.items() if key not in ("loadout", "operator")}
    receiver = base.get("receiver")
    if isinstance(receiver, dict):
        base["receiver"] = {key: value for key, value in receiver.items() if not isinstance(value, dict)}
    return base


def overlays_of(whole: Table) -> Iterator[tuple[str, str, object]]:
    """Operators and receivers: section, name, table."""
    operators = whole.get("operator")
    for name, table in operators.items() if isinstance(operators, dict) else ():
        yield "operator", name, table
    receiver = whole.get("receiver")
    for name, table in receiver.items() if isinstance(receiver, dict) else ():
        if isinstance(table, dict):
            yield "receiver", name, table


def fitted(whole: Table, fitting: Fitting) -> Table:
    """A robot's tables: the hardware first, then its receiver, then how it is driven.

    A receiver brings its own marks for a lost signal, and none of the built-in one's. What an overlay says
    of things that this loadout has not is passed over. Nothing is changed in place.
    """
    base = base_of(whole)
    tables = with_loadout(base, whole["loadout"][fitting.loadout] if fitting.loadout else {})
    if fitting.receiver:
        spare = whole["receiver"][fitting.receiver]
        for section in RECEIVER_KEYS:
            for channel in tables.get(section, {}).values():
                for mark in _MARKS if isinstance(channel, dict) else ():
                    channel.pop(mark, None)
        own = {key: value for key, value in spare.items() if key in OF_RECEIVER}
        tables = laid_over(tables, {"receiver": own, **_there(spare, base, tables)})
    if fitting.operator:
        tables = laid_over(tables, _there(whole["operator"][fitting.operator], base, tables))
    return tables


def complaints_of_overlay(whole: Table, section: str, name: str, table: object) -> Iterator[Complaint]:
    """What stands in an operator's or a receiver's table and may not."""
    path = (section, name)
    if not isinstance(table, dict):
        yield Complaint(path, "must be a table", f"write [{section}.{name}] and what differs under it")
        return
    keys = OPERATOR_KEYS if section == "operator" else RECEIVER_KEYS
    base = base_of(whole)
    what = "tuning" if section == "operator" else "of a receiver"
    for part, things in table.items():
        if section == "receiver" and part in OF_RECEIVER:
            continue
        known = ", ".join((*keys, *(OF_RECEIVER if section == "receiver" else ())))
        if part not in keys or not isinstance(things, dict):
            yield Complaint((*path, part), f"{part!r} is not {what}", f"known here: {known}")
            continue
        for thing, values in things.items():
            new = part != "shape" and thing not in base.get(part, {})
            if new or not isinstance(values, dict):
                said = f"the robot has no {part} {thing!r}" if new else "must be a table"
                yield Complaint((*path, part, thing), said, f"name one of its {part} tables")
                continue
            for key in values:
                if key not in keys[part]:
                    remedy = f"leave it to the robot or a loadout; known here: {', '.join(keys[part])}"
                    yield Complaint((*path, part, thing, key), f"{key!r} is not {what}", remedy)


def _there(overlay: Table, base: Table, tables: Table) -> Table:
    """What an overlay says of named things, without those of the base that these tables have not."""
    return {
        part: {
            name: values
            for name, values in things.items()
            if name in tables.get(part, {}) or name not in base.get(part, {})
        }
        for part, things in overlay.items()
        if isinstance(things, dict)
    }
