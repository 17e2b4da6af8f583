"""Loading: text -> tables -> loadouts -> robots -> plans, with every problem of all of them at once."""

import hashlib
import json
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from types import MappingProxyType

from mixer.core.plan import Plan
from mixer.errors import OptionError, Problem, ProfileError, offer
from mixer.profile.checks.guard import soonest_stop_ms
from mixer.profile.checks.notices import notices_of
from mixer.profile.checks.plan import check_plan
from mixer.profile.checks.validation import check_name, robot_of
from mixer.profile.integers.to_plan import plan_of
from mixer.profile.read.complaint import Complaint
from mixer.profile.read.lines import KeyPath
from mixer.profile.read.overlay import Table, complaints_of_removal, with_loadout
from mixer.profile.read.reading import Source, read_tables, read_text
from mixer.profile.schema.root import Robot
from mixer.profile.without import unknown, without

MOST_LOADOUTS = 50


@dataclass(frozen=True, slots=True)
class _Variant:
    robot: Robot
    plan: Plan
    notices: tuple[str, ...]


@dataclass(frozen=True)
class Profile:
    """One robot in all its loadouts, checked. `loadout` None is the base robot throughout.

    Every method raises OptionError for a loadout the profile does not have, and ProfileError for one that
    is wrong: only who asks for it is stopped by that.
    """

    path: Path | None
    """The file, where there is one."""
    where: str
    """What messages call it."""
    text: str
    loadouts: tuple[str, ...]
    _variants: Mapping[str | None, _Variant]
    _broken: Mapping[str, tuple[Problem, ...]]
    """What is wrong with each loadout that cannot be used."""
    taken: tuple[str, ...] = ()
    """Channels and motors that are taken as dead, as `--without` names them."""

    @property
    def problems(self) -> tuple[Problem, ...]:
        """Everything that is wrong with any loadout, in the order of the file."""
        return tuple(_in_order([problem for found in self._broken.values() for problem in found]))

    def without(self, taken: Sequence[str]) -> "Profile":
        """The same profile with channels (``left_rear``) or single motors (``left_rear:1``) dead.

        Raises OptionError for a name that no loadout has.
        """
        if not taken:
            return self
        refused = unknown([variant.robot for variant in self._variants.values()], taken)
        if refused is not None:
            raise refused
        variants = {
            loadout: _variant_of(without(variant.robot, taken), loadout, self._variants[None].robot.contact)
            for loadout, variant in self._variants.items()
        }
        return replace(self, _variants=MappingProxyType(variants), taken=(*self.taken, *taken))

    def robot(self, loadout: str | None = None) -> Robot:
        """The robot as the file describes it, physical data included."""
        return self._variant(loadout).robot

    def plan(self, loadout: str | None = None) -> Plan:
        """The robot in integers, for the core."""
        return self._variant(loadout).plan

    def tables(self, loadout: str | None = None) -> Table:
        """What the file says of one robot: its base with the loadout laid over."""
        self._variant(loadout)
        whole = read_tables(self.text, self.where).tables
        base = {key: value for key, value in whole.items() if key != "loadout"}
        return base if loadout is None else with_loadout(base, whole["loadout"][loadout])

    def notices(self, loadout: str | None = None) -> tuple[str, ...]:
        """What the reader should know although nothing is wrong."""
        return self._variant(loadout).notices

    def fingerprint(self, loadout: str | None = None) -> str:
        """Twelve hex digits of SHA-256 over the plan: equal plans, equal fingerprints."""
        return fingerprint_of(self.plan(loadout))

    def loadout_of(self, fingerprint: str) -> str | None:
        """The loadout with this fingerprint; None for the base robot, and where none has it."""
        bearing = (name for name, own in self._variants.items() if fingerprint_of(own.plan) == fingerprint)
        return next(bearing, None)

    def stop_within_ms(self, loadout: str | None = None) -> float:
        """The promised time from the last good pulse to all outputs at zero, in ms.

        What the profile says, else the soonest the firmware can promise.
        """
        robot = self.robot(loadout)
        return robot.guard.stop_within_ms or soonest_stop_ms(robot)

    def unused(self, loadout: str | None = None) -> frozenset[str]:
        """Channels and contacts the profile describes and this loadout leaves out of its plan."""
        described: set[str] = set()
        for robot in (variant.robot for variant in self._variants.values()):
            described.update(robot.stick, robot.switch, robot.contact)
        plan = self.plan(loadout)
        channels = {channel.name for channel in plan.channels}
        return frozenset(described - channels - {contact.name for contact in plan.contacts})

    def _variant(self, loadout: str | None) -> _Variant:
        if loadout in self._variants:
            return self._variants[loadout]
        if loadout is not None and loadout in self._broken:
            raise ProfileError(self._broken[loadout])
        said = f"{self.where} has no loadout {loadout!r}"
        if not self.loadouts:
            raise OptionError(said, "it has none but the base robot: leave --loadout out")
        raise OptionError(said, offer(str(loadout), self.loadouts, "loadouts"))


def fingerprint_of(plan: Plan) -> str:
    """Twelve hex digits of SHA-256 over every number and name of a plan."""
    canonical = json.dumps(asdict(plan), default=int, separators=(",", ":"))
    return hashlib.sha256(canonical.encode()).hexdigest()[:12]


def load_profile(path: Path) -> Profile:
    """The profile in a file. Raises ProfileError with every problem in it where the base robot has one."""
    return _profile(read_tables(read_text(path), str(path)), path)


def parse_profile(text: str, where: str, tables: Table | None = None) -> Profile:
    """The profile in a text that messages call `where`. Raises ProfileError as `load_profile` does.

    Who has read the text as TOML already hands over the tables.
    """
    return _profile(read_tables(text, where) if tables is None else Source(where, text, tables), None)


def _profile(source: Source, path: Path | None) -> Profile:
    base = {key: value for key, value in source.tables.items() if key != "loadout"}
    overlays = source.tables.get("loadout", {})
    robot, complaints = robot_of(base)
    problems = [source.problem(complaint, None) for complaint in complaints]
    problems += _overlay_problems(source, overlays)
    usable = overlays if isinstance(overlays, dict) and len(overlays) <= MOST_LOADOUTS else {}
    said = {(complaint.path, complaint.said) for complaint in complaints}
    loadouts = {name: _loadout(source, base, name, table, said) for name, table in usable.items()}
    broken = {name: tuple(found) for name, (_, found) in loadouts.items() if found}
    if problems or robot is None:
        every = [problem for found in broken.values() for problem in found]
        raise ProfileError(_in_order(problems + every))
    wired = robot.contact
    variants: dict[str | None, _Variant] = {None: _variant_of(robot, None, wired)}
    for name, (fitted, found) in loadouts.items():
        if fitted is not None and not found:
            variants[name] = _variant_of(fitted, name, wired)
    return Profile(
        path, source.where, source.text, tuple(usable), MappingProxyType(variants), MappingProxyType(broken)
    )


def _loadout(
    source: Source, base: Table, name: str, table: object, said: Container[tuple[KeyPath, str]]
) -> tuple[Robot | None, list[Problem]]:
    """A loadout's robot, and what is wrong with it that is not `said` of the base robot already."""
    path = ("loadout", name)
    if not isinstance(table, dict):
        remedy = f"write [loadout.{name}] and what differs under it"
        return None, [source.problem(Complaint(path, "must be a table", remedy), None)]
    own = (*check_name(path, name), *complaints_of_removal(name, base, table))
    robot, complaints = robot_of(with_loadout(base, table))
    fresh = [complaint for complaint in complaints if (complaint.path, complaint.said) not in said]
    problems = [source.problem(complaint, None) for complaint in own]
    return robot, problems + [source.problem(complaint, name) for complaint in fresh]


def _overlay_problems(source: Source, overlays: object) -> Iterator[Problem]:
    path = ("loadout",)
    if not isinstance(overlays, dict):
        yield source.problem(Complaint(path, "must hold tables", "write [loadout.NAME]"), None)
    elif len(overlays) > MOST_LOADOUTS:
        said = f"{len(overlays)} loadouts are too many"
        yield source.problem(Complaint(path, said, f"use {MOST_LOADOUTS} at most"), None)


def _variant_of(robot: Robot, loadout: str | None, wired: Iterable[str]) -> _Variant:
    name = robot.robot.name if loadout is None else f"{robot.robot.name}, {loadout}"
    plan = plan_of(robot, name, wired)
    check_plan(plan)
    return _Variant(robot, plan, tuple(notices_of(robot)))


def _in_order(problems: list[Problem]) -> list[Problem]:
    """By line, problems without one first; each said once."""

    def line(problem: Problem) -> int:
        number = problem.where.rpartition(":")[2]
        return int(number) if number.isdigit() else 0

    return sorted(dict.fromkeys(problems), key=line)
